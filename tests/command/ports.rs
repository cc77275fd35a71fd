//! `ports`: finds a head, and tells strangers apart.

use crate::place;
use serde_json::Value;
use skimgauge_bench::Fault;
use skimgauge_tests::plugged::{Plugged, Stranger};
use std::process::Stdio;

#[test]
fn tells_a_head_its_firmware_and_when_it_was_zeroed() {
    let (place, head) = (place(), Plugged::new(41));
    let output = place.run(["ports", head.port()]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(
        text,
        format!("{}  head {}  firmware 0.1.0  zeroed 2026-03-09\n", head.port(), head.serial())
    );

    let output = place.run(["ports", "--json", head.port()]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let rows: Value = serde_json::from_slice(&output.stdout).unwrap();
    let wanted = serde_json::json!([{
        "port": head.port(), "is_head": true, "serial": head.serial(), "firmware": "0.1.0",
        "calibration": "good", "calibration_date": "2026-03-09", "problem": null,
    }]);
    assert_eq!(rows, wanted);
}

#[test]
fn says_of_a_head_without_constants_what_to_do() {
    let place = place();
    let head = Plugged::absent(42);
    head.bench().set_fault(Fault::CalibrationMissing, true);
    head.plug();
    let output = place.run(["ports", head.port()]);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(text.contains("calibration missing") && text.contains("skimgauge zero"), "{text}");
}

#[test]
fn names_each_port_that_is_no_head_and_why() {
    let (place, head) = (place(), Plugged::new(43));
    let silent = Stranger::silent();
    let output =
        place.run(["ports", "--json", &silent, "/dev/ttyNOSUCH0", head.port(), "job.toml"]);
    // One of them is a head.
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let rows: Value = serde_json::from_slice(&output.stdout).unwrap();
    let problem = |row: usize| rows[row]["problem"].as_str().unwrap_or_default().to_owned();
    assert!(problem(0).starts_with("Nothing answers on "), "{rows}");
    assert!(problem(1).starts_with("There is no port /dev/ttyNOSUCH0."), "{rows}");
    assert_eq!(rows[2]["is_head"], true);
    assert_eq!(
        problem(3),
        "job.toml is not a serial port. `skimgauge ports` shows where heads are."
    );

    let output = place.run(["ports", &silent]);
    assert_eq!(output.status.code(), Some(3), "{output:?}");
    assert!(String::from_utf8_lossy(&output.stdout).contains("No head answered."), "{output:?}");
}

#[test]
fn a_reader_that_goes_away_is_no_panic() {
    // It has two seconds and a half to go away in.
    let (place, silent) = (place(), Stranger::silent());
    let mut command = place.command();
    command
        .args(["ports", &silent])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    let mut child = skimgauge_tests::command::started(&mut command);
    drop(child.stdout.take());
    assert_eq!(
        crate::said(&child.wait_with_output().unwrap()),
        "Nobody reads the output any more.\n"
    );
}
