//! What others wrote, shown on a terminal: it moves no cursor, clears no screen and turns no words
//! round.

use crate::{EXE, WIDE, job};
use skimgauge_record::event::Note;
use skimgauge_record::photo::Photo;
use skimgauge_record::{JobId, Record, Stamp, When};
use skimgauge_system::terminal::steers;
use skimgauge_tests::command::{Place, Watch};
use skimgauge_tests::plugged::Plugged;
use std::process::Output;

/// Clears the screen, sets its title, rings; by C0 and by C1; reads backwards; breaks the line.
const EVIL: &str =
    "a\u{1b}[2J\u{9b}2J\u{1b}]0;t\u{7}\u{7f}\u{202e}b\u{2066}\u{200f}\u{61c}\u{2028}\u{85}c";
/// What a job file may hold: no control characters, the bidirectional ones all the same.
const TURNED: &str = "a\u{202e}b\u{2066}c\u{200f}d\u{61c}e";

fn steers_nothing(words: &[&str], output: &Output) {
    for text in [&output.stdout, &output.stderr] {
        let text = String::from_utf8(text.clone()).unwrap();
        let found: Vec<char> = text.chars().filter(|c| *c != '\n' && steers(*c)).collect();
        assert!(found.is_empty(), "{words:?} lets {found:?} through: {text:?}");
    }
}

/// A folder with a record into which somebody else wrote what this program does not: names and
/// texts that steer.
fn evil_place() -> Place {
    let place = Place::new(EXE, &job(WIDE));
    let mut record = Record::create(&place.record()).unwrap();
    let stamp =
        Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "R. Oakes", "test").unwrap();
    let text = std::fs::read_to_string(place.path("job.toml")).unwrap();
    record.open_job(JobId([1; 16]), "turned", &text, &stamp).unwrap();
    record.open_job(JobId([2; 16]), "plain", &text, &stamp).unwrap();
    for name in ["turned", "plain"] {
        record.append(name, &stamp, Note { text: "left anchor".to_owned(), about: None }).unwrap();
        let photo = Photo {
            name: "after.png",
            media_type: "image/png",
            bytes: b"foobar",
            caption: Some("after"),
        };
        record.attach(name, &stamp, photo).unwrap();
    }
    drop(record);
    let connection = rusqlite::Connection::open(place.record()).unwrap();
    let triggers: Vec<String> = connection
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
        .and_then(|mut query| query.query_map([], |row| row.get(0))?.collect())
        .unwrap();
    triggers
        .iter()
        .for_each(|name| connection.execute_batch(&format!("DROP TRIGGER {name}")).unwrap());
    connection.execute("UPDATE job SET name = ?1 WHERE name = 'turned'", [TURNED]).unwrap();
    for (from, to) in [("left anchor", EVIL), ("after", TURNED)] {
        let to = serde_json::to_string(to).unwrap();
        let to = to.trim_matches('"');
        connection
            .execute("UPDATE event SET payload = replace(payload, ?1, ?2)", [from, to])
            .unwrap();
    }
    connection
        .execute("UPDATE event SET who = ?1, software = ?1 WHERE kind = 'photo attached'", [EVIL])
        .unwrap();
    drop(connection);
    std::fs::write(
        place.path("readings.csv"),
        format!("station,x_mm,y_mm,gap_mm\n{TURNED},-950,0,5.9\ntop right,950,0,1.0\n{TURNED}2,0,-1265,5.5\n"),
    )
    .unwrap();
    std::fs::write(
        place.path("bad.csv"),
        format!("station,x_mm,y_mm,gap_mm\n{EVIL},{EVIL},0,5.9\n"),
    )
    .unwrap();
    std::fs::write(place.path("bad.toml"), format!("[job]\nname = \"{TURNED}\"\n{TURNED} = 1\n"))
        .unwrap();
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

/// The same text, unharmed, for programs: JSON escapes it.
#[test]
fn programs_get_what_was_written() {
    let place = evil_place();
    let output = place.run(["jobs", "list", "--json", "--record", "record.sqlite"]);
    let names: Vec<String> = String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .map(|line| {
            serde_json::from_str::<serde_json::Value>(line).unwrap()["name"]
                .as_str()
                .unwrap()
                .to_owned()
        })
        .collect();
    assert!(names.iter().any(|name| name == TURNED), "{names:?}");
}

#[test]
fn what_was_typed_into_a_watch_steers_nothing() {
    let (place, head) = (evil_place(), Plugged::new(150));
    for more in ["--plain", "--json"] {
        let mut command = place.command();
        command.args([
            "watch",
            "--job",
            "job.toml",
            "--record",
            "other.sqlite",
            "--head",
            head.port(),
            more,
        ]);
        let mut watch = Watch::start(command);
        watch.until("a line", |_| true);
        for typed in [EVIL.to_owned(), format!("station {TURNED}")] {
            watch.say(&typed);
            watch.until("what is said of it", |line| {
                let said = line["text"].as_str().or(line.as_str()).unwrap_or_default();
                said.contains("not known here") || said.contains("no station")
            });
        }
        let ending = watch.quit();
        for text in ending.out.iter().chain([&ending.err]) {
            assert!(!text.chars().any(|c| c != '\n' && steers(c)), "{more}: {text:?}");
        }
    }
}
