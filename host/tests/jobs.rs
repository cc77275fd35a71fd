//! `skimgauge jobs`, as a person uses it: the whole command, its words and its exit status.

use skimgauge_record::{JobId, Record};
use skimgauge_record::{Stamp, When};
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

struct Room(tempfile::TempDir);

impl Room {
    /// A folder with a record of two open jobs.
    fn new() -> Self {
        let room = Self(tempfile::tempdir().unwrap());
        let stamp = Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "A. Fitter", "test").unwrap();
        let mut record = Record::create(&room.path().join("r.sqlite")).unwrap();
        record.open_job(JobId([1; 16]), "Hall 3", "site = \"x\"\n", &stamp).unwrap();
        record.open_job(JobId([2; 16]), "Hall 4", "site = \"y\"\n", &stamp).unwrap();
        room
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn run(&self, words: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_skimgauge"))
            .arg("jobs")
            .args(words)
            .current_dir(self.path())
            .env("USER", "fitter")
            .output()
            .unwrap()
    }

    /// What it printed, when it ended well.
    fn good(&self, words: &[&str]) -> String {
        let output = self.run(words);
        let (out, err) = (text(&output.stdout), text(&output.stderr));
        assert!(output.status.success(), "{words:?}: {out}{err}");
        out
    }

    /// What it complained of.
    fn refused(&self, words: &[&str]) -> String {
        let output = self.run(words);
        assert_eq!(output.status.code(), Some(2), "{words:?}: {}", text(&output.stdout));
        text(&output.stderr)
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_job_file_to_begin_with_parses_and_is_not_overwritten() {
    let room = Room::new();
    room.good(&["new", "board.toml"]);
    let file = fs::read_to_string(room.path().join("board.toml")).unwrap();
    skimgauge_job::Job::parse("board.toml", &file).unwrap();
    assert!(room.refused(&["new", "board.toml"]).contains("Choose another name"));
}

#[test]
fn a_job_is_noted_shown_closed_and_carried_elsewhere() {
    let room = Room::new();
    let record = "--record=r.sqlite";
    room.good(&["note", "Hall 3", "left anchor\u{1b}[2J torqued", "--by", "B. Fitter", record]);
    fs::write(room.path().join("wall.jpg"), [0xff, 0xd8, 1]).unwrap();
    room.good(&["attach", "Hall 3", "wall.jpg", "--caption", "anchor", record]);
    room.good(&["close", "Hall 3", "--open-point", "cover plate", record]);
    let shown = room.good(&["show", "Hall 3", record]);
    for words in ["closed", "left anchor", "B. Fitter", "wall.jpg", "left to do: cover plate"] {
        assert!(shown.contains(words), "{words} in {shown}");
    }
    assert!(!shown.contains('\u{1b}'), "a note steers the screen");
    let listed = room.good(&["list", record]);
    assert!(listed.lines().any(|line| line.starts_with("Hall 3") && line.ends_with("closed")), "{listed}");

    room.good(&["export", "Hall 3", "hall.job", record]);
    room.good(&["export", "Hall 3", "hall.json", record]);
    room.good(&["export", "Hall 3", "takes.csv", record]);
    assert!(room.refused(&["export", "Hall 3", "hall.json", record]).contains("Choose another name"));
    assert!(room.good(&["verify", "hall.job"]).contains("Nothing is wrong"));
    assert!(room.good(&["import", "hall.job", "--record=new/other.sqlite"]).contains("4 events"));
    assert!(room.good(&["import", "hall.job", "--record=new/other.sqlite"]).contains("here already"));
    let json: serde_json::Value =
        serde_json::from_str(&room.good(&["show", "Hall 3", "--as", "json", record])).unwrap();
    let file: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(room.path().join("hall.json")).unwrap()).unwrap();
    assert_eq!(json, file);
    let line: serde_json::Value =
        serde_json::from_str(room.good(&["list", "--json", "--record=new/other.sqlite"]).trim()).unwrap();
    assert_eq!((&line["schema"], &line["name"], &line["closed"]), (&1.into(), &"Hall 3".into(), &true.into()));
}

#[test]
fn a_damaged_record_is_named_and_what_holds_is_saved() {
    let room = Room::new();
    room.good(&["note", "Hall 3", "left anchor torqued", "--record=r.sqlite"]);
    let path = room.path().join("r.sqlite");
    let mut bytes = fs::read(&path).unwrap();
    let places: Vec<usize> = (0..bytes.len()).filter(|&at| bytes[at..].starts_with(b"torqued")).collect();
    assert!(!places.is_empty());
    places.iter().for_each(|&place| bytes[place] = b'T');
    fs::write(&path, bytes).unwrap();

    let output = room.run(&["verify", "r.sqlite"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stdout).contains("\"Hall 3\": BROKEN at event 2"), "{}", text(&output.stdout));
    let output = room.run(&["verify", "r.sqlite", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((&report["sound"], &report["report"]["jobs"][0]["broken"]["seq"]), (&false.into(), &2.into()));
    assert!(room.good(&["show", "Hall 3", "--record=r.sqlite"]).contains("BROKEN at event 2"));
    assert!(room.refused(&["export", "Hall 3", "x.job", "--record=r.sqlite"]).contains("breaks at event 2"));
    let saved = room.good(&["export", "--salvage", "saved.sqlite", "--record=r.sqlite"]);
    assert!(saved.contains("Left behind from event 2"), "{saved}");
    assert!(room.good(&["verify", "saved.sqlite"]).contains("Nothing is wrong"));
}

#[test]
fn what_cannot_be_done_is_said_in_a_sentence() {
    let room = Room::new();
    fs::write(room.path().join("x.txt"), "a shopping list").unwrap();
    for (words, says) in [
        (&["show", "hall 3", "--record=r.sqlite"][..], "Did you mean \"Hall 3\"?"),
        (&["show", "Hall 3", "--record=none.sqlite"], "There is no record"),
        (&["list", "--record=x.txt"], "not a skimgauge record"),
        (&["verify", "x.txt"], "not a skimgauge record"),
        (&["import", "x.txt", "--record=r.sqlite"], "not a skimgauge record"),
        (&["attach", "Hall 3", "none.jpg", "--record=r.sqlite"], "none.jpg cannot be read"),
        (&["close", "Hall 3", "--sign", "x.txt", "--record=r.sqlite"], "no OpenSSH private key"),
        (&["note", "Hall 3", "x", "--by", " ", "--record=r.sqlite"], "the name of the person"),
        (&["export", "Hall 3", "--record=r.sqlite"], "2 values"),
    ] {
        let said = room.refused(words);
        assert!(said.contains(says), "{words:?}: {said}");
    }
}
