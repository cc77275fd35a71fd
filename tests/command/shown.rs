//! What others wrote, shown on a terminal: it moves no cursor, clears no screen and turns no words round.

use crate::{EXE, WIDE, job};
use skimgauge_record::event::Note;
use skimgauge_record::photo::Photo;
use skimgauge_record::{JobId, Record, Stamp, When};
use skimgauge_system::terminal::steers;
use skimgauge_tests::command::{Place, Watch};
use skimgauge_tests::plugged::Plugged;
use std::process::Output;

/// Clears the screen, sets its title, rings; by C0 and by C1; reads backwards; breaks the line.
const EVIL: &str = "a\u{1b}[2J\u{9b}2J\u{1b}]0;t\u{7}\u{7f}\u{202e}b\u{2066}\u{200f}\u{61c}\u{2028}\u{85}c";
/// What a job file may hold: no control characters, the bidirectional ones all the same.
const TURNED: &str = "a\u{202e}b\u{2066}c\u{200f}d\u{61c}e";

fn steers_nothing(words: &[&str], output: &Output) {
    for text in [&output.stdout, &output.stderr] {
        let text = String::from_utf8(text.clone()).unwrap();
        let found: Vec<char> = text.chars().filter(|c| *c != '\n' && steers(*c)).collect();
        assert!(found.is_empty(), "{words:?} lets {found:?} through: {text:?}");
    }
}

/// A folder with a record of whatever can be written into one.
fn evil_place() -> Place {
    let place = Place::new(EXE, &job(WIDE).replace("top right", TURNED));
    let mut record = Record::create(&place.record()).unwrap();
    let when = || When::parse("2026-11-25T09:14:03+01:00").unwrap();
    let stamp = [EVIL, TURNED].into_iter().find_map(|who| Stamp::new(when(), who, "test").ok()).expect("a stamp");
    let text = std::fs::read_to_string(place.path("job.toml")).unwrap();
    record.open_job(JobId([1; 16]), TURNED, &text, &stamp).unwrap();
    record.open_job(JobId([2; 16]), "plain", &text, &stamp).unwrap();
    for name in [TURNED, "plain"] {
        for text in [EVIL, TURNED] {
            let _ = record.append(name, &stamp, Note { text: text.to_owned(), about: None });
            let photo = Photo { name: text, media_type: "image/png", bytes: b"foobar", caption: Some(text) };
            let _ = record.attach(name, &stamp, photo);
        }
    }
    drop(record);
    std::fs::write(
        place.path("readings.csv"),
        format!("station,x_mm,y_mm,gap_mm\n{TURNED},-950,0,5.9\ntop right,950,0,1.0\n{TURNED}2,0,-1265,5.5\n"),
    )
    .unwrap();
    std::fs::write(place.path("bad.csv"), format!("station,x_mm,y_mm,gap_mm\n{EVIL},{EVIL},0,5.9\n")).unwrap();
    std::fs::write(place.path("bad.toml"), format!("[job]\nname = \"{TURNED}\"\n{TURNED} = 1\n")).unwrap();
    std::fs::write(place.path("points.csv"), format!("x_mm,y_mm,z_mm\n{EVIL},1,2\n")).unwrap();
    place
}

#[test]
fn nothing_from_a_record_or_a_file_steers_the_terminal() {
    let place = evil_place();
    let record = ["--record", "record.sqlite"];
    let evil_name = EVIL.replace('\u{7}', "");
    for words in [
        &["jobs", "list"][..],
        &["jobs", "list", "--json"],
        &["jobs", "show", TURNED],
        &["jobs", "show", "plain"],
        &["jobs", "show", TURNED, "--as", "json"],
        &["jobs", "show", "nosuch\u{202e}"],
        &["jobs", "show", &evil_name],
        &["jobs", "verify"],
        &["jobs", "verify", "--json"],
        &["jobs", "verify", &evil_name],
        &["jobs", "note", TURNED, EVIL, "--by", EVIL],
        &["jobs", "note", "plain", EVIL, "--by", "R. Oakes"],
        &["jobs", "attach", "plain", &evil_name, "--by", "R. Oakes"],
        &["jobs", "export", TURNED, "out\u{202e}.csv"],
        &["jobs", "export", &evil_name, "out.json"],
        &["jobs", "import", &evil_name],
        &["jobs", "new", "new\u{202e}.toml"],
        &["jobs", "new", "new\u{202e}.toml"],
        &["jobs", &evil_name],
        &["handover", "--job", TURNED],
        &["handover", "--job", TURNED, "--out", "\u{202e}.html"],
        &["handover", "--job", &evil_name],
        &[&evil_name],
        &["watch", "--job", &evil_name, "--head", "nosuch"],
        &["watch", "--job", "bad.toml", "--head", "nosuch"],
        &["watch", "--job", "job.toml", "--head", &evil_name],
        &["watch", "--job", "job.toml", "--from", &evil_name],
        &["ports", &evil_name],
        &["ports", "--json", &evil_name],
        &["trim", "--job", "job.toml", "--from", "readings.csv"],
        &["trim", "--job", "job.toml", "--from", "readings.csv", "--json"],
        &["trim", "--job", "job.toml", "--from", "bad.csv"],
        &["trim", "--job", "job.toml", "--from", &evil_name],
        &["survey", "--job", "job.toml", "--from", "points.csv"],
        &["survey", "--job", "job.toml", "--from", &evil_name],
        &["setout", "--job", "bad.toml"],
        &["zero", "--head", &evil_name],
        &["zero", "--head", "nosuch", "--blocks", "1\u{1b}[2J"],
        &["demo", "--head-at", &evil_name, "--seconds", "0"],
    ] {
        let words: Vec<&str> = match words[0] {
            "jobs" | "watch" | "handover" => words.iter().chain(&record).copied().collect(),
            "setout" | "survey" => words.iter().chain(&["--no-record"]).copied().collect(),
            _ => words.to_vec(),
        };
        steers_nothing(&words, &place.run(&words));
    }
}

/// The same text, unharmed, for programs: JSON escapes it, and a table that does not go to a terminal is as it was kept.
#[test]
fn programs_get_what_was_written() {
    let place = evil_place();
    let output = place.run(["jobs", "list", "--json", "--record", "record.sqlite"]);
    let names: Vec<String> = String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap()["name"].as_str().unwrap().to_owned())
        .collect();
    assert!(names.iter().any(|name| name == TURNED), "{names:?}");
    let output = place.run(["jobs", "show", TURNED, "--as", "events", "--record", "record.sqlite"]);
    assert!(String::from_utf8(output.stdout).unwrap().contains(TURNED));
}

#[test]
fn a_watch_shows_a_stations_name_and_what_was_typed() {
    let (place, head) = (evil_place(), Plugged::new(150));
    for more in ["--plain", "--json"] {
        let mut command = place.command();
        command.args(["watch", "--job", "job.toml", "--record", "other.sqlite", "--head", head.port(), more]);
        let mut watch = Watch::start(command);
        watch.until("a line", |_| true);
        watch.say(EVIL);
        watch.say(&format!("station {TURNED}"));
        watch.until("that station", |line| {
            line["station"] == TURNED || line.as_str().is_some_and(|line| line.contains("a\u{fffd}b"))
        });
        let ending = watch.quit();
        for text in ending.out.iter().chain([&ending.err]) {
            assert!(!text.chars().any(|c| c != '\n' && steers(c)), "{more}: {text:?}");
        }
    }
}

#[test]
fn the_screen_of_a_watch_lets_no_name_turn_words_round() {
    let (place, head) = (evil_place(), Plugged::new(151));
    let terminal = skimgauge_tests::terminal::Terminal::new(true);
    let mut command = place.command();
    command.args(["watch", "--job", "job.toml", "--record", "other.sqlite", "--head", head.port()]);
    let running = terminal.start(command, false);
    // The second station has that name; what is drawn of it has its letters.
    terminal.await_text("abcde");
    terminal.type_in("2");
    std::thread::sleep(std::time::Duration::from_millis(500));
    terminal.type_in("q");
    running.ended();
    // The screen's own sequences begin with the one escape that belongs there.
    let drawn: Vec<char> = terminal.seen().chars().filter(|c| !c.is_ascii_control() && steers(*c)).collect();
    assert!(drawn.is_empty(), "{drawn:?}");
}
