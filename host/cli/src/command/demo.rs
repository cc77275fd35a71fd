//! `demo`: a whole job with a simulated head, board and installer.

use crate::head::link::Link;
use crate::jobs::{self, KnownFrom, Opened};
use crate::keeping::{Keeping, SameJob};
use crate::lengths::Lengths;
use crate::outcome::Outcome;
use crate::page;
use crate::practice::Person;
use crate::practice::again::{AsLeft, odd_board};
use crate::practice::clumsy::Clumsy;
use crate::practice::hand;
use crate::practice::installer::Installer;
use crate::practice::planned;
use crate::practice::room::{InRoom, Room};
use crate::practice::stage::Stage;
use crate::practice::survey;
use crate::practice::turning::Practice;
use crate::report;
use crate::shell::{Mode, Ran, Shell, Source};
use crate::storing::Book;
use crate::storing::at_work::AtWorkMark;
use anyhow::Context;
use skimgauge_bench::bench::Bench;
use skimgauge_jobfile::Job;
use skimgauge_metrology::plane::board::Board;
use skimgauge_procedure::emitter_off::EmitterOff;
use skimgauge_procedure::takes::{Begin, unsurveyed};
use skimgauge_procedure::trim::Trim;
use skimgauge_quantity::{Mm, Style, say};
use skimgauge_record::{Record, RecordError};
use skimgauge_shared::calibration::Date;
use skimgauge_system::link::Link as Name;
use skimgauge_system::signals::Heed;
use skimgauge_system::terminal::is_in_front;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Play a whole job with a simulated head, board and installer.
///
/// The head is simulated; its logic, protocol, screen, verdict and record are those of a real job.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Turn the simulated adjusters yourself: a place to practise. You are told which adjuster, which
    /// way and how far, turn it by keys, take back what went wrong, and finish.
    #[arg(long, conflicts_with_all = ["plain", "json"])]
    hands: bool,
    /// Only the simulated head, for other commands: a link to its port is made here, and it stays
    /// until Ctrl-C. Words on its standard input move it and what is around it: lift, to STATION,
    /// to RIGHT UP, to emitter, press, hold, knock, eye DEGREES, light off, light on, turn ADJUSTER TURNS, room
    /// VOLTS, flicker HZ, image bright|dark|off; any other word is answered with all of them.
    #[arg(long, value_name = "LINK", conflicts_with_all = ["hands", "plain", "json", "record"])]
    head_at: Option<PathBuf>,
    /// With --head-at: end after so many seconds.
    #[arg(long, value_name = "SECONDS", requires = "head_at")]
    seconds: Option<u64>,
    /// A job of your own, from its file, in the place of the practice job: its image, band, emitter,
    /// adjusters and stations, and its board where it was surveyed. What is read of a simulated head
    /// is invented: keep it out of the job's own record, with --record.
    #[arg(long, value_name = "FILE")]
    job: Option<PathBuf>,
    /// Run the head's real firmware on an emulated chip, instead of its logic alone (a build with
    /// the feature `emulated`; needs firmware/build, and Node).
    #[arg(long)]
    emulated: bool,
    /// The installer makes a person's mistakes, those of this number, as fast as this computer can:
    /// the wrong adjuster, the wrong way, the wrong station, a key too early, a knock, a pause.
    #[arg(long, value_name = "NUMBER", conflicts_with_all = ["hands", "emulated", "head_at"])]
    mistakes: Option<u64>,
    /// With --mistakes: the room as an earlier run of this job left it, whose record is gone on
    /// with; empty at first. How the room stands is told in lines that begin with `room:`.
    #[arg(long, value_name = "ROOM", requires = "mistakes", hide = true, value_parser = AsLeft::read)]
    again: Option<AsLeft>,
    /// With --mistakes: a board of another kind than the room has.
    #[arg(long, requires = "mistakes", hide = true)]
    odd_board: bool,
    /// Nobody surveyed the board before: what may lie between the places read is not known, and the
    /// end says what would settle it.
    #[arg(long, conflicts_with = "head_at")]
    unsurveyed: bool,
    /// A room that teaches something: flat (the plain job), bowed (between the board's high and low
    /// places), stud (a place that does not fit), reversed (an adjuster that turns the other way),
    /// bright (too much light to read in), cannot-be-met (a board that no setting brings into the
    /// band).
    #[arg(long, value_name = "ROOM", conflicts_with = "mistakes")]
    room: Option<Room>,
    /// The installer works as fast as this computer can, instead of as fast as a person.
    #[arg(long, conflicts_with_all = ["hands", "emulated", "head_at"])]
    quick: bool,
    /// Which simulated room: how the board is, and how the emitter stands at first.
    /// [default: 11, or the room's own]
    #[arg(long)]
    seed: Option<u64>,
    /// The record; without this, a new one in the folder for temporary files.
    #[arg(long, value_name = "FILE")]
    record: Option<PathBuf>,
    /// Print lines instead of the screen.
    #[arg(long)]
    plain: bool,
    /// Print a JSON object a line instead of the screen.
    #[arg(long, conflicts_with = "plain")]
    json: bool,
    /// Whether it is shown in a browser.
    #[command(flatten)]
    page: page::Args,
}

/// Plays the job.
///
/// # Errors
/// The simulated head cannot be set up, or the record cannot be written.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let Played { job, text, surveyed, survey } = played(&args)?;
    let today = jobs::today();
    let seed = args.seed.or_else(|| args.room?.seed()).unwrap_or(SEED);
    let bench = planned::bench(&job, surveyed.as_ref(), seed);
    let (mut stage, pace) = match &args.head_at {
        _ if args.emulated => (emulated(bench, today)?, None),
        _ if args.mistakes.is_some() || args.quick => {
            let (stage, pace) = Stage::within_at_pace(bench, today)?;
            (stage, Some(pace))
        }
        Some(_) => (Stage::new(bench, today)?, None),
        None => (Stage::within(bench, today)?, None),
    };
    if let Some(room) = args.room {
        room.furnish(stage.bench());
    }
    if args.odd_board {
        odd_board(stage.bench(), seed);
    }
    if let Some(again) = &args.again {
        again.furnish(stage.bench());
    }
    if let Some(link) = &args.head_at {
        return only_the_head(&stage, &job, link, &args, units.style());
    }
    let path = match args.record {
        Some(path) => path,
        None => new_record(&std::env::temp_dir(), jiff::Timestamp::now().as_millisecond())?,
    };
    let _alone = AtWorkMark::leave(&path, &job.about.name)?;
    let mut keeping = Keeping::open(&path, &job, &text, None, &SameJob::default())?;
    keeping.set_survey(survey.filter(|_| !args.unsurveyed));
    let connector = stage.connector().context("The simulated head is in use.")?;
    let source = Source::Live(Link::over(stage.clock(), connector, None, None)?);
    // What the rooms teach is taught by a board that nobody knows; one's own is known as far as its
    // job knows it.
    let is_unsurveyed = args.unsurveyed || args.room.is_some() || args.job.is_some();
    let board = match surveyed.filter(|_| !args.unsurveyed) {
        Some(board) => board,
        None if is_unsurveyed => unsurveyed(&job),
        None => jobs::through(survey::places(&stage, &job, seed), &job)?,
    };
    let mode = Mode::of(args.plain, args.json);
    anyhow::ensure!(
        !args.hands || mode == Mode::Screen,
        "Practice needs a terminal: run it there, without a pipe."
    );
    let lines = mode == Mode::Plain;
    if args.emulated && mode != Mode::Json {
        println!(
            "The head is the real firmware on an emulated chip; time here is that chip's, not the wall's."
        );
    }
    if let Some(room) = args.room.filter(|_| mode != Mode::Json) {
        println!("{}", report::line(&format!("This room teaches: {}.", room.teaches())));
    }
    if lines {
        println!("A simulated head, a simulated board, an installer that does the job.");
        if let Some(assumed) = args.job.as_ref().and_then(|_| planned::assumed(&job, units.style()))
        {
            println!("{assumed}");
        }
        if !is_unsurveyed {
            println!("The board was surveyed before, at {} places.", survey::PLACES);
        }
    }
    let mut begin = Begin { sound: false, ..Begin::new(job.clone(), board, today, stage.port()) };
    let mut saw = None;
    if args.again.is_some() {
        saw = keeping.saw_with_emitter_off()?;
        begin = keeping.goes_on(begin)?;
    }
    let style = units.style();
    let mut installer = Installer::new(stage.bench().clone());
    let mut practice = Practice::new(stage.bench().clone(), &job.adjusters);
    let mistakes = args.mistakes.unwrap_or_default();
    let mut clumsy = Clumsy::new(stage.bench().clone(), mistakes, args.again);
    let person: &mut dyn Person = match args.mistakes {
        Some(_) => &mut clumsy,
        None if args.hands => &mut practice,
        None => &mut installer,
    };
    let mut in_room = InRoom::new(person, stage.bench().clone(), args.room, pace);
    let shell = Shell {
        source,
        store: Some(Box::new(Book::new(keeping))),
        mode,
        style,
        person: Some(&mut in_room),
        pages: args.page.open(mode)?,
        plain_every: Duration::from_secs(5),
    };
    let trim = Trim::new(begin).context("The job has no three adjusters.")?;
    let Ran { view, kept, .. } = shell.run(EmitterOff::before(trim, saw))?;
    let whole = view.whole.as_ref().context("Nothing was judged.")?;
    if mode != Mode::Json {
        if report::is_amid_turns(&view) {
            println!("{}", report::BEFORE_THE_TURNS);
        }
        for station in &view.stations {
            if let Some(taken) = &station.taken {
                let gap = taken.gap.gap().give_or_take(taken.expanded.gap()).text(style);
                println!("{:<14} {gap}  {}", station.name, taken.verdict.shown());
            }
        }
        println!("{}", report::whole(&view, style));
        println!("{}", report::line(&truth(&stage, &job, style)));
        println!("Record: {}", path.display());
    }
    kept?;
    Ok(whole.verdict.into())
}

/// What is played.
struct Played {
    job: Job,
    /// The job file's text, for the record.
    text: String,
    /// The job's board, where it was surveyed.
    surveyed: Option<Board>,
    /// By which survey.
    survey: Option<KnownFrom>,
}

fn played(args: &Args) -> anyhow::Result<Played> {
    let Some(path) = &args.job else {
        let demo = skimgauge_jobfile::demo_job();
        let text = args.room.map_or_else(|| demo.to_owned(), |room| room.job(demo));
        let job = Job::parse("demo.toml", &text)?;
        return Ok(Played { job, text, surveyed: None, survey: None });
    };
    let Opened { job, text, board, survey } = jobs::open(path)?;
    planned::can_be_played(path, &job, &text)?;
    let surveyed = Some(board).filter(Board::is_surveyed);
    if let Some(room) = args.room {
        anyhow::ensure!(
            !room.has_its_own_band(),
            "This room has a band of its own, and is played with the practice job: leave --job out."
        );
        anyhow::ensure!(
            !(room.has_its_own_board() && surveyed.is_some()),
            "This room has a board of its own, and {} says how another was surveyed: leave --room out, or put # before the lines of [survey].",
            path.display()
        );
    }
    Ok(Played { job, text, surveyed, survey })
}

/// Makes a record of this moment, and of nobody else who begins in it.
fn new_record(folder: &Path, stamp: i64) -> Result<PathBuf, RecordError> {
    let mut beside = 0_u32;
    loop {
        let which = if beside == 0 { String::new() } else { format!("-{beside}") };
        let path = folder.join(format!("skimgauge-demo-{stamp}{which}.sqlite"));
        match Record::create(&path) {
            Err(RecordError::Exists(_)) => beside += 1,
            made => return made.map(|_| path),
        }
    }
}

/// The simulated room that is shown where none is named.
const SEED: u64 = 11;

/// Columns and rows on which the simulated room is looked at.
const LOOKED_AT: (u32, u32) = (33, 21);

/// What nobody knows at a real board.
fn truth(stage: &Stage, job: &Job, style: Style) -> String {
    let (columns, rows) = LOOKED_AT;
    let (width, height) = (job.image.width.0, job.image.height.0);
    let gaps = (0..columns * rows).map(|at| {
        let across = f64::from(at % columns) / f64::from(columns - 1) - 0.5;
        let down = f64::from(at / columns) / f64::from(rows - 1);
        stage.bench().scene(|scene| scene.room.gap_mm(across * width, -down * height))
    });
    let (low, high) = gaps
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), gap| (low.min(gap), high.max(gap)));
    let truth =
        say!("In the simulated room the gap is truly {}.", Mm(low).gap().to(Mm(high).gap()));
    truth.text(style)
}

#[cfg(feature = "emulated")]
fn emulated(bench: Bench, today: Date) -> anyhow::Result<Stage> {
    Stage::emulated(bench, today)
}

#[cfg(not(feature = "emulated"))]
fn emulated(_: Bench, _: Date) -> anyhow::Result<Stage> {
    anyhow::bail!(
        "This skimgauge was built without the emulated head. From its source: cargo run --release --features emulated -- \
         demo --emulated"
    )
}

/// A head clipped to the first station of the simulated board, its eye turned to the emitter; words
/// move it.
fn only_the_head(stage: &Stage, job: &Job, link: &Path, args: &Args, style: Style) -> Outcome {
    stage.bench().scene(|scene| {
        if let Some(first) = job.stations.first() {
            scene.clip(first.at.x.0, first.at.y.0);
        }
        scene.turn_eye_to_emitter(0.0);
    });
    let heed = Heed::new(Duration::from_secs(2));
    let made = Name::make(Path::new(stage.port()), link)?;
    match &args.job {
        None => println!("A simulated head is at {}. Ctrl-C ends it.", link.display()),
        Some(file) => {
            let (link, file) = (link.display(), file.display());
            println!("A simulated head is at {link}, on the board of {file}. Ctrl-C ends it.");
            println!(
                "What it reads is invented: keep it out of the job's own record, with --record FILE for each command."
            );
            if let Some(assumed) = planned::assumed(job, style) {
                println!("{assumed}");
            }
        }
    }
    let (bench, heard) = (stage.bench().clone(), job.clone());
    std::thread::Builder::new().name("hand".into()).spawn(move || {
        if is_in_front() {
            hand::listen(std::io::stdin().lock(), std::io::stdout(), &bench, &heard);
        }
    })?;
    heed.wait(args.seconds.map(Duration::from_secs));
    drop(made);
    Ok(crate::outcome::Ended::Well)
}

#[cfg(test)]
mod tests {
    use super::new_record;

    #[test]
    fn demos_begun_in_the_same_moment_have_a_record_each() {
        let folder = tempfile::tempdir().unwrap();
        let made: Vec<_> = std::thread::scope(|scope| {
            let begin = || new_record(folder.path(), 7).unwrap();
            let begun: Vec<_> = (0..4).map(|_| scope.spawn(begin)).collect();
            begun.into_iter().map(|one| one.join().unwrap()).collect()
        });
        let mut names = made.clone();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), made.len(), "{made:?}");
    }
}
