//! `demo --hands` is worked through to its end by an apprentice, at a terminal and by keys alone:
//! told which adjuster, turning it, the wrong one too, a step back, and the end.

use crate::{EXE, place};
use skimgauge_jobfile::Job;
use skimgauge_metrology::trim::influence::Influence;
use skimgauge_tests::command::Place;
use skimgauge_tests::drawn::drawn;
use skimgauge_tests::terminal::Terminal;
use std::process::Command;
use std::time::{Duration, Instant};

/// Nobody practises longer.
const PATIENCE: Duration = Duration::from_secs(400);
/// A key that is pressed again sooner is held.
const APART: Duration = Duration::from_millis(750);
/// What one press of a key turns, turns.
const TOUCH: f64 = 1.0 / 72.0;
/// The keys of the practice: clockwise, anticlockwise, an adjuster's name.
const KEYS: [(char, char, &str); 3] =
    [('f', 'v', "left"), ('p', 'l', "right"), ('u', 'j', "upper")];

/// Somebody who learns, and sees the screen.
struct Apprentice {
    terminal: Terminal,
    influence: Influence,
    job: Job,
    began: Instant,
    said: Vec<String>,
    /// The turn that was begun: its instruction, and how much of it is made.
    turn: Option<(String, f64)>,
    /// The adjuster that was turned instead of the one told, once.
    turned_wrong: Option<&'static str>,
    undid: bool,
}

impl Apprentice {
    fn screen(&self) -> Vec<String> {
        drawn(&self.terminal.seen(), (80, 24))
    }

    /// What is said under the headline, in one line.
    fn reads(&self) -> String {
        let screen = self.screen();
        let from = screen.iter().position(|row| row.starts_with('▶') || row.starts_with(" ?"));
        let rows = from.map_or(&[][..], |from| &screen[from..(from + 5).min(22)]);
        let words = |row: &&String| row.chars().any(char::is_alphabetic);
        rows.iter().take_while(words).cloned().collect::<Vec<_>>().join(" ")
    }

    fn foot(&self) -> String {
        self.screen().last().cloned().unwrap_or_default()
    }

    fn press(&mut self, key: char) {
        self.said.push(format!("{key}: {}", self.reads()));
        self.terminal.type_in(&key.to_string());
        std::thread::sleep(APART);
    }

    /// Turns an adjuster by its keys: half turns, and touches for the rest.
    fn turns(&mut self, adjuster: &str, turns: f64) {
        let (clockwise, back, _) = KEYS.into_iter().find(|(.., name)| *name == adjuster).unwrap();
        let key = if turns > 0.0 { clockwise } else { back };
        let halves = (2.0 * turns.abs()).floor();
        let touches = ((turns.abs() - 0.5 * halves) / TOUCH).round();
        for _ in 0..halves as u32 {
            self.press(key.to_ascii_uppercase());
        }
        // One by one, or the keyboard holds.
        for _ in 0..touches as u32 {
            self.terminal.type_in(&key.to_string());
            std::thread::sleep(Duration::from_millis(380));
        }
        std::thread::sleep(Duration::from_millis(1_500));
    }

    /// Does what the screen says; whether it is over.
    fn follows(&mut self) -> bool {
        let reads = self.reads();
        assert!(self.began.elapsed() < PATIENCE, "{reads}: {:#?}", self.said);
        let does = reads.trim_start_matches("▶ ").to_owned();
        match () {
            () if does.starts_with("done") || does.starts_with("nothing more to turn") => {
                return true;
            }
            // `yes: press e   no: any other key`
            () if reads.contains("yes: press ") => {
                let key = reads.split("yes: press ").nth(1).and_then(|rest| rest.chars().next());
                self.press(key.unwrap());
            }
            () if does.contains("switch the emitter off and say so") => self.press('t'),
            () if does.starts_with("the light is gone") => self.press('g'),
            () if does.starts_with("keep the emitter off") => std::thread::sleep(APART),
            () if does.starts_with("switch the emitter on again") => self.press('t'),
            () if does.starts_with("enough is known") => self.press('g'),
            () if does.starts_with("turn back") => {
                self.turns(self.turned_wrong.unwrap(), -0.5);
                self.press(' ');
            }
            () if does.starts_with("turn ") => self.turn(&does),
            () => self.press(' '),
        }
        false
    }

    fn turn(&mut self, does: &str) {
        // `turn left clockwise ↻, half a turn (0.50 turns), until top reads 3.20 mm`
        let adjuster = does.split(' ').nth(1).unwrap().to_owned();
        let after = |mark: &str| does.split(mark).nth(1);
        let number = |text: &str| text.split(' ').next().and_then(|word| word.parse::<f64>().ok());
        let told = after("(").and_then(number).unwrap_or_else(|| panic!("{does}"));
        let told = if does.contains("anticlockwise") { -told } else { told };
        let station = after("until ").and_then(|rest| rest.split(" reads").next());
        let key = does.split(')').next().unwrap().to_owned();
        if self.turned_wrong.is_none() {
            let wrong = if adjuster == "upper" { "left" } else { "upper" };
            self.turned_wrong = Some(wrong);
            self.turns(wrong, 0.5);
            let noticed = format!("You turned {wrong} by +0.50");
            assert!(self.foot().contains(&noticed), "{}", self.foot());
            return self.press('w');
        }
        let begun = self.turn.as_ref().is_some_and(|(turn, _)| *turn == key);
        if !begun {
            if !self.undid {
                // Back to where the head is clipped on, and on again.
                self.undid = true;
                self.press('b');
                return;
            }
            self.turn = Some((key, told));
            return self.turns(&adjuster, told);
        }
        // Said to be made; what it lacks is told in millimetres.
        self.press(' ');
        let lacks = self.reads();
        let lacks = lacks.replace('−', "-");
        let lacks = lacks.split("The gap lacks ").nth(1).and_then(number);
        let at = station.and_then(|name| self.job.stations.iter().find(|s| s.name == name));
        let which = KEYS.iter().position(|(.., name)| *name == adjuster).unwrap();
        if let (Some(mm), Some(at)) = (lacks, at) {
            let per_turn_mm = self.influence.effect(at.at.x.0, at.at.y.0)[which];
            self.turns(&adjuster, mm / per_turn_mm);
        }
    }
}

#[test]
fn an_apprentice_works_the_practice_through_by_keys() {
    let place: Place = place();
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let terminal = Terminal::new(true);
    let mut command = Command::new(EXE);
    // A room whose gaps are all well in sight, as left.
    command.args(["demo", "--hands", "--seed", "8", "--record", "practice.sqlite"]);
    command.env("HOME", place.path("")).current_dir(place.path(""));
    let running = terminal.start(command, true);
    terminal.await_raw();
    let adjusters = job.adjusters.clone().try_into().unwrap();
    let mut apprentice = Apprentice {
        influence: Influence::of(&adjusters).unwrap(),
        job,
        terminal,
        began: Instant::now(),
        said: Vec::new(),
        turn: None,
        turned_wrong: None,
        undid: false,
    };
    while apprentice.reads().is_empty() {
        assert!(apprentice.began.elapsed() < PATIENCE);
        std::thread::sleep(Duration::from_millis(100));
    }
    while !apprentice.follows() {}
    assert!(apprentice.turned_wrong.is_some() && apprentice.undid, "{:#?}", apprentice.said);
    let asked = apprentice.said.iter().any(|said| said.contains("Run a straightedge"));
    assert!(asked, "what readings miss is asked about: {:#?}", apprentice.said);
    apprentice.press('q');
    assert_eq!(running.ended(), Some(0), "{:#?}", apprentice.said);
    apprentice.terminal.is_as_before();
    let after = apprentice.terminal.after_the_screen();
    assert!(after.contains("within over the whole board as surveyed"), "{after}");
    assert!(after.contains("In the simulated room the gap is truly"), "{after}");
    let shown = place.run(["jobs", "--record", "practice.sqlite", "show", "practice wall"]);
    let shown = String::from_utf8_lossy(&shown.stdout).into_owned();
    assert!(shown.contains("gone over with a straightedge"), "{shown}");
}
