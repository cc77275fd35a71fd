//! The rooms of the demonstration: each is played to its end, and shows what it teaches.

use std::path::Path;
use std::process::Command;

/// A room, how it may end (0 within, 1 outside, 3 too close to call), and what must have been said.
const ROOMS: [(&str, &[i32], &[&str]); 6] = [
    ("flat", &[0, 3], &["nothing more to turn"]),
    ("bowed", &[0, 3], &["light stands"]),
    ("stud", &[1, 3], &["survey"]),
    ("reversed", &[0, 3], &["works the other way round"]),
    ("bright", &[0, 3], &["draws the blind"]),
    ("cannot-be-met", &[1, 3], &["NO setting"]),
];

#[test]
fn every_room_is_played_to_its_end_and_shows_what_it_teaches() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("rooms");
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    for (room, ends, shows) in ROOMS {
        let output = Command::new(env!("CARGO_BIN_EXE_skimgauge"))
            .current_dir(&folder)
            .args(["demo", "--quick", "--plain", "--room", room])
            .args(["--record", &format!("{room}.sqlite")])
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stdout);
        let wrong = String::from_utf8_lossy(&output.stderr);
        let status = output.status.code().unwrap_or(-1);
        assert!(ends.contains(&status), "{room} ended with {status}: {wrong}\n{said}");
        assert!(said.starts_with("This room teaches: "), "{room}: {said}");
        for show in shows {
            assert!(said.contains(show), "{room} does not say {show:?}:\n{said}");
        }
    }
}

#[test]
fn the_help_names_every_room() {
    let output =
        Command::new(env!("CARGO_BIN_EXE_skimgauge")).args(["demo", "--help"]).output().unwrap();
    let help = String::from_utf8_lossy(&output.stdout);
    for (room, ..) in ROOMS {
        assert!(help.contains(room), "{room}: {help}");
    }
}
