//! What is said of a table of readings, and what it is refused for.

use super::{STATIONS, flowing, folder, solid_folder, trim_of};
use serde_json::Value;
use std::io::Write;
use std::path::Path;
use std::process::Stdio;

const READINGS: &str = "station,x_mm,y_mm,gap_mm,u_mm
top left,-1012.3,0,3.10,0.06
top,0,0,3.42,0.06
top right,1012.3,0,3.95,0.06
right,1012.3,-632.7,5.10,0.06
bottom right,1012.3,-1265.4,6.35,0.06
bottom,0,-1265.4,5.70,0.06
bottom left,-1012.3,-1265.4,5.25,0.06
left,-1012.3,-632.7,4.10,0.06
";

/// Status, standard output and standard error of a trim of these readings.
fn trim(folder: &Path, readings: &str, more: &[&str]) -> (i32, String, String) {
    let mut child = trim_of(folder, "-")
        .args(more)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A command that refuses its flags does not read on.
    let _ = child.stdin.take().unwrap().write_all(readings.as_bytes());
    let output = child.wait_with_output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn text_says_plane_verdict_and_turns() {
    let (status, out, _) = trim(&folder("text"), READINGS, &[]);
    assert_eq!(status, 1, "{out}");
    let out = flowing(&out);
    for part in [
        "from top to bottom it comes",
        "farther off",
        "bottom right corner",
        "✕ outside",
        "↺",
        "until it reads",
        "never past",
    ] {
        assert!(out.contains(part), "{part}: {out}");
    }
}

/// What somebody named is shown as it is: only what was measured is in inches.
#[test]
fn a_station_named_after_a_length_keeps_its_name_in_inches() {
    let named = READINGS.replace("\nbottom right,", "\nshelf at 100 mm,");
    let contradicting =
        named.replace("shelf at 100 mm,1012.3,-1265.4,6.35", "shelf at 100 mm,1012.3,-1265.4,8.35");
    for (readings, times) in [(named, 1), (contradicting, 2)] {
        let (_, out, err) = trim(&solid_folder("named"), &readings, &["--units", "inch"]);
        assert!(out.matches("shelf at 100 mm").count() >= times, "{out}{err}");
        assert!(!out.contains("3 15/16") && !out.replace("100 mm", "").contains(" mm"), "{out}");
    }
}

#[test]
fn json_has_what_is_documented_and_the_plane_that_was_put_in() {
    let plane = |x: f64, y: f64| 3.0 + 0.0005 * x - 0.0015 * y;
    let mut readings = String::from("station,x_mm,y_mm,gap_mm,u_mm\n");
    for (at, (x, y)) in [(-1000.0, 0.0), (1000.0, 0.0), (-1000.0, -1200.0), (1000.0, -1200.0)]
        .into_iter()
        .enumerate()
    {
        readings += &format!("place {at},{x},{y},{},0.05\n", plane(x, y));
    }
    let (status, out, _) = trim(&folder("json"), &readings, &["--json", "--flat"]);
    let told: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        (status, told["verdict"].as_str(), told["schema"].as_u64()),
        (1, Some("outside"), Some(2))
    );
    for (field, value) in [("c_mm", 3.0), ("p_mm_per_m", 0.5), ("q_mm_per_m", -1.5)] {
        assert!((told["plane"][field].as_f64().unwrap() - value).abs() < 1e-9, "{field}");
    }
    // Weighted least squares of four readings in a rectangle: the slope across is known to u / (2 *
    // 1 m).
    assert!(
        (told["plane"]["covariance"][1][1].as_f64().unwrap() - (0.05f64 / 2.0).powi(2)).abs()
            < 1e-9
    );
    assert_eq!(told["dof"].as_u64(), Some(1));
    assert!(told["feasible"].as_bool().unwrap() && told["margin_mm"].as_f64().unwrap() > 1.4);
    for turn in told["turns"].as_array().unwrap() {
        assert!(turn["at_station"].as_str().is_none_or(|at| at.starts_with("place ")), "{turn}");
        assert!(["clockwise", "anticlockwise"].contains(&turn["sense"].as_str().unwrap()));
        let dial = turn["dial_to_mm"].as_f64();
        assert!(dial.is_none_or(|dial| (0.3..11.0).contains(&dial)), "{turn}");
    }
}

/// A table of gaps says nothing of level and lean: where the job judges them, it is not within.
#[test]
fn what_the_readings_say_nothing_of_is_named_and_never_within() {
    let folder = folder("not-judged");
    let within = "station,x_mm,y_mm,gap_mm,u_mm\na,-1012,0,2.5,0.05\nb,1012,0,2.5,0.05\nc,-1012,-1265,2.4,0.05\nd,1012,-1265,2.5,0.05\n";
    let json: Value =
        serde_json::from_str(&trim(&folder, within, &["--flat", "--json"]).1).unwrap();
    assert_eq!((&json["verdict"], &json["not_judged"]), (&"within".into(), &Value::Array(vec![])));
    std::fs::write(folder.join("job.toml"), skimgauge_jobfile::demo_job()).unwrap();
    let (status, out, _) = trim(&folder, within, &["--flat"]);
    assert!(status == 3 && out.contains("the job judges level and lean too"), "{out}");
    assert!(!out.contains("● within at the"), "{out}");
    let json: Value =
        serde_json::from_str(&trim(&folder, within, &["--flat", "--json"]).1).unwrap();
    assert_eq!(json["verdict"], "unsure");
    assert_eq!(json["not_judged"], serde_json::json!(["level", "lean"]));
}

#[test]
fn status_tells_the_verdict() {
    let folder = folder("status");
    let within = "station,x_mm,y_mm,gap_mm,u_mm\na,-1012,0,2.5,0.05\nb,1012,0,2.5,0.05\nc,-1012,-1265,2.4,0.05\nd,1012,-1265,2.5,0.05\n";
    assert_eq!(trim(&folder, within, &["--flat"]).0, 0);
    assert_eq!(
        trim(&folder, &within.replace("2.4,", "3.95,").replace("2.5,", "3.95,"), &["--flat"]).0,
        3
    );
    assert_eq!(
        trim(&folder, &within.replace("2.4,", "9.0,").replace("2.5,", "9.0,"), &["--flat"]).0,
        1
    );
}

#[test]
fn three_takes_do_and_fewer_are_refused_with_what_is_missing() {
    let folder = folder("three");
    let lines: Vec<&str> = READINGS.lines().collect();
    let three = format!("{}\n{}\n{}\n{}\n", lines[0], lines[1], lines[3], lines[6]);
    let (status, out, _) = trim(&folder, &three, &[]);
    assert_eq!(status, 1);
    assert!(out.contains("would not show") && out.contains("take one more station"), "{out}");
    let (status, _, err) =
        trim(&folder, &format!("{}\n{}\n{}\n", lines[0], lines[1], lines[3]), &[]);
    assert_eq!(status, 2);
    assert!(err.contains("the plane needs 3"), "{err}");
    let line = "station,x_mm,y_mm,gap_mm\na,-900,0,3\nb,0,0,3\nc,900,0,3\n";
    assert!(trim(&folder, line, &[]).2.contains("in a line"));
}

#[test]
fn a_survey_that_no_setting_can_follow_is_told_with_its_places() {
    let folder = folder("survey");
    let mut survey = String::from("x_mm,y_mm,z_mm\n");
    let mut readings = String::from("station,x_mm,y_mm,gap_mm,u_mm\n");
    for x in [-1012.0, 0.0, 1012.0] {
        for y in [0.0, -632.0, -1265.0] {
            let z = 4.0 * (1.0 - (x / 1012.0f64).powi(2));
            survey += &format!("{x},{y},{z}\n");
            readings += &format!(",{x},{y},{},0.05\n", 6.0 - z);
        }
    }
    std::fs::write(folder.join("survey.csv"), survey).unwrap();
    let (status, out, err) = trim(&folder, &readings, &["--survey", "survey.csv"]);
    assert_eq!(status, 1, "{err}");
    let text = flowing(&out);
    assert!(
        text.contains("NO setting of the adjusters passes: the best still leaves 0.5"),
        "{text}"
    );
    assert!(text.contains("Nearest to the board: middle of"), "{text}");
}

#[test]
fn a_table_from_a_spreadsheet_gives_the_same_answer() {
    let folder = folder("spreadsheet");
    let plain = trim(&folder, READINGS, &["--json"]);
    let european = READINGS
        .replace(',', ";")
        .replace('.', ",")
        .replace("-1012", "\u{2212}1012")
        .replace('\n', ";;\r\n");
    assert_eq!(trim(&folder, &format!("\u{feff}{european};;;;;;\r\n"), &["--json"]), plain);
}

#[test]
fn faults_are_told_with_file_and_line() {
    let folder = folder("faults");
    for (from, to, says) in [
        ("3.42", "NaN", "line 3: gap_mm is NaN"),
        ("5.70,0.06", "5.70,0", "line 7: u_mm is 0"),
        ("gap_mm", "gap_in", "line 1: column \"gap_in\" should be \"gap_mm\""),
        ("6.35", "inf", "line 6: gap_mm is inf"),
        ("left,-1012.3,-632.7", "top,-1012.3,-632.7", "line 9: station top is"),
    ] {
        let readings = if from.starts_with("left,") {
            READINGS.replacen("\nleft,-1012.3,-632.7", "\ntop,-1012.3,-632.7", 1)
        } else {
            READINGS.replacen(from, to, 1)
        };
        let (status, out, err) = trim(&folder, &readings, &[]);
        assert_eq!((status, out.as_str()), (2, ""), "{err}");
        assert!(err.contains(says), "{says}: {err}");
    }
    for (from, to, says) in [
        (
            "top,0,0,3.42",
            "tpo,0,0,3.42",
            "line 3: station \"tpo\" is not in the job, which has \"top\"; did you mean \"top\"?",
        ),
        (
            "right,1012.3,-632.7",
            "right,1012.3,632.7",
            "line 5: x 1012.3, y 632.7 lies 633 mm off the image; y counts up",
        ),
        (
            "3.42",
            "0.135",
            "line 3: gap_mm is 0.135, and the head reads 0.4 to 16.6 mm; if it is in inches, enter 3.43",
        ),
    ] {
        let (status, out, err) = trim(&folder, &READINGS.replacen(from, to, 1), &[]);
        assert_eq!((status, out.as_str()), (2, ""), "{err}");
        assert!(err.contains(says), "{says}: {err}");
    }
    let (status, _, err) = trim(&folder, READINGS, &["--u-mm", "0"]);
    assert!(status == 2 && err.contains("--u-mm is 0"), "{err}");
}

/// Eight stations in one plane, one of them read 0.9 mm too high.
fn contradictory(misread: &str, by_mm: f64) -> String {
    let mut readings = String::from("station,x_mm,y_mm,gap_mm,u_mm\n");
    for (name, x, y) in STATIONS {
        let off_mm = if name == misread { by_mm } else { 0.0 };
        readings += &format!("{name},{x},{y},{:.2},0.06\n", 2.5 + 0.0002 * x - 0.0003 * y + off_mm);
    }
    readings
}

#[test]
fn readings_that_contradict_one_another_promise_nothing() {
    let folder = folder("contradict");
    // In band and far out of it: neither is a verdict before it was read again.
    for (misread, by_mm) in [("top left", 0.9), ("bottom right", 7.0)] {
        let readings = contradictory(misread, by_mm);
        let (status, out, _) = trim(&folder, &readings, &[]);
        let text = flowing(&out);
        assert_eq!(status, 3, "{out}");
        assert!(
            text.contains("CONTRADICT") && text.contains(&format!("read {misread} again")),
            "{out}"
        );
        assert!(text.contains("than the others say"), "{out}");
        for promise in [
            "within",
            "outside",
            "Then every point",
            "until it reads",
            "clockwise",
            "Nothing to turn",
            "setting of",
        ] {
            let said = text.replace("no verdict of within", "");
            assert!(!said.contains(promise), "{promise}: {out}");
        }
        let (status, out, _) = trim(&folder, &readings, &["--json", "--smallest-turn", "0.03"]);
        let told: Value = serde_json::from_str(&out).unwrap();
        assert_eq!(
            (status, told["verdict"].as_str(), told["feasibility"].as_str()),
            (3, Some("unsure"), Some("unsure"))
        );
        assert_eq!(told["consistency"]["odd"]["suspects"][0]["name"], misread, "{out}");
        assert_eq!(
            (told["feasible"].as_bool(), told["turns"].as_array().map(Vec::len)),
            (Some(false), Some(0))
        );
        for none in ["margin_mm", "margin_u_mm", "by_hand", "least_gap_mm", "limiting_point"] {
            assert!(told[none].is_null(), "{none}: {out}");
        }
        for judged in
            told["points"].as_array().unwrap().iter().chain(told["places"].as_array().unwrap())
        {
            assert_eq!(judged["verdict"], "unsure", "{out}");
        }
        // Read again and the same: it is the board, and what is out is out.
        let line = readings.lines().find(|line| line.starts_with(misread)).unwrap();
        let again = format!("{readings}{}\n", line.replacen("0.06", "0.061", 1));
        let (status, out, _) = trim(&folder, &again, &[]);
        let text = flowing(&out);
        assert!(
            text.contains("the board is not what was assumed") && text.contains("skimgauge survey"),
            "{out}"
        );
        assert!(!text.contains("until it reads") && !text.contains("Then every point"), "{out}");
        assert_eq!(status, if by_mm > 1.0 { 1 } else { 3 }, "{out}");
        // Read again and right: the two differ, and it is not said that the board is wrong.
        let right = contradictory("", 0.0)
            .lines()
            .find(|line| line.starts_with(misread))
            .unwrap()
            .to_owned();
        let (_, out, _) = trim(&folder, &format!("{readings}{right}\n"), &[]);
        let text = flowing(&out);
        assert!(
            !text.contains("not what was assumed") && text.contains("its own readings differ"),
            "{out}"
        );
    }
}

#[test]
fn within_names_the_places_read_until_the_board_is_surveyed() {
    let folder = solid_folder("places");
    // In the middle of the band: an edge that nobody looked along may stray by half of what is left.
    let parallel = |line: &str| match line.rsplitn(3, ',').collect::<Vec<_>>()[..] {
        [u, "gap_mm", place] => format!("{place},gap_mm,{u}\n"),
        [u, _, place] => format!("{place},2.50,{u}\n"),
        _ => line.to_owned(),
    };
    let readings: String = contradictory("", 0.0).lines().map(parallel).collect();
    for flat in [&[][..], &["--flat"]] {
        let (status, out, _) = trim(&folder, &readings, flat);
        assert_eq!(status, 0, "{out}");
        assert!(
            flowing(&out).contains("● within at the 8 places read; between them it is reckoned"),
            "{out}"
        );
        let (_, out, _) = trim(&folder, &readings, &[flat, &["--json"]].concat());
        let told: Value = serde_json::from_str(&out).unwrap();
        let names: Vec<&str> =
            told["judged_at"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
        assert_eq!((names.len(), names[0], told["checked"].as_bool()), (8, "top left", Some(true)));
    }
    let mut survey = String::from("x_mm,y_mm,z_mm\n");
    for x in [-1012.0, 0.0, 1012.0] {
        for y in [0.0, -632.0, -1265.0] {
            survey += &format!("{x},{y},0\n");
        }
    }
    std::fs::write(folder.join("survey.csv"), survey).unwrap();
    let (status, out, _) = trim(&folder, &readings, &["--survey", "survey.csv"]);
    assert_eq!(status, 0, "{out}");
    assert!(flowing(&out).contains("within over the whole board as surveyed"), "{out}");
    let (_, out, _) = trim(&folder, &readings, &["--survey", "survey.csv", "--json"]);
    assert_eq!(serde_json::from_str::<Value>(&out).unwrap()["judged_at"], "board");
}

#[test]
fn three_readings_are_never_within_and_the_fourth_that_would_settle_it_is_named() {
    let folder = folder("three-within");
    let three = "station,x_mm,y_mm,gap_mm,u_mm\ntop left,-1012.3,0,2.5,0.05\ntop right,1012.3,0,2.5,0.05\nbottom,0,-1265.4,2.5,0.05\n";
    let rows: String =
        three.lines().skip(1).map(|line| format!("{}\n", line.replace("0.05", "0.051"))).collect();
    for readings in [three.to_owned(), format!("{three}{rows}")] {
        let (status, out, _) = trim(&folder, &readings, &["--flat"]);
        assert_eq!(status, 3, "{out}");
        let text = flowing(&out);
        assert!(text.contains("take one more station, bottom right for one"), "{out}");
        assert!(!text.contains("Then every point") && !text.contains("What limits it"), "{out}");
        let told: Value =
            serde_json::from_str(&trim(&folder, &readings, &["--flat", "--json"]).1).unwrap();
        assert_eq!(
            (&told["checked"], &told["one_more"]),
            (&Value::from(false), &Value::from("bottom right"))
        );
        assert_eq!(told["remedy"]["by"], "one-more-station");
    }
    let four = format!("{three}bottom right,1012.3,-1265.4,2.5,0.05\n");
    let (status, out, _) = trim(&folder, &four, &["--flat"]);
    assert_eq!(status, 0, "{out}");
    // Three in a line and one beside it: that one decides the lean alone.
    let line = format!("{three}top,0,0,2.5,0.05\n");
    let (status, out, _) = trim(&folder, &line, &["--flat"]);
    assert_eq!(status, 3, "{out}");
    assert!(flowing(&out).contains("A wrong reading at bottom would not show"), "{out}");
}

/// A digit too many in one line of a survey, and a survey in metres, are no board: nothing is judged or
/// turned by either.
#[test]
fn a_survey_that_no_board_has_is_refused_with_its_point() {
    let folder = folder("slip");
    let points = |slip: &str, unit: f64| {
        let rows = (0..35).map(|k| {
            let (x, y) = (f64::from(k % 7) * 320.0 - 960.0, f64::from(k / 7) * -300.0 - 30.0);
            format!("{},{},{}\n", x * unit, y * unit, 0.2 * (x / 500.0).sin() * unit)
        });
        format!("x_mm,y_mm,z_mm\n{}{slip}", rows.collect::<String>())
    };
    let path = folder.join("survey.csv");
    let survey = path.to_str().unwrap().to_owned();
    let said = |text: String| {
        std::fs::write(&path, text).unwrap();
        trim(&folder, READINGS, &["--survey", &survey])
    };
    assert_eq!(said(points("", 1.0)).0, 1);
    let (status, out, err) = said(points("100,-600,11.0\n", 1.0));
    let err = flowing(&err);
    assert_eq!((status, out.as_str()), (2, ""), "{err}");
    assert!(err.contains("survey.csv") && err.contains("x 100, y -600 has z 11"), "{err}");
    assert!(err.contains("Measure it again"), "{err}");
    let (status, _, err) = said(points("", 0.001));
    assert!(status == 2 && flowing(&err).contains("are these metres?"), "{err}");
}
