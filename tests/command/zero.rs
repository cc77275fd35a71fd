//! `zero` as a user at the gauge meets it: the real command, a simulated head at a pseudo-terminal,
//! and hands that do what the prompts say.

use crate::EXE;
use skimgauge::practice::planned;
use skimgauge::practice::stage::Stage;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::room::gauge::Gauge;
use skimgauge_jobfile::Job;
use skimgauge_shared::calibration::Date;
use skimgauge_tests::gauge;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{ChildStdin, Command, Stdio};
use std::time::{Duration, Instant};

/// On the gauge's label; what it truly is differs a little.
const LABEL: &str = "3.002,9.004";
const TRUE_MM: [f64; 2] = [3.006, 9.001];

fn stage(seed: u64) -> Stage {
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let bench = planned::bench(&job, None, seed);
    Stage::new(bench, Date { year: 2026, month: 1, day: 1 }).unwrap()
}

/// The gauge as it truly is, a little off its label.
fn gauge() -> Gauge {
    let [low_mm, high_mm] = TRUE_MM;
    Gauge { low_mm, high_mm, ..Gauge::default() }
}

fn hands(bench: &Bench, line: &str) -> Option<&'static str> {
    gauge::hands(bench, gauge(), line)
}

fn before_gauge(bench: &Bench, lift_mm: f64, lamp: bool) {
    gauge::stand_before(bench, gauge(), lift_mm, lamp);
}

/// Runs the command, doing at each prompt what it asks; at the prompt that begins with `until` the
/// keyboard is unplugged. The head's button is pressed when it is asked for.
fn run(
    stage: &Stage,
    folder: &Path,
    arguments: &[&str],
    until: Option<&str>,
    hands: impl Fn(&Bench, &str) -> Option<&'static str>,
) -> (String, Option<i32>) {
    let bench = stage.bench().clone();
    let mut child = Command::new(EXE)
        .args(["zero", "--head", stage.port(), "--by", "A. Tester", "--record"])
        .arg(folder.join("record.sqlite"))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut typing = child.stdin.take();
    let mut said = String::new();
    for line in BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok) {
        said.push_str(&line);
        said.push('\n');
        if until.is_some_and(|until| line.starts_with(until)) {
            typing = None;
        }
        if line.contains("> Press the head's button") {
            bench.press_button(true);
            std::thread::sleep(Duration::from_millis(200));
            bench.press_button(false);
        }
        let word = hands(&bench, &line);
        let enter = |typing: &mut Option<ChildStdin>, word: &str| {
            if let Some(typing) = typing {
                // A command that has ended reads no more.
                let _ = writeln!(typing, "{word}");
            }
        };
        if let Some(word) = word {
            enter(&mut typing, word);
        }
    }
    let output = child.wait_with_output().unwrap();
    said.push_str(&String::from_utf8_lossy(&output.stderr));
    (said, output.status.code())
}

fn folder(name: &str) -> std::path::PathBuf {
    let folder = std::env::temp_dir().join(format!("skimgauge-zero-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

#[test]
fn a_head_is_zeroed_put_aside_and_checked() {
    let stage = stage(3);
    let folder = folder("whole");
    let label = ["--light", LABEL, "--rounds", "2"];
    // The plug of the keyboard is pulled at the second stand: nothing is written, what was read is
    // kept.
    let (said, code) = run(&stage, &folder, &label, Some("On the board, 2"), hands);
    assert_eq!(code, Some(3), "{said}");
    assert!(
        said.contains("Put aside in") && said.contains("Nothing was written to the head."),
        "{said}"
    );
    // Taken up again: the first stand is not asked for any more.
    let (said, code) = run(&stage, &folder, &label, None, hands);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("Going on with the zeroing put aside"), "{said}");
    assert!(
        !said.contains("On the board: wipe") && said.contains("On the board, 2 of 2"),
        "{said}"
    );
    for shown in [
        "constant",
        "Residuals",
        "slits' heights (label)",
        "pixels unequal",
        "Lean is not found here",
        "Press the head's button",
        "read back the same",
        "Kept in",
    ] {
        assert!(said.contains(shown), "{shown}: {said}");
    }
    // Line by line, and level as its constants have it: an ideal zeroing found the former one.
    assert!(!said.contains('\u{fffd}'), "{said}");
    let level = said.lines().find(|line| line.starts_with("level offset")).expect("a line");
    let numbers: Vec<f64> = level.split_whitespace().filter_map(|n| n.parse().ok()).collect();
    assert!((numbers[0] - numbers[1]).abs() < 0.03, "{level}");
    // The head tells its new day and name to whoever asks; the zero holds, in ten seconds.
    let job = folder.join("job.toml");
    std::fs::write(&job, skimgauge_jobfile::demo_job()).unwrap();
    let check = ["--check", "--light", LABEL, "--job", job.to_str().unwrap()];
    let began = Instant::now();
    let (said, code) = run(&stage, &folder, &check, None, hands);
    assert!(said.contains("by A. Tester"), "{said}");
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("Still good: the zero holds."), "{said}");
    println!("the check took {:.1} s", began.elapsed().as_secs_f64());
    // The job's record knows that it holds on this board.
    let shown = Command::new(EXE)
        .args(["jobs", "show", "practice wall", "--record"])
        .arg(folder.join("record.sqlite"))
        .output()
        .unwrap();
    let shown = String::from_utf8_lossy(&shown.stdout).into_owned();
    assert!(shown.contains("zero checked on gauge with slits at 3.002 mm"), "{shown}");
    assert!(shown.contains("it holds"), "{shown}");
    // Its eye was knocked by a quarter of a millimetre.
    stage.bench().pixel_line(|line| line.first_mm += 0.25);
    let (said, code) = run(&stage, &folder, &check, None, hands);
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("Not good any more."), "{said}");
    std::fs::remove_dir_all(folder).unwrap();
}

/// The lamp forgotten, the label misread: said at once and asked again, and nothing is read.
#[test]
fn what_is_wrong_before_the_eye_is_said_and_asked_again() {
    let stage = stage(5);
    let folder = folder("wrong");
    let unlit = |bench: &Bench, line: &str| {
        let begins = line.starts_with("On the board");
        begins.then(|| before_gauge(bench, 0.0, false)).map(|()| "")
    };
    // At the second asking the keyboard is gone.
    let asked = std::cell::Cell::new(0);
    let once = |bench: &Bench, line: &str| {
        let word = unlit(bench, line)?;
        asked.set(asked.get() + 1);
        if asked.get() > 1 { Some("quit") } else { Some(word) }
    };
    let (said, code) = run(&stage, &folder, &["--light", LABEL], None, once);
    assert_eq!(code, Some(3), "{said}");
    assert!(said.contains("The eye sees no line of light."), "{said}");
    asked.set(0);
    let once = |bench: &Bench, line: &str| {
        if !line.starts_with("On the board") {
            return None;
        }
        before_gauge(bench, 0.0, true);
        asked.set(asked.get() + 1);
        if asked.get() > 1 { Some("quit") } else { Some("") }
    };
    let (said, code) = run(&stage, &folder, &["--light", "3.002,9.404"], None, once);
    assert_eq!(code, Some(3), "{said}");
    assert!(said.contains("mm apart; by what you said of the gauge"), "{said}");
    assert!(said.contains("Look at its label again (--light)"), "{said}");
    std::fs::remove_dir_all(folder).unwrap();
}

/// Only level is wanted, and nobody is there to press: steps are left out, the rest stays.
#[test]
fn steps_are_left_out_and_a_head_alone_is_written_without_a_press() {
    let stage = stage(6);
    let folder = folder("level");
    let only_level = |bench: &Bench, line: &str| {
        let left_out = line.starts_with("Dark:") || line.starts_with("Even light:");
        if left_out { Some("skip") } else { hands(bench, line) }
    };
    let (said, code) = run(&stage, &folder, &["--unattended"], None, only_level);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("Without the gauge neither zero nor scale is found"), "{said}");
    assert!(said.contains("stay: on the board, lifted, dark, even light."), "{said}");
    assert!(!said.contains("Press the head's button") && said.contains("read back the same"));
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_gauge_that_cannot_be_is_refused_in_words_before_anything_is_asked() {
    let stage = stage(4);
    let folder = folder("refused");
    for (arguments, expected) in [
        (&["--check"][..], "A check wants the gauge. Say the heights on its label"),
        (&["--check", "3", "--light", "3,9"], "--check takes no value"),
        (&["--light", "3,two"], "is no gauge"),
        (&["--light", "3,9", "--rounds", "0"], "--rounds must be"),
        (&["--light", "3,9", "--light-u", "0"], "(--light-u) must be above 0"),
        (&["--blocks", "1,2,3"], "zeroed on the gauge with two slits"),
    ] {
        let (said, code) = run(&stage, &folder, arguments, None, hands);
        assert_eq!(code, Some(2), "{said}");
        assert!(said.contains(expected) && !said.contains("Usage:"), "{said}");
    }
    std::fs::remove_dir_all(folder).unwrap();
}
