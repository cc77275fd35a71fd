//! The `skimgauge` command as its user sees it: a simulated head at a real port of this computer,
//! lines typed and read, exit status, record.
//!
//! `cargo test -p skimgauge-tests --test commands`
#![cfg(unix)]

mod bad_files;
mod bad_ports;
mod birth;
mod contradiction;
mod faults;
mod inputs;
mod killed;
mod link;
mod next;
mod no_room;
mod outputs;
mod places;
mod ports;
mod practice;
mod prove;
mod records;
mod rounds;
mod sessions;
mod shown;
mod signals;
mod storing;
mod watch;
mod zero;

use skimgauge_tests::command::Place;
use std::process::Output;

/// The command that cargo built for these tests.
const EXE: &str = env!("CARGO_BIN_EXE_skimgauge-under-test");

/// A job on the simulated board: four stations, gaps within `band`.
fn job(band: [&str; 2]) -> String {
    let stations: String = skimgauge_tests::plugged::STATIONS
        .iter()
        .map(|(name, x_mm, y_mm)| {
            format!("[[station]]\nname = \"{name}\"\nright = \"{x_mm} mm\"\nup = \"{y_mm} mm\"\n\n")
        })
        .collect();
    let adjusters: String = [("left", -100, 80), ("right", 100, 80), ("upper", 0, 140)]
        .iter()
        .map(|(name, right, up)| {
            format!(
                "[[adjuster]]\nname = \"{name}\"\nright = \"{right} mm\"\nup = \"{up} mm\"\npitch = \"0.5 mm\"\n\
                 clockwise = \"out\"\ntravel_clockwise = \"8 turns\"\ntravel_anticlockwise = \"8 turns\"\n\n"
            )
        })
        .collect();
    format!(
        "[job]\nname = \"test wall\"\nby = \"R. Oakes\"\n\n\
         [image]\ndiagonal = \"94 in\"\naspect = \"16:10\"\n\n\
         [emitter]\nabove_top = \"80 mm\"\n\n\
         {adjusters}{stations}\
         [limits]\ncalibration_age = \"3650 days\"\nmaterial = \"0 mm\"\n\n\
         [band]\ngap = [\"{}\", \"{}\"]\n",
        band[0], band[1]
    )
}

/// A band that every gap on the simulated boards is in.
const WIDE: [&str; 2] = ["0.1 mm", "20 mm"];

/// A folder with a job that is within wherever the light is.
fn place() -> Place {
    Place::new(EXE, &job(WIDE))
}

/// What a command that failed said: status 2, one paragraph on standard error, nothing of Rust's
/// own.
fn said(output: &Output) -> String {
    let err = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    assert!(
        !err.contains("panicked") && !err.contains("Err(") && !err.contains("os error"),
        "{err}"
    );
    assert!(
        err.trim_end().ends_with(['.', ')']) || err.contains("expected: "),
        "no sentence: {err}"
    );
    err
}
