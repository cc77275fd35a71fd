//! The `skimgauge` command as its user sees it: a simulated head at a real port of this computer,
//! lines typed and read, exit status, record.
//!
//! `cargo test -p skimgauge-tests --test commands`; `tests/windows/check` runs those that need no
//! unix on Windows, too.

mod bad_files;
mod bad_ports;
mod birth;
mod contradiction;
mod disowned;
mod faults;
// Devices that never end, a limit on a program's memory, a shell.
#[cfg(unix)]
mod inputs;
mod killed;
mod link;
mod next;
// Its key is refused where others may read it, which is unix's to say.
#[cfg(unix)]
mod own_job;
// What Windows does with names.
#[cfg(windows)]
mod odd_names;
// Mounts a small disk.
#[cfg(unix)]
mod no_room;
// Links that any account makes, a pipe among files; what Windows has instead: `odd_names`.
#[cfg(unix)]
mod outputs;
mod places;
mod ports;
// At a terminal of the tests' own.
#[cfg(unix)]
mod practice;
mod prove;
mod records;
mod rounds;
mod sessions;
mod shown;
// Signals, a terminal of the tests' own; what Windows has instead: tests/windows/check.
#[cfg(unix)]
mod signals;
mod storing;
mod surveyed;
mod watch;
mod zero;

#[cfg(unix)]
use skimgauge_record::{JobId, Record, Stamp, When};
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
const WIDE: [&str; 2] = ["0.4 mm", "16.6 mm"];

/// A folder with a job that is within wherever the light is.
fn place() -> Place {
    Place::new(EXE, &job(WIDE))
}

/// A job begun in the folder's record, of what its `job.toml` says.
#[cfg(unix)]
fn begun(place: &Place) {
    let text = std::fs::read_to_string(place.path("job.toml")).unwrap();
    let when = When::parse("2026-11-25T09:14:03+01:00").unwrap();
    let stamp = Stamp::new(when, "R. Oakes", "test").unwrap();
    let mut record = Record::create(&place.record()).unwrap();
    record.open_job(JobId([1; 16]), "test wall", &text, &stamp).unwrap();
}

/// `watch` or `trim` of the folder's job at a port, into the folder's record, in JSON.
fn json_at<'a>(command: &'a str, port: &'a str) -> [&'a str; 8] {
    [command, "--job", "job.toml", "--record", "record.sqlite", "--json", "--head", port]
}

/// The system's own words, in its own language, for a file that is not there.
fn no_such_file() -> String {
    let words = std::io::Error::from_raw_os_error(2).to_string();
    words.split(" (os error").next().unwrap().trim_end_matches('.').to_owned()
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
