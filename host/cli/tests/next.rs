//! `skimgauge next`, as a person uses it: what it says of a job that is closed, left out or said to
//! be another.

use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Command;

struct Room(tempfile::TempDir);

impl Room {
    /// A folder with the job file of the practice.
    fn new() -> Self {
        let room = Self(tempfile::tempdir().unwrap());
        fs::write(room.path().join("wall.toml"), skimgauge_jobfile::demo_job()).unwrap();
        room
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    /// Exit status and all that was said.
    fn run(&self, words: &[&str]) -> (Option<i32>, String) {
        let output = Command::new(env!("CARGO_BIN_EXE_skimgauge"))
            .args(words)
            .arg("--record=r.sqlite")
            .current_dir(self.path())
            .env("USER", "fitter")
            .output()
            .unwrap();
        let said = [output.stdout, output.stderr].concat();
        (output.status.code(), String::from_utf8_lossy(&said).into_owned())
    }

    fn next(&self, words: &[&str]) -> (Option<i32>, String) {
        let (status, said) = self.run(&[&["next", "--job", "wall.toml"][..], words].concat());
        (status, said.split_whitespace().collect::<Vec<_>>().join(" "))
    }

    fn steps(&self) -> Vec<String> {
        let (_, said) = self.next(&["--json"]);
        let found: Value = serde_json::from_str(&said).unwrap();
        let steps = found["steps"].as_array().unwrap().iter();
        steps.map(|step| step["step"].as_str().unwrap().to_owned()).collect()
    }
}

#[test]
fn a_closed_job_names_what_it_was_closed_without_and_no_command_that_is_refused() {
    let room = Room::new();
    let (_, said) = room.next(&["--done", "services", "--checked"]);
    assert!(said.contains("Next: where everything goes"), "{said}");
    let (status, closed) = room.run(&["jobs", "close", "practice wall"]);
    assert!(status == Some(0) && closed.contains("steps not done: set-out, fixings"), "{closed}");
    let (_, shown) = room.run(&["jobs", "show", "practice wall"]);
    assert!(!shown.contains("nothing left to do"), "{shown}");
    assert!(shown.contains("left to do: steps not done: set-out, fixings"), "{shown}");

    let (status, said) = room.next(&[]);
    assert_eq!(status, Some(3), "{said}");
    for words in ["The job is closed (", "closed without: set-out, fixings", "a name of its own"] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(said.contains("Next: signed") && said.contains("jobs close"), "{said}");
    for refused in ["setout --job", "--leave-out", "page given"] {
        assert!(!said.contains(refused), "{refused}: {said}");
    }
    let found: Value = serde_json::from_str(&room.next(&["--json"]).1).unwrap();
    assert_eq!((&found["closed"], &found["next"]), (&true.into(), &"signature".into()));
}

#[test]
fn with_every_step_left_out_nothing_was_done() {
    let room = Room::new();
    for step in room.steps() {
        let (_, said) = room.next(&["--leave-out", &step, "--why", "no time"]);
        assert!(said.contains("no time"), "{said}");
    }
    let (status, said) = room.next(&[]);
    assert!(status == Some(3) && said.contains("nothing was measured"), "{said}");
    assert!(!said.contains("Nothing is left to do"), "{said}");
}

#[test]
fn what_is_said_to_be_the_same_job_is_shown_as_it_stands() {
    let room = Room::new();
    room.next(&["--leave-out", "services", "--why", "a wall of our own"]);
    let file = room.path().join("wall.toml");
    let other = fs::read_to_string(&file).unwrap();
    let other = other.replace("Larch Lane Library", "Mill Street");
    fs::write(&file, other).unwrap();
    let (status, said) = room.next(&[]);
    assert!(status == Some(2) && said.contains("--same-job"), "{said}");
    let (status, said) = room.next(&["--same-job"]);
    assert!(status == Some(3) && said.contains("a wall of our own"), "{said}");
    // Said once, it is known of this job file, and of no other.
    let (status, said) = room.next(&[]);
    assert!(status == Some(3) && said.contains("a wall of our own"), "{said}");
    let (_, shown) = room.run(&["jobs", "show", "practice wall"]);
    assert!(shown.contains("Mill Street") && shown.contains("same job"), "{shown}");
    let (status, said) = room.next(&["--same-job=zz"]);
    assert!(status == Some(2) && said.contains("begins with zz"), "{said}");
    let third = fs::read_to_string(&file).unwrap().replace("Mill Street", "Quay House");
    fs::write(&file, third).unwrap();
    let (status, said) = room.next(&[]);
    assert!(status == Some(2) && said.contains("--same-job"), "{said}");
}

#[test]
fn a_survey_is_done_again_once_its_table_is_another_or_gone() {
    let room = Room::new();
    let file = room.path().join("wall.toml");
    let job = fs::read_to_string(&file).unwrap();
    fs::write(&file, format!("{job}\n[survey]\nfile = \"s.csv\"\n")).unwrap();
    let at = |x: i32, y: i32| format!("{},{},0.1\n", x * 480, y * 300 - 30);
    let rows = (-2..=2).flat_map(|x| (-4..=0).map(move |y| at(x, y)));
    let table = format!("x_mm,y_mm,z_mm\n{}", rows.collect::<String>());
    let table_file = room.path().join("s.csv");
    fs::write(&table_file, &table).unwrap();
    let (status, said) = room.run(&["survey", "--job", "wall.toml", "--from", "s.csv"]);
    assert_eq!(status, Some(0), "{said}");
    let survey = || {
        let (_, said) = room.next(&["--json"]);
        let found: Value = serde_json::from_str(&said).unwrap();
        let mut steps = found["steps"].as_array().unwrap().iter();
        let step = steps.find(|step| step["step"] == "survey").unwrap();
        format!("{}: {}", step["state"].as_str().unwrap(), step["why"])
    };
    assert!(survey().starts_with("done"), "{}", survey());
    // The same heights spelt in another way are the same.
    fs::write(&table_file, table.replace("0.1\n", "0.100\n")).unwrap();
    assert!(survey().starts_with("done"), "{}", survey());
    fs::write(&table_file, table.replacen("0.1\n", "2.1\n", 1)).unwrap();
    assert!(survey().starts_with("stale") && survey().contains("is another"), "{}", survey());
    fs::write(&table_file, "no table").unwrap();
    assert!(survey().contains("cannot be read"), "{}", survey());
    fs::remove_file(&table_file).unwrap();
    assert!(survey().contains("is gone"), "{}", survey());
    fs::write(&table_file, &table).unwrap();
    assert!(survey().starts_with("done"), "put back as it was: {}", survey());
}

#[test]
fn a_step_said_done_by_mistake_is_undone_and_stays_in_the_record() {
    let room = Room::new();
    room.next(&["--done", "services", "--checked"]);
    let (status, said) = room.next(&["--undo", "services"]);
    assert!(status == Some(2) && said.contains("--why"), "{said}");
    let (status, said) = room.next(&["--undo", "services", "--why", "."]);
    assert!(status == Some(2) && said.contains("Say why"), "{said}");
    let (status, said) = room.next(&["--undo", "set-out", "--why", "x"]);
    assert!(status == Some(2) && said.contains("set-out is open"), "{said}");
    let words = ["--undo", "services", "--why", "the wrong wall", "--by", "R. Oakes"];
    let (status, said) = room.next(&words);
    assert_eq!(status, Some(3), "{said}");
    for words in ["[ ] open services", "is undone: the wrong wall (R. Oakes,"] {
        assert!(said.contains(words), "{words}: {said}");
    }
    let (_, shown) = room.run(&["jobs", "show", "practice wall"]);
    let shown = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(shown.contains("step services said done"), "{shown}");
    assert!(
        shown.contains("what was said of the step services (event 2) is undone: the wrong wall"),
        "{shown}"
    );
    let (status, verified) = room.run(&["jobs", "verify"]);
    assert_eq!(status, Some(0), "{verified}");
    // A measurement is undone by no word.
    room.run(&["fixings", "--job", "wall.toml"]);
    let (status, said) = room.next(&["--undo", "fixings", "--why", "x"]);
    assert!(status == Some(2) && said.contains("Nothing was kept"), "{said}");
    room.run(&["jobs", "close", "practice wall"]);
    let (status, said) = room.next(&["--undo", "services", "--why", "x"]);
    assert_eq!(status, Some(2), "{said}");
}

/// What the job file has undone since the record last had it is asked for before the close.
#[test]
fn a_job_is_closed_with_its_file_looked_at_or_says_that_it_was_not() {
    let room = Room::new();
    room.next(&["--leave-out", "set-out", "--why", "painted wall"]);
    room.next(&["--done", "services", "--checked"]);
    assert!(room.next(&[]).1.contains("[x] done services"), "{}", room.next(&[]).1);
    let file = room.path().join("wall.toml");
    let job = fs::read_to_string(&file).unwrap();
    fs::write(&file, job.replace("94 in", "96 in")).unwrap();
    let close = ["jobs", "close", "practice wall"];
    let (status, said) = room.run(&[&close[..], &["--job", "wall.toml"]].concat());
    assert!(status == Some(2) && said.contains("Nothing was closed"), "{said}");
    fs::write(&file, job.replace("model = \"practice emitter\"", "model = \"another\"")).unwrap();
    let (status, said) = room.next(&["--done", "emitter", "--checked"]);
    assert!(said.contains("[x] done emitter"), "{status:?}: {said}");
    fs::write(&file, &job).unwrap();
    let (status, said) = room.run(&[&close[..], &["--job", "wall.toml"]].concat());
    assert!(status == Some(2) && said.contains("to be done again: emitter"), "{said}");
    let (status, said) = room.run(&close);
    assert!(status == Some(0) && said.contains("not the job file"), "{said}");

    let room = Room::new();
    room.next(&["--done", "services", "--checked"]);
    let (status, said) = room.run(&[&close[..], &["--job", "wall.toml"]].concat());
    assert!(status == Some(0) && !said.contains("not the job file"), "{said}");
}

/// Heights of a board, row by row.
fn heights() -> String {
    let at = |x: i32, y: i32| format!("{},{},0.1\n", x * 480, y * 300 - 30);
    let rows = (-2..=2).flat_map(|x| (-4..=0).map(move |y| at(x, y)));
    format!("x_mm,y_mm,z_mm\n{}", rows.collect::<String>())
}

fn survey_step(room: &Room) -> Value {
    let (_, said) = room.next(&["--json"]);
    let found: Value = serde_json::from_str(&said).unwrap();
    let mut steps = found["steps"].as_array().unwrap().iter();
    steps.find(|step| step["step"] == "survey").unwrap().clone()
}

/// The heights stand whatever the gap may be: they are judged anew, and nothing is measured.
#[test]
fn after_another_band_the_same_heights_are_judged_anew() {
    let room = Room::new();
    let file = room.path().join("wall.toml");
    let job = fs::read_to_string(&file).unwrap() + "\n[survey]\nfile = \"s.csv\"\n";
    fs::write(&file, &job).unwrap();
    fs::write(room.path().join("s.csv"), heights()).unwrap();
    let judge = ["survey", "--job", "wall.toml", "--from", "s.csv"];
    assert_eq!(room.run(&judge).0, Some(0));
    let band = job.lines().find(|line| line.starts_with("gap = [")).expect("a band").to_owned();
    let wider = job.replace(&band, "gap = [\"1.0 mm\", \"4.6 mm\"]");
    assert_ne!(wider, job);
    fs::write(&file, wider).unwrap();
    let stale = survey_step(&room);
    assert_eq!(stale["state"], "stale", "{stale}");
    let command = "skimgauge survey --job wall.toml --from s.csv --record r.sqlite";
    assert_eq!(stale["command"], command);
    assert_eq!(room.run(&judge).0, Some(0));
    assert_eq!(survey_step(&room)["state"], "done");
    // Another image is another board: its heights are to be measured.
    fs::write(&file, job.replace("94 in", "88 in")).unwrap();
    room.next(&["--same-job"]);
    let stale = survey_step(&room);
    assert_eq!(stale["state"], "stale", "{stale}");
    assert!(stale["command"].as_str().unwrap().contains("--head PORT"), "{stale}");
}

/// A survey that the job file does not name is of no use to trim: that is said first.
#[test]
fn a_survey_whose_table_is_not_named_is_what_comes_next() {
    let room = Room::new();
    fs::write(room.path().join("survey.csv"), heights()).unwrap();
    for step in ["set-out", "fixings", "bracket", "hanging", "focus", "square", "zero"] {
        room.next(&["--leave-out", step, "--why", "done by others"]);
    }
    room.next(&["--done", "services", "--checked"]);
    room.next(&["--leave-out", "emitter", "--why", "done by others"]);
    room.next(&["--leave-out", "retighten", "--why", "done by others"]);
    let judge = ["survey", "--job", "wall.toml", "--from", "survey.csv"];
    assert_eq!(room.run(&judge).0, Some(0));
    let unnamed = survey_step(&room);
    assert!(unnamed["why"].as_str().unwrap_or_default().contains("[survey]"), "{unnamed}");
    let (_, said) = room.next(&[]);
    assert!(said.contains("Next: the board's own shape"), "{said}");
    assert!(said.contains("under [survey], as file = \"survey.csv\""), "{said}");
    assert!(!said.contains("skimgauge trim"), "{said}");

    let file = room.path().join("wall.toml");
    let job = fs::read_to_string(&file).unwrap() + "\n[survey]\nfile = \"survey.csv\"\n";
    fs::write(&file, job).unwrap();
    assert_eq!(survey_step(&room)["state"], "done");
    let (_, said) = room.next(&[]);
    assert!(
        said.contains("skimgauge trim --job wall.toml --head PORT --record r.sqlite"),
        "{said}"
    );
    // For further places, with a name that nothing has yet.
    let further = "skimgauge survey --job wall.toml --head PORT --next N --points survey2.csv --record r.sqlite";
    assert!(said.contains(further), "{said}");
}

/// Whoever forgot which record is told.
#[test]
fn what_is_kept_says_where() {
    let room = Room::new();
    let (_, said) = room.next(&["--done", "services", "--checked"]);
    assert!(said.contains("Kept in r.sqlite"), "{said}");
    let (_, said) = room.next(&[]);
    assert!(!said.contains("Kept in"), "{said}");
}
