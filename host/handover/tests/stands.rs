//! What stands on the page, and what does not: steps left out, a load on bad anchors, what is signed,
//! the rule of each verdict.

mod common;

use common::{made, section, shown, text};
use serde_json::{Value, json};
use skimgauge_record::Body;
use skimgauge_record::event::{Judged, Phase, Verdict};
use skimgauge_record::section::Section;

/// Fixings as of the first version, with these changes.
fn fixings(change: impl FnOnce(&mut Value)) -> Section {
    let mut data = made::sections().remove("fixings").unwrap();
    data["proof_loads"] = json!([]);
    for plate in data["plates"].as_array_mut().unwrap() {
        plate["judged"] = json!("within-allowed");
        plate["used_percent"] = json!(16.0);
    }
    change(&mut data);
    common::read(json!({"section": "fixings", "data_version": 1, "data": data}))
}

#[test]
fn what_was_left_out_is_an_open_point_with_its_reason() {
    let mut bench = common::few();
    bench.close(&["steps left out: survey"]);
    let page = shown(&bench.history());
    let open = text(section(&page, "open-points"));
    assert!(open.contains("The board's own shape: left out, the board is new and flat."), "{open}");
    assert!(!open.contains("teps left out: survey"), "told once: {open}");
}

#[test]
fn a_load_on_anchors_that_are_not_proved_stands_above_everything() {
    let mut bench = common::empty();
    bench.append(fixings(|_| {}));
    bench.append(made::step("hanging", None));
    assert!(!shown(&bench.history()).contains("DANGER"));
    bench.append(fixings(|data| {
        data["proof_loads"] = json!([
            {"anchor": "A", "load_n": 600.0, "held_s": 60.0, "slip_mm": 4.0, "found": "slipped"},
        ]);
        data["plates"][0]["judged"] = json!("beyond-allowed");
    }));
    let page = shown(&bench.history());
    let danger = page.find("DANGER: a load hangs on anchors that are not proved").unwrap();
    assert!(danger < page.find("class=\"lead").unwrap());
    // Its anchors carry a sixth of what they may: that they slipped is what is wrong.
    assert!(page.contains("not to be used: an anchor slipped under its proof load"));
    assert!(!page.contains("beyond the values entered"), "{page}");
    let crowded = |data: &mut Value| data["plates"][0]["judged"] = json!("beyond-allowed");
    bench.append(fixings(crowded));
    assert!(shown(&bench.history()).contains("their conditions are not kept"));
    bench.append(fixings(|data| {
        crowded(data);
        data["plates"][0]["used_percent"] = json!(158.0);
    }));
    assert!(shown(&bench.history()).contains("beyond the values entered"));
}

/// What was hung in a job that was closed with its fixings left out: that is said, and not that
/// anything came after the close.
#[test]
fn a_closed_job_without_its_fixings_is_warned_of_as_it_was_closed() {
    let mut bench = common::empty();
    bench.append(made::step("fixings", Some("no time")));
    bench.append(made::step("hanging", None));
    bench.close(&[]);
    let page = shown(&bench.history());
    assert!(
        page.contains("WARNING: when this load was hung, its fixings had been left out (no time)")
    );
    assert!(!page.contains("DANGER"), "{page}");
    assert!(!text(section(&page, "steps")).contains("not proved"), "{page}");
}

/// A station that was too close to call by its one take, and is within by the verdict on all of
/// them.
#[test]
fn a_station_stands_as_the_verdict_that_stands_has_it() {
    let judged_by = |verdict, points: Value| {
        let mut bench = common::Bench::new("one verdict", skimgauge_jobfile::demo_job());
        common::take_as_left(&mut bench, Some(Verdict::Unsure));
        let detail = common::read(json!({ "points": points }));
        bench.append(Judged { detail, ..made::judged(verdict) });
        shown(&bench.history())
    };
    for (verdict, points, told) in [
        (Verdict::Within, json!([]), ["within"; 4]),
        (
            Verdict::Outside,
            json!([{"x_mm": -950.0, "y_mm": 0.0, "gap_mm": 4.9, "u_mm": 0.1, "expanded_mm": 0.2, "verdict": "outside"}]),
            ["outside", "too close to call", "too close to call", "too close to call"],
        ),
    ] {
        let page = judged_by(verdict, points);
        for part in ["gaps", "takes"] {
            let part = section(&page, part);
            let words: Vec<String> = part
                .split("class=\"mark\"")
                .skip(1)
                .map(|after| {
                    text(&after[after.find("</svg>").unwrap() + 6..after.find("</td>").unwrap()])
                })
                .collect();
            assert_eq!(words, told, "{part}");
        }
    }
}

#[test]
fn the_installer_signs_a_measurement_only_where_there_is_one() {
    let signs = |page: &str| text(section(page, "sign"));
    let (measured, done) = ("Measured and set as described here.", "Done as described here; what");
    assert!(signs(&shown(&common::library_read())).contains(measured));
    assert!(signs(&shown(&common::few().history())).contains(done));
    let mut practised = common::library_read();
    for event in &mut practised.events {
        let head = match &mut event.body {
            Body::CalibrationUsed(used) => &mut used.head,
            Body::Take(take) => &mut take.head,
            Body::EmitterTilt(tilt) => &mut tilt.head,
            Body::EmitterOff(off) => &mut off.head,
            Body::Calibrated(found) => &mut found.head,
            Body::ZeroChecked(checked) => &mut checked.head,
            _ => continue,
        };
        head.serial = "SIM-0007".to_owned();
    }
    assert!(signs(&shown(&practised)).contains(done), "practice");
}

#[test]
fn each_verdict_has_its_own_rule() {
    let mut history = common::library_read();
    for event in &mut history.events {
        if let Body::Judged(judged) = &mut event.body {
            judged.decision_rule = match judged.phase {
                Phase::AsFound => "nobody has run a straightedge over the board".to_owned(),
                _ => "a straightedge was run over the board".to_owned(),
            };
        }
    }
    let verdicts = text(section(&shown(&history), "verdicts"));
    let stands = verdicts.find("with the verdict: A straightedge was run over the board.").unwrap();
    let heading = verdicts.find("The rule of the verdict as found").unwrap();
    let then = verdicts.find("recorded then: Nobody has run a straightedge").unwrap();
    assert!(stands < heading && heading < then, "{verdicts}");
}

/// Over a surveyed board the plane is counted from the survey's heights: beside a gap it reads like one
/// and is none. What the takes leave over is no uncertainty, and theirs stands beside it.
#[test]
fn the_plane_is_told_of_a_flat_board_alone_and_each_take_with_its_own_uncertainty() {
    let mut history = common::library_read();
    let page = shown(&history);
    let agreement = text(section(&page, "agreement"));
    assert!(agreement.contains("over a flat board"), "{agreement}");
    assert!(agreement.contains("own standard uncertainty: 0.0"), "{agreement}");
    for event in &mut history.events {
        if let Body::Judged(judged) = &mut event.body {
            judged.survey_sha256 = Some(event.hash);
        }
    }
    let page = shown(&history);
    let agreement = text(section(&page, "agreement"));
    assert!(!agreement.contains("over a flat board"), "{agreement}");
    assert!(!agreement.contains("Slope"), "{agreement}");
}
