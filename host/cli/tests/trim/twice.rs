//! What is read, or said, more than once: copies of a line, a second reading, rounds that say the same.

use super::{STATIONS, flowing, folder, job, trim_of};
use std::fmt::Write;
use std::path::Path;
use std::process::Command;

const HEAD: &str = "station,x_mm,y_mm,gap_mm,u_mm\n";

/// A line a station, `off` of them by so much, mm.
fn readings(gap_mm: f64, off: &[(&str, f64)], u_mm: f64) -> String {
    let mut table = String::new();
    for (name, x, y) in STATIONS {
        let by = off.iter().find(|(of, _)| *of == name).map_or(0.0, |(_, by)| *by);
        writeln!(table, "{name},{x},{y},{:.3},{u_mm}", gap_mm + by).unwrap();
    }
    table
}

fn said(folder: &Path, table: &str, more: &[&str]) -> String {
    std::fs::write(folder.join("readings.csv"), format!("{HEAD}{table}")).unwrap();
    let output = trim_of(folder, "readings.csv").args(more).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    flowing(&(text(&output.stdout) + &text(&output.stderr)))
}

/// A table pasted twice, in another order, says no more than once: no seat came back.
#[test]
fn a_line_pasted_twice_is_no_second_seat() {
    let folder = folder("pasted");
    let once = readings(2.5, &[("bottom right", 1.2)], 0.06);
    let backwards: Vec<&str> = once.lines().rev().collect();
    let twice = format!("{once}{}\n", backwards.join("\n"));
    let out = said(&folder, &twice, &[]);
    assert!(!out.contains("came back the same"), "{out}");
    assert!(out.contains("read bottom right again") && out.contains("8 readings"), "{out}");
    assert!(out.contains("line 10 says exactly what line 9 says: left out"), "{out}");
    // One that was read anew is a second seat.
    let anew = format!("{once}bottom right,1012.3,-1265.4,3.72,0.06\n");
    let out = said(&folder, &anew, &[]);
    assert!(out.contains("came back the same") && !out.contains("left out"), "{out}");
}

/// A reading at another place by a mistake, a millimetre off, is not the same, however little sure
/// the table says that it is.
#[test]
fn a_millimetre_off_did_not_come_back_the_same() {
    let folder = folder("millimetre");
    let twice =
        readings(2.5, &[("bottom right", 6.0)], 0.4) + "bottom right,1012.3,-1265.4,9.5,0.4\n";
    let out = said(&folder, &twice, &["--u-shared-mm", "0.01"]);
    assert!(!out.contains("came back the same"), "{out}");
    assert!(out.contains("its own readings differ by 1.00 mm"), "{out}");
}

/// Rounds before these readings in which a turn of the left adjuster does so much of what it should.
fn rounds(share: f64) -> (String, String) {
    let mut table = String::from("round,station,x_mm,y_mm,gap_mm,u_mm,adjuster,turns\n");
    let mut made = 0.0;
    // Adjusters at (-100, 80), (100, 80) and (0, 140), 0.5 mm a turn.
    let gap = |x: f64, y: f64, made: f64| {
        let left_mm = 0.5 * share * made;
        6.0 + left_mm / 2.0 - left_mm / 200.0 * x - left_mm / 120.0 * (y - 80.0)
    };
    for (round, turns) in [0.6, -0.8, 0.5].into_iter().enumerate() {
        for (name, x, y) in STATIONS {
            writeln!(table, "{},{name},{x},{y},{:.3},0.06,,", round + 1, gap(x, y, made)).unwrap();
        }
        writeln!(table, "{},,,,,,left,{turns}", round + 1).unwrap();
        made += turns;
    }
    let now = STATIONS.map(|(name, x, y)| format!("{name},{x},{y},{:.3},0.06\n", gap(x, y, made)));
    (table, now.concat())
}

#[test]
fn a_thread_of_another_pitch_is_learnt_and_planned_with() {
    let folder = folder("pitch");
    for (share, does) in [(0.5, Some("half of")), (2.0, Some("twice")), (1.0, None), (0.1, None)] {
        let (table, now) = rounds(share);
        std::fs::write(folder.join("rounds.csv"), table).unwrap();
        let out = said(&folder, &now, &["--rounds", "rounds.csv"]);
        let known = does.map(|does| format!("a turn of left does {does} what the job file says"));
        assert_eq!(out.contains("what the job file says"), known.is_some(), "{share}: {out}");
        assert!(known.is_none_or(|known| out.contains(&known)), "{share}: {out}");
        // One that hardly follows does not hold: nothing is planned with it.
        assert_eq!(out.contains("CONTRADICT"), share == 0.1, "{share}: {out}");
        assert_eq!(out.contains("until it reads"), share != 0.1, "{share}: {out}");
    }
}

/// Nobody surveyed what is said to be surveyed.
#[test]
fn dents_are_not_surveyed_by_a_word_in_the_job_file() {
    let folder = folder("by-word");
    let text = format!("{}\n[board]\nlooked_over = \"surveyed\"\n", job());
    let line = text.lines().count();
    std::fs::write(folder.join("job.toml"), &text).unwrap();
    let out = said(&folder, &readings(2.5, &[], 0.06), &[]);
    assert!(out.contains(&format!("job.toml, line {line}, column")), "{out}");
    assert!(out.contains("names no survey") && out.contains("looked_over = \"found\""), "{out}");
    std::fs::write(folder.join("job.toml"), text.replace("surveyed", "found")).unwrap();
    assert!(said(&folder, &readings(2.5, &[], 0.06), &[]).contains("readings"));
}

/// The survey that is offered is the one that `survey` has done.
#[test]
fn the_survey_that_is_offered_is_that_of_the_command() {
    let folder = folder("offer");
    let out = said(&folder, &readings(2.5, &[], 0.06), &["--u-shared-mm", "0.02"]);
    let (_, places) =
        out.split_once("above the top edge, in mm: ").unwrap_or_else(|| panic!("{out}"));
    let offered: Vec<&str> = places.split_once('.').unwrap().0.split("; ").collect();
    assert!(
        out.contains(&format!("urvey {} places", offered.len()))
            || out.contains(&format!("urvey of {} places", offered.len())),
        "{out}"
    );
    assert!(out.contains(&format!("--next {} --points", offered.len())), "{out}");
    let command = Command::new(env!("CARGO_BIN_EXE_skimgauge"))
        .current_dir(&folder)
        .args(["survey", "--job", "job.toml", "--json"])
        .output()
        .unwrap();
    let told: serde_json::Value = serde_json::from_slice(&command.stdout).unwrap();
    let first = told["proposed"].as_array().unwrap();
    assert!(offered.len() >= first.len());
    for (offered, point) in offered.iter().zip(first) {
        let place = |of: &str| point[of].as_f64().unwrap().round();
        assert_eq!(*offered, format!("{}, {}", place("x_mm"), place("y_mm")));
    }
}
