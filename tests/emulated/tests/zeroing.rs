//! The real `skimgauge zero` at the emulated head: the gauge is the bench's, the hands do what the
//! prompts say. Power fails in the middle of the write; the former constants are whole, and the
//! zeroing that was put aside is written afterwards.
#![cfg(unix)]

use serde_json::Value;
use skimgauge_bench::room::gauge::Gauge;
use skimgauge_emulated_tests::{Folder, Plugged, plugged, skimgauge};
use skimgauge_emulator::{EmulatedHead, Restart};
use skimgauge_tests::gauge::hands;
use std::io::{BufRead, BufReader, Write};
use std::process::Stdio;
use std::time::{Duration, Instant};

/// Zeroes the head; with `cut`, power fails once the first page of the constants is being written.
/// What was said, and the exit status.
fn zero(head: &Plugged, folder: &Folder, cut: bool) -> (String, Option<i32>) {
    let bench = head.bench().clone();
    let mut child = skimgauge()
        .args(["zero", "--head", head.name(), "--light", "3,9", "--by", "A. Tester"])
        .args(["--rounds", "1", "--lifts", "1", "--record"])
        .arg(folder.path("record.sqlite"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut typing = child.stdin.take().unwrap();
    let mut said = String::new();
    let started = Instant::now();
    let patience = Duration::from_secs(240);
    for line in BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok) {
        said.push_str(&line);
        said.push('\n');
        if started.elapsed() > patience {
            child.kill().unwrap();
            panic!("the zeroing gets no further: {said}");
        }
        if let Some(word) = hands(&bench, Gauge::default(), &line) {
            writeln!(typing, "{word}").unwrap();
        } else if line.contains("> Press the head's button") {
            let cycles = bench.memory_write_cycles();
            bench.press_button(true);
            // Long enough to be no bounce, on the chip's own clock.
            let pressed_us = bench.now_us();
            while bench.now_us() < pressed_us + 200_000 {
                std::thread::sleep(Duration::from_millis(1));
            }
            bench.press_button(false);
            if cut {
                while bench.memory_write_cycles() == cycles {
                    assert!(started.elapsed() < patience, "nothing is written: {said}");
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
        said.contains("Going on with the zeroing put aside") && !said.contains("On the board"),
        "{said}"
    );
    assert!(said.contains("read back the same"), "{said}");
    let new = constants(&head);
    assert_eq!(new.0, "good");
    assert_ne!(new.1, old.1);

    head.with_head(|head: &mut EmulatedHead| head.restart(Restart::Power)).unwrap().unwrap();
    assert_eq!(constants(&head), new);
}
