//! What `trim --from` promises, and what it does not.

use super::{STATIONS, flowing, folder, job, solid_folder, trim_of};
use serde_json::Value;
use std::fmt::Write as _;
use std::path::Path;

/// Where the practice job's adjusters stand, mm, and what one turn does there.
const SCREWS: [(&str, f64, f64); 3] =
    [("left", -100.0, 80.0), ("right", 100.0, 80.0), ("upper", 0.0, 140.0)];
const PITCH_MM: f64 = 0.5;
/// Its band, mm.
const BAND: (f64, f64) = (1.0, 4.0);

/// A table of readings: gap and its uncertainty at each station, mm.
fn table(of: impl Fn(&str, f64, f64) -> (f64, f64)) -> String {
    let mut rows = String::from("station,x_mm,y_mm,gap_mm,u_mm\n");
    for (name, x, y) in STATIONS {
        let (gap, u) = of(name, x, y);
        writeln!(rows, "{name},{x},{y},{gap:.3},{u}").unwrap();
    }
    rows
}

/// Status and output of a trim of these readings, with these rounds before if there are any.
fn trim(folder: &Path, readings: &str, rounds: Option<&str>, more: &[&str]) -> (i32, String) {
    std::fs::write(folder.join("readings.csv"), readings).unwrap();
    let mut command = trim_of(folder, "readings.csv");
    if let Some(rounds) = rounds {
        std::fs::write(folder.join("rounds.csv"), rounds).unwrap();
        command.args(["--rounds", "rounds.csv"]);
    }
    let output = command.args(more).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    (output.status.code().unwrap(), flowing(&text))
}

fn json(folder: &Path, readings: &str, rounds: Option<&str>) -> Value {
    serde_json::from_str(&trim(folder, readings, rounds, &["--json"]).1).unwrap()
}

/// What one turn of each adjuster does to the gap at a place, mm: by areas of triangles.
fn effects(x: f64, y: f64) -> [f64; 3] {
    let at = SCREWS.map(|(_, x, y)| (x, y));
    let area = |a: (f64, f64), b: (f64, f64), c: (f64, f64)| {
        (b.0 - a.0) * (c.1 - a.1) - (c.0 - a.0) * (b.1 - a.1)
    };
    let (whole, here) = (area(at[0], at[1], at[2]), (x, y));
    [area(here, at[1], at[2]), area(at[0], here, at[2]), area(at[0], at[1], here)]
        .map(|part| part / whole * PITCH_MM)
}

/// Turns as a person reads them in the table: `1 left clockwise ↻ 0.64 five eighths …`.
fn told(text: &str) -> [f64; 3] {
    SCREWS
        .map(|(name, ..)| {
            ["clockwise ↻", "anticlockwise ↺"].into_iter().find_map(|sense| {
                let from = text.find(&format!("{name} {sense} "))? + name.len() + sense.len() + 2;
                let turns: f64 = text[from..].split(' ').next()?.parse().ok()?;
                Some(if sense.starts_with('a') { -turns } else { turns })
            })
        })
        .map(|turns| turns.unwrap_or(0.0))
}

/// The numbers after `leave the worst place`: low, high, and that if all is as read.
fn promised(text: &str) -> [f64; 3] {
    let (_, said) = text.split_once("leave the worst place ").expect(text);
    let numbers: Vec<f64> = said
        .split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .filter(|word| word.contains('.'))
        .filter_map(|word| word.trim_end_matches('.').parse().ok())
        .collect();
    let low = if said.starts_with("between") { -numbers[0] } else { numbers[0] };
    [low, numbers[1], numbers[2]]
}

/// The turns that the text tells, made on the gaps that it was told: what it promises, and no more.
#[test]
fn the_turns_told_come_to_what_is_promised() {
    let folder = folder("told");
    for (c, p, q) in [(3.4, 0.5, -1.8), (2.9, -0.8, -0.9), (5.0, 0.2, 1.1), (1.6, 0.6, -0.4)] {
        let gap = |x: f64, y: f64| c + (p * x + q * y) / 1000.0;
        let readings = table(|_, x, y| (gap(x, y), 0.06));
        let (_, text) = trim(&folder, &readings, None, &["--flat"]);
        let (n, [low, high, as_read]) = (told(&text), promised(&text));
        let inside = |gap: f64| (gap - BAND.0).min(BAND.1 - gap);
        let come_to = STATIONS.iter().map(|(_, x, y)| {
            let moved: f64 = effects(*x, *y).iter().zip(n).map(|(effect, n)| effect * n).sum();
            inside(gap(*x, *y) + moved)
        });
        let come_to = come_to.fold(f64::INFINITY, f64::min);
        assert!((0.0..0.0101).contains(&(come_to - as_read)), "{come_to}: {text}");
        assert!(low < as_read && as_read < high, "{text}");
        // Near the middle of the band, which the head sees: one turn may be worth more than three.
        assert!(as_read > 1.2, "{text}");
    }
}

/// Known to four millimetres a reading says nothing of the board, here or beside it.
#[test]
fn a_reading_that_may_be_anything_decides_nothing() {
    let folder = folder("unsure");
    for (gap_mm, u_mm) in [(6.0, 4.0), (9.0, 4.0), (6.0, 2.0)] {
        let readings =
            table(|name, _, _| if name == "bottom right" { (gap_mm, u_mm) } else { (2.5, 0.06) });
        for more in [&[][..], &["--flat"]] {
            let (status, text) = trim(&folder, &readings, None, more);
            assert_eq!(status, 3, "{text}");
            assert!(!text.contains('✕') && text.contains("◐ too close to call"), "{text}");
            assert!(!text.contains("NO setting"), "{text}");
        }
    }
    // Sure to be out, it is out, however unsure by how much.
    let readings =
        table(|name, _, _| if name == "bottom right" { (16.0, 4.0) } else { (2.5, 0.06) });
    assert_eq!(trim(&folder, &readings, None, &[]).0, 1);
}

/// A first round parallel to the board, 2.5 mm too high, and its turns.
fn rounds(turns: f64, noticed: &str, beside: &str) -> String {
    let mut rows = String::from("round,station,gap_mm,adjuster,turns,noticed\n");
    for (name, ..) in STATIONS {
        writeln!(rows, "1,{name},5.0,,,").unwrap();
    }
    rows += beside;
    for (name, ..) in SCREWS {
        writeln!(rows, "1,,,{name},{turns},{noticed}").unwrap();
    }
    rows
}

#[test]
fn rounds_that_contradict_the_readings_promise_nothing_and_are_named() {
    let folder = solid_folder("rounds");
    let readings = table(|_, _, _| (2.5, 0.06));
    let (status, text) = trim(&folder, &readings, Some(&rounds(-5.0, "", "")), &[]);
    assert_eq!(status, 0, "{text}");
    // Turned once, it cannot have come down by five turns; the other way round neither.
    for (turns, makes) in [(-1.0, "4.50"), (1.0, "5.50")] {
        let before = rounds(turns, "", "");
        let (status, text) = trim(&folder, &readings, Some(&before), &[]);
        assert_eq!(status, 3, "{text}");
        for said in
            ["of readings.csv: ", "the turns of round 1 (lines 10, 11 and 12 of rounds.csv)"]
        {
            assert!(text.contains(said), "{said}: {text}");
        }
        assert!(text.contains(&format!("make it {makes}")), "{text}");
        for promise in ["●", "leave the worst place", "Nothing to turn", "within over"] {
            assert!(!text.contains(promise), "{promise}: {text}");
        }
        let told = json(&folder, &readings, Some(&before));
        let [contradiction] = &told["contradictions"].as_array().unwrap()[..] else {
            panic!("{told}")
        };
        assert!(contradiction["station"].is_string(), "{told}");
        assert_eq!((told["verdict"].as_str(), &told["promise"]), (Some("unsure"), &Value::Null));
        assert_eq!(told["turns"].as_array().map(Vec::len), Some(0));
        assert!(told["places"].as_array().unwrap().iter().all(|p| p["verdict"] == "unsure"));
    }
    // What is out is out, whatever was done before.
    let high = table(|_, _, _| (7.5, 0.06));
    let (status, text) = trim(&folder, &high, Some(&rounds(-1.0, "", "")), &[]);
    assert_eq!(status, 1, "{text}");
    assert!(!text.contains("leave the worst place") && !text.contains("Turn in"), "{text}");
    // That something moved was seen then, and is written beside the turn.
    let (status, text) = trim(&folder, &readings, Some(&rounds(-1.0, "moved", "")), &[]);
    assert_eq!(status, 0, "{text}");
}

#[test]
fn a_station_read_twice_far_apart_is_named_with_round_and_lines() {
    let folder = solid_folder("twice");
    let readings = table(|_, _, _| (2.5, 0.06));
    let before = rounds(-5.0, "", "1,top,6.4,,,\n");
    let (status, text) = trim(&folder, &readings, Some(&before), &[]);
    assert_eq!(status, 3, "{text}");
    let said =
        "lines 3 and 10 of rounds.csv, round 1: top is read 5.00 mm and 6.40 mm, 1.40 mm apart";
    assert!(text.contains(said) && !text.contains("within over"), "{text}");
    // In the readings themselves, so unsure that all of them still agree with one plane.
    let twice = format!("{}top,0,0,3.9,0.3\n", table(|_, _, _| (2.5, 0.3)));
    for more in [&[][..], &["--flat"]] {
        let (status, text) = trim(&folder, &twice, None, more);
        assert_eq!(status, 3, "{text}");
        assert!(text.contains("lines 3 and 10 of readings.csv: top is read"), "{text}");
        assert!(!text.contains('●') && !text.contains("leave the worst"), "{text}");
    }
    // Twice and the same is none of that.
    let same = format!("{readings}top,0,0,2.53,0.06\n");
    assert_eq!(trim(&folder, &same, None, &[]).0, 0);
}

/// Turns by count and by reading that do not go together, of one turn.
#[test]
fn a_turn_whose_count_and_readings_do_not_go_together_is_named() {
    let folder = folder("turn");
    let readings = table(|_, _, _| (5.5, 0.06));
    // A whole turn, and the gap where it is watched stays as it was.
    let before = |noticed: &str| {
        let mut rows =
            String::from("round,station,gap_mm,adjuster,turns,before_mm,after_mm,noticed\n");
        for (name, ..) in STATIONS {
            writeln!(rows, "1,{name},5.5,,,,,").unwrap();
        }
        writeln!(rows, "1,left,,left,-1,5.5,5.5,{noticed}").unwrap();
        rows
    };
    let (_, text) = trim(&folder, &readings, Some(&before("")), &[]);
    let said = "line 10 of rounds.csv, round 1: its turns and its readings do not go together: the left adjuster slips";
    assert!(text.contains(said) && !text.contains("leave the worst place"), "{text}");
    let (_, text) = trim(&folder, &readings, Some(&before("slips")), &[]);
    assert!(!text.contains("CONTRADICT") && text.contains("leave the worst place"), "{text}");
}

/// What would settle the verdict once it is turned is offered before it is turned.
#[test]
fn places_to_survey_are_told_where_that_changes_the_verdict() {
    let folder = folder("survey-offered");
    let job = job().replace("[\"1.0 mm\", \"4.0 mm\"]", "[\"1.6 mm\", \"3.4 mm\"]");
    assert!(job.contains("3.4 mm"));
    std::fs::write(folder.join("job.toml"), job).unwrap();
    let readings = table(|_, x, y| (4.5 + 0.0004 * x - 0.0006 * y, 0.03));
    let (status, text) = trim(&folder, &readings, None, &[]);
    assert_eq!(status, 1, "{text}");
    let (before, after) = text.split_once("Places, right of the middle").expect(&text);
    assert!(before.contains("before you turn") && before.contains("skimgauge survey"), "{text}");
    let (_, inches) = trim(&folder, &readings, None, &["--units", "inch"]);
    let (_, inches) = inches.split_once("above the top edge, in inches: ").expect(&inches);
    let listed = inches.split('.').next().unwrap();
    assert!(listed.contains('/') && listed.contains("; "), "{listed}");
    let told = json(&folder, &readings, None);
    let places = told["survey"].as_array().unwrap();
    assert!(!places.is_empty() && after.contains("in mm: "), "{told}");
}
