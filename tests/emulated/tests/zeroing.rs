//! The real `skimgauge zero` at the emulated head: the rig is the bench, the hands do what the
//! prompts say. Power fails in the middle of the write; the former constants are whole, and the
//! zeroing that was put aside is written afterwards.
#![cfg(unix)]

use serde_json::Value;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head::{Attitude, Place, Plate};
use skimgauge_emulated_tests::{Folder, Plugged, plugged, skimgauge};
use skimgauge_emulator::{EmulatedHead, Restart};
use std::io::{BufRead, BufReader, Write};
use std::process::Stdio;
use std::time::{Duration, Instant};

const LIGHT_MM: f64 = 8.0;

fn seat(bench: &Bench, block_mm: f64, lit: bool, off_mm: f64) {
    let light_mm = lit.then_some(LIGHT_MM);
    let plate = Plate {
        block_mm,
        light_mm,
        thickness_mm: 3.0,
        level_deg: 0.3,
        lean_deg: -0.2,
        ..Plate::default()
    };
    bench.scene(|scene| {
        scene.put(Place::Plate(plate), Attitude::Upright);
        scene.roll_to_light(off_mm);
    });
}

/// Zeroes the head; with `cut`, power fails once the first page of the constants is being written.
/// What was said, and the exit status.
fn zero(head: &Plugged, folder: &Folder, cut: bool) -> (String, Option<i32>) {
    let bench = head.bench().clone();
    let mut child = skimgauge()
        .args([
            "zero",
            "--head",
            head.name(),
            "--light",
            "8",
            "--by",
            "A. Tester",
            "--blocks",
            "1,2.5,4,5.5",
        ])
        .args(["--rounds", "1", "--record"])
        .arg(folder.path("record.sqlite"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut typing = child.stdin.take().unwrap();
    let mut said = String::new();
    let started = Instant::now();
    for line in BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok) {
        said.push_str(&line);
        said.push('\n');
        if started.elapsed() > Duration::from_secs(240) {
            child.kill().unwrap();
            panic!("the zeroing gets no further: {said}");
        }
        let mut enter = |word: &str| writeln!(typing, "{word}").unwrap();
        if line.starts_with("Dark:") {
            seat(&bench, 0.0, false, 0.0);
            enter("");
        } else if line.starts_with("Roll:") {
            seat(&bench, 1.0, true, -1.3);
            enter("");
            for _ in 0..260 {
                std::thread::sleep(Duration::from_millis(10));
                bench.scene(|scene| scene.set_slide_mm(scene.slide_mm() + 0.01));
            }
        } else if line.contains(" mm block under the laser's spot") {
            let block_mm = line
                .split(" mm block")
                .next()
                .unwrap()
                .rsplit(' ')
                .next()
                .unwrap()
                .parse()
                .unwrap();
            seat(&bench, block_mm, true, 0.02);
            enter("");
        } else if line.starts_with("Level and lean:") {
            seat(&bench, 1.0, true, 0.0);
            enter("");
        } else if line.starts_with("Now to the plate's other face") {
            bench.scene(|scene| scene.turn_head(Attitude::Reversed));
            enter("");
        } else if line.starts_with("Write these constants") {
            let cycles = bench.memory_write_cycles();
            enter("yes");
            if cut {
                while bench.memory_write_cycles() == cycles {
                    assert!(
                        started.elapsed() < Duration::from_secs(240),
                        "nothing is written: {said}"
                    );
                    std::thread::sleep(Duration::from_micros(200));
                }
                head.with_head(|head: &mut EmulatedHead| head.restart(Restart::Power))
                    .unwrap()
                    .unwrap();
            }
        }
    }
    let output = child.wait_with_output().unwrap();
    said.push_str(&String::from_utf8_lossy(&output.stderr));
    (said, output.status.code())
}

/// What `ports` says of its constants: their state, and their day.
fn constants(head: &Plugged) -> (Value, Value) {
    let until = Instant::now() + Duration::from_secs(10);
    loop {
        let output = skimgauge().args(["ports", "--json", head.name()]).output().unwrap();
        let mut rows: Value = serde_json::from_slice(&output.stdout).unwrap();
        if rows[0]["is_head"] == true {
            return (rows[0]["calibration"].take(), rows[0]["calibration_date"].take());
        }
        assert!(Instant::now() < until, "the head does not answer: {rows}");
    }
}

#[test]
fn a_zeroing_is_written_read_back_and_outlives_a_power_failure_in_the_middle_of_its_write() {
    let head = plugged(61);
    let folder = Folder::new("zeroing");
    let old = constants(&head);
    assert_eq!(old, ("good".into(), "2026-05-04".into()));

    let (said, status) = zero(&head, &folder, true);
    assert_eq!(status, Some(2), "{said}");
    assert!(!said.contains("read back the same"), "{said}");
    assert_eq!(constants(&head), old, "{said}");

    // Everything was read before: only the write is left.
    let (said, status) = zero(&head, &folder, false);
    assert_eq!(status, Some(0), "{said}");
    assert!(
        said.contains("Going on with the zeroing put aside") && !said.contains("Block 1 of"),
        "{said}"
    );
    assert!(said.contains("read back the same"), "{said}");
    let new = constants(&head);
    assert_eq!(new.0, "good");
    assert_ne!(new.1, old.1);

    head.with_head(|head: &mut EmulatedHead| head.restart(Restart::Power)).unwrap().unwrap();
    assert_eq!(constants(&head), new);
}
