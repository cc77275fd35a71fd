//! Takes that the guided trim disowned, or that whoever came back said to be of another setting: no
//! later run stands them up again, and no document. The head is another process's
//! (`demo --head-at`).

use crate::EXE;
use serde_json::Value;
use skimgauge_tests::command::{Hand, Place, Watch};

/// All stations but the last, in the order in which they are walked.
const STATIONS: [&str; 7] =
    ["top left", "top", "top right", "right", "bottom right", "bottom", "left"];

/// The practice job with no tilt asked for.
fn place() -> Place {
    let job: Vec<&str> = skimgauge_jobfile::demo_job()
        .lines()
        .filter(|line| !line.starts_with("level =") && !line.starts_with("lean ="))
        .collect();
    Place::new(EXE, &job.join("\n"))
}

fn trim(place: &Place) -> Watch {
    let mut command = place.command();
    command
        .args(["trim", "--job", "job.toml", "--record", "record.sqlite", "--head", "head"])
        .arg("--plain");
    let mut trim = Watch::start(command);
    trim.until("where to begin", |line| says(line, "> take ") || says(line, "> begin"));
    trim
}

fn says(line: &Value, part: &str) -> bool {
    line.as_str().is_some_and(|line| line.contains(part))
}

/// A take at `station` with the head carried to `at`.
fn take(trim: &mut Watch, hand: &mut Hand, station: &str, at: &str) {
    assert_eq!(hand.say(&format!("to {at}")), format!("at {at}"));
    trim.say(&format!("station {station}"));
    for _ in 0..10 {
        trim.breathe();
        trim.until("a settled gap", |line| says(line, station) && says(line, "settled"));
        assert_eq!(hand.say("press"), "pressed");
        let ends = ["mm taken", "NOT taken", "Let go"];
        let (_, line) = trim.until("a take", |line| ends.iter().any(|end| says(line, end)));
        if says(&line, "mm taken") {
            return;
        }
    }
    panic!("nothing is taken at {station}");
}

/// What the record's list of a command shows.
fn told(place: &Place, words: &[&str]) -> String {
    let output = place.run(words.iter().copied().chain(["--record", "record.sqlite"]));
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn what_was_said_to_be_touched_is_asked_about_once() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    let mut first = trim(&place);
    for station in ["bottom", "right"] {
        take(&mut first, &mut hand, station, station);
    }
    first.quit();
    let mut second = trim(&place);
    second.until("the question", |line| says(line, "2 takes stand from before, round 1"));
    second.breathe();
    second.say("no");
    second.until("the answer", |line| says(line, "Everything is taken anew"));
    second.quit();
    let mut third = trim(&place);
    third.until("no question", |line| says(line, " mm ") && !says(line, "stand from before"));
    third.breathe();
    assert!(!third.seen.iter().any(|line| line.contains("stand from before")), "{:?}", third.seen);
    third.quit();
    let shown = told(&place, &["jobs", "show", "practice wall"]);
    assert!(shown.contains("something was touched here"), "{shown}");
}

/// The head stood at the station beside it when the last was taken. Read again there, the light
/// leaves the eye: the take is struck out, in what is shown, given on, handed over and gone on with.
#[test]
fn a_take_that_its_own_station_disproved_stands_nowhere() {
    let place = place();
    let mut hand = Hand::new(&place, 11);
    // The light 16 mm over the bottom left corner, in the eye everywhere else.
    for turn in ["left 4.5", "right 3", "upper 3"] {
        assert!(hand.say(&format!("turn {turn}")).contains("turned"));
    }
    let mut first = trim(&place);
    for station in STATIONS {
        take(&mut first, &mut hand, station, station);
    }
    take(&mut first, &mut hand, "bottom left", "bottom");
    assert_eq!(hand.say("to bottom left"), "at bottom left");
    first.until("that it counts no more", |line| says(line, "it counts no more"));
    first.breathe();
    first.quit();
    let shown = told(&place, &["jobs", "show", "practice wall"]);
    assert!(shown.contains("take 11 struck out: the light leaves the eye there"), "{shown}");
    let found = shown.split("Events besides takes").next().unwrap();
    assert!(found.contains("left") && !found.contains("bottom left  "), "{shown}");
    told(&place, &["jobs", "export", "practice wall", "takes.csv"]);
    let takes = std::fs::read_to_string(place.path("takes.csv")).unwrap();
    let [stands, wrong] = ["yes", "no"].map(|stands| {
        let of = |line: &&str| line.split(',').nth(3) == Some(stands);
        takes.lines().filter(of).map(str::to_owned).collect::<Vec<_>>()
    });
    assert!(stands.len() == 7 && wrong.len() == 1, "{takes}");
    assert!(wrong[0].contains("bottom left"), "{takes}");
    told(&place, &["handover", "--job", "practice wall", "--out", "page.html"]);
    let page = std::fs::read_to_string(place.path("page.html")).unwrap();
    assert!(page.contains("struck out: the light leaves the eye there"), "the page says so");

    // Seven stand for who goes on.
    let mut second = trim(&place);
    hand.say("to left");
    second.until("the question", |line| says(line, "7 takes stand from before, round 1"));
    second.quit();
}
