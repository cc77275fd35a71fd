//! What stands on the page, and what does not: steps left out, a load on bad anchors, what is signed,
//! the rule of each verdict.

mod common;

use common::{made, section, shown, text};
use serde_json::{Value, json};
use skimgauge_record::Body;
use skimgauge_record::event::Phase;
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
