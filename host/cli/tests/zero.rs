//! `zero` as a user at the rig meets it: the real command, a simulated head at a pseudo-terminal,
//! and hands that do what the prompts say.
#![cfg(unix)]

use skimgauge::practice::stage::Stage;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head::{Attitude, Place, Plate};
use skimgauge_jobfile::Job;
use skimgauge_shared::calibration::Date;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

const LIGHT_MM: f64 = 8.0;

fn stage(seed: u64) -> Stage {
    let job = Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap();
    let stage = Stage::new(&job, seed, Date { year: 2026, month: 1, day: 1 }).unwrap();
    // Feet far better than the program takes them for: one check in twenty would else say "not
    // good" of a good head.
    stage.bench().scene(|scene| scene.room.errors.seating_mm = 0.01);
    stage
}

fn plate(block_mm: f64, lit: bool) -> Place {
    let light_mm = lit.then_some(LIGHT_MM);
    Place::Plate(Plate {
        block_mm,
        light_mm,
        thickness_mm: 3.0,
        level_deg: 0.3,
        lean_deg: -0.2,
        ..Plate::default()
    })
}

fn seat(bench: &Bench, place: Place, off_mm: f64) {
    bench.scene(|scene| {
        scene.put(place, Attitude::Upright);
        scene.roll_to_light(off_mm);
    });
}

/// Runs the command, doing at each prompt what it asks; `until` ends what is typed at the prompt
/// that begins so.
fn run(
    stage: &Stage,
    folder: &Path,
    arguments: &[&str],
    until: Option<&str>,
) -> (String, Option<i32>) {
    let bench = stage.bench().clone();
    let mut child = Command::new(env!("CARGO_BIN_EXE_skimgauge"))
        .args(["zero", "--head", stage.port(), "--light", "8", "--by", "A. Tester", "--record"])
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
        let enter = |typing: &mut Option<std::process::ChildStdin>, word: &str| {
            if let Some(typing) = typing {
                writeln!(typing, "{word}").unwrap();
            }
        };
        if line.starts_with("Dark:") {
            seat(&bench, plate(0.0, false), 0.0);
            enter(&mut typing, "");
        } else if line.starts_with("Roll:") {
            seat(&bench, plate(1.0, true), -1.3);
            enter(&mut typing, "");
            for _ in 0..260 {
                std::thread::sleep(Duration::from_millis(10));
                bench.scene(|scene| scene.set_slide_mm(scene.slide_mm() + 0.01));
            }
        } else if line.contains(" mm block under the laser's spot") {
            let block_mm: f64 = line
                .split(" mm block")
                .next()
                .unwrap()
                .rsplit(' ')
                .next()
                .unwrap()
                .parse()
                .unwrap();
            seat(&bench, plate(block_mm, true), 0.02);
            enter(&mut typing, "");
        } else if line.starts_with("Level and lean:") {
            seat(&bench, plate(1.0, true), 0.0);
            enter(&mut typing, "");
        } else if line.starts_with("Now to the plate's other face") {
            bench.scene(|scene| scene.turn_head(Attitude::Reversed));
            enter(&mut typing, "");
        } else if line.starts_with("Write these constants") {
            enter(&mut typing, "yes");
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
    let blocks = ["--blocks", "1,2.5,4,5.5", "--rounds", "1"];
    // The plug of the keyboard is pulled at the second block: nothing is written, what was read is
    // kept.
    let (said, code) = run(&stage, &folder, &blocks, Some("Block 2"));
    assert_eq!(code, Some(3), "{said}");
    assert!(
        said.contains("Put aside in") && said.contains("Nothing was written to the head."),
        "{said}"
    );
    // Taken up again: dark, roll and the first block are not asked for any more.
    let (said, code) = run(&stage, &folder, &blocks, None);
    assert_eq!(code, Some(0), "{said}");
    assert!(
        said.contains("Going on with the zeroing put aside") && !said.contains("Dark:"),
        "{said}"
    );
    assert!(!said.contains("Block 1 of") && said.contains("Block 2 of 4"), "{said}");
    for shown in [
        "constant",
        "Residuals",
        "height of the light",
        "result 3, u = ",
        "read back the same",
        "Kept in",
    ] {
        assert!(said.contains(shown), "{shown}: {said}");
    }
    // The head tells its new day and name to whoever asks.
    let (said, code) = run(&stage, &folder, &["--check", "3"], None);
    assert!(said.contains("by A. Tester"), "{said}");
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("Still good."), "{said}");
    // Its eye is bent by half a millimetre: one block shows it.
    stage.bench().scene(|scene| scene.head.z0_mm += 0.5);
    let (said, code) = run(&stage, &folder, &["--check", "3"], None);
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("Not good any more."), "{said}");
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_rig_that_cannot_be_is_refused_before_anything_is_asked() {
    let stage = stage(4);
    let folder = folder("refused");
    for (arguments, expected) in [
        (&["--blocks", "1,2,9"][..], "no light would be left"),
        (&["--blocks", "1,two"], "is no block"),
        (&["--rounds", "0"], "--rounds must be"),
        (&["--light-u", "0"], "Its uncertainty"),
    ] {
        let (said, code) = run(&stage, &folder, arguments, None);
        assert_eq!(code, Some(2), "{said}");
        assert!(said.contains(expected), "{said}");
    }
    std::fs::remove_dir_all(folder).unwrap();
}
