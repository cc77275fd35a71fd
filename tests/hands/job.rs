//! One job, in as many runs of the command as it takes.

use skimgauge_jobfile::Job;
use skimgauge_model::Verdict;
use skimgauge_quantity::Mm;
use skimgauge_record::Record;
use skimgauge_record::event::{Body, Phase};
use skimgauge_tests::command::{Place, started};
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::Stdio;

const EXE: &str = env!("CARGO_BIN_EXE_skimgauge-under-test");

/// No job is begun again more often.
const MOST_RUNS: usize = 4;

/// What a person does wrong, or what befalls them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    /// Turned another adjuster, or the right one the other way.
    Turned,
    /// Clipped the head on at another station.
    Elsewhere,
    /// Pressed the key too early.
    Early,
    /// Knocked the head.
    Knocked,
    /// Said that an adjuster goes no further, though it does.
    NoFurther,
    /// Took a right step back.
    StepBack,
    /// Went away for an hour.
    Away,
    /// Found the emitter pushed after it, and began again.
    Pushed,
    /// Quit half way, and went on later.
    Quit,
    /// The computer went out half way.
    Crashed,
}

impl Kind {
    pub(crate) const ALL: [Self; 10] = [
        Self::Turned,
        Self::Elsewhere,
        Self::Early,
        Self::Knocked,
        Self::NoFurther,
        Self::StepBack,
        Self::Away,
        Self::Pushed,
        Self::Quit,
        Self::Crashed,
    ];

    /// What a line tells of.
    fn told(line: &str) -> Option<Self> {
        let (_, kind) = [
            (" was told", Self::Turned),
            (" instead", Self::Elsewhere),
            ("presses the key too early", Self::Early),
            ("knocks the head", Self::Knocked),
            ("says that it will not go further", Self::NoFurther),
            ("takes a step back", Self::StepBack),
            ("goes away for an hour", Self::Away),
            (BEGINS_AGAIN, Self::Pushed),
        ]
        .into_iter()
        .find(|(part, _)| line.starts_with("  - ") && line.contains(part))?;
        Some(kind)
    }
}

const BEGINS_AGAIN: &str = "finds the emitter pushed";

/// How a run is ended before its time.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Cut {
    Not,
    /// After so many lines the user says that it is enough.
    Quit(usize),
    /// After so many lines the process is killed.
    Killed(usize),
}

/// What became of a job.
pub(crate) struct Played {
    pub(crate) status: i32,
    /// The gap in the simulated room as it is left, low and high, mm.
    truth: (f64, f64),
    pub(crate) mistakes: Vec<Kind>,
    pub(crate) is_odd_board: bool,
}

impl Played {
    pub(crate) fn is_truly_within(&self) -> bool {
        let band = band();
        band.contains(Mm(self.truth.0)) && band.contains(Mm(self.truth.1))
    }
}

fn band() -> skimgauge_quantity::Band<Mm> {
    Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap().bands.gap
}

/// One run of the command.
struct Run {
    status: Option<i32>,
    out: Vec<String>,
    err: String,
}

impl Run {
    fn tail(&self) -> &[String] {
        &self.out[self.out.len().saturating_sub(40)..]
    }

    /// How the room stood when it was told last.
    fn room(&self) -> Option<&str> {
        self.out.iter().rev().find_map(|line| line.strip_prefix("  - room: "))
    }
}

/// Plays the job with the mistakes of this number.
pub(crate) fn play(number: u64) -> Played {
    let place = Place::new(EXE, skimgauge_jobfile::demo_job());
    let is_odd_board = number % 4 == 3;
    let after = 12 + (number as usize * 37) % 70;
    let (mut cut, mut mistakes) = match number % 4 {
        1 => (Cut::Quit(after), vec![Kind::Quit]),
        2 => (Cut::Killed(after), vec![Kind::Crashed]),
        _ => (Cut::Not, Vec::new()),
    };
    let mut room = String::new();
    for _ in 0..MOST_RUNS {
        let run = run(&place, number, &room, is_odd_board, cut);
        mistakes.extend(run.out.iter().filter_map(|line| Kind::told(line)));
        room = run.room().map_or(room, str::to_owned);
        let again = cut != Cut::Not || run.out.iter().any(|line| line.contains(BEGINS_AGAIN));
        cut = Cut::Not;
        if !again {
            return ended(number, &place, &run, mistakes, is_odd_board);
        }
    }
    panic!("job {number} is begun again more often than {MOST_RUNS} times");
}

fn run(place: &Place, number: u64, room: &str, odd_board: bool, cut: Cut) -> Run {
    let (seed, mistakes) = ((100 + number).to_string(), number.to_string());
    let mut command = place.command();
    command.args(["demo", "--plain", "--record", "record.sqlite", "--seed", &seed]);
    command.args(["--mistakes", &mistakes, &format!("--again={room}")]);
    command.args(odd_board.then_some("--odd-board"));
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = started(&mut command);
    let mut typed = child.stdin.take();
    let lines = BufReader::new(child.stdout.take().expect("its output")).lines();
    let mut out = Vec::new();
    for line in lines.map_while(Result::ok) {
        out.push(line);
        match (cut, &mut typed) {
            (Cut::Killed(after), _) if out.len() == after => child.kill().expect("it is there"),
            (Cut::Quit(after), Some(typed)) if out.len() == after => {
                writeln!(typed, "quit").expect("it listens");
            }
            _ => (),
        }
    }
    drop(typed);
    let mut err = String::new();
    child.stderr.take().expect("its errors").read_to_string(&mut err).expect("text");
    Run { status: child.wait().expect("it ends").code(), out, err }
}

/// Holds the end of a job to the truth.
fn ended(number: u64, place: &Place, run: &Run, mistakes: Vec<Kind>, odd_board: bool) -> Played {
    let status = run.status.filter(|status| [0, 1, 3].contains(status));
    let status = status.unwrap_or_else(|| {
        panic!("job {number} ended with {:?}: {}{:#?}", run.status, run.err, run.tail())
    });
    let mut lines = run.out.iter();
    let told = lines
        .find_map(|line| line.strip_prefix("In the simulated room the gap is truly "))
        .unwrap_or_else(|| panic!("job {number} does not tell the truth: {:#?}", run.tail()));
    let numbers: Vec<f64> = told
        .split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-' || c == '−'))
        .filter_map(|word| word.replace('−', "-").trim_end_matches('.').parse().ok())
        .collect();
    let [low, high] = numbers[..] else { panic!("job {number}: {told}") };
    let played = Played { status, truth: (low, high), mistakes, is_odd_board: odd_board };
    let odd = if odd_board { ", odd board" } else { "" };
    println!("job {number}: {status}, truly {low} to {high} mm{odd}; {:?}", played.mistakes);
    is_kept(number, &place.record(), &played, run);
    played
}

/// The record is whole, and no verdict of within in it, as the installation is left, is false.
fn is_kept(number: u64, record: &Path, played: &Played, run: &Run) {
    let record = Record::open(record).expect("the record opens");
    let jobs = record.jobs().expect("it lists its jobs");
    let history = record.job(&jobs[0].name).expect("the job is there");
    assert!(history.broken.is_none(), "job {number}: {:?}", history.broken);
    let last = history.events.iter().rev().find_map(|event| match &event.body {
        Body::Judged(judged) => Some(judged),
        _ => None,
    });
    let says_within = last
        .is_some_and(|judged| judged.phase == Phase::AsLeft && judged.verdict == Verdict::Within);
    assert!(
        !(says_within || played.status == 0) || played.is_truly_within(),
        "job {number} is left within by its record, and truly {:?} mm; {:?}: {:#?}",
        played.truth,
        played.mistakes,
        run.tail()
    );
}
