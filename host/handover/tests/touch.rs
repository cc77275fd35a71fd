//! The touch proof on the client's page: verdict, a map to scale, every mark, plain words.

mod common;

use serde_json::json;
use skimgauge_handover::{Options, Units, page};
use skimgauge_record::section::Section;

fn section(verdict: &str, made: serde_json::Value) -> Section {
    let mark = |name: &str, x: f64, y: f64, right: f64, up: f64| json!({"name": name, "x_mm": x, "y_mm": y, "taps": 3, "missed": 0, "right_mm": right, "up_mm": up, "bent": name == "centre"});
    let found = |value: f64| json!({"value": value, "u": 0.2});
    let data = json!({
        "verdict": verdict,
        "because": "touch stands off", "settle": null, "cause": "set it in the display's own settings",
        "image": {"width_mm": 2000.0, "height_mm": 1250.0}, "tool": "rod", "limit_mm": 3.0,
        "map": {"right_mm": found(1.1), "up_mm": found(-0.4), "scale_across_mm_per_m": found(0.5),
                "scale_down_mm_per_m": found(0.1), "turn_mm_per_m": found(-0.3), "shear_mm_per_m": found(0.0), "scatter_mm": 0.61},
        "places": [{"name": "top left", "x_mm": -1000.0, "y_mm": 0.0, "right_mm": 2.0, "up_mm": -1.0, "expanded_mm": 0.9, "verdict": verdict}],
        "marks": [mark("centre", 0.0, -625.0, 1.27, 0.0), mark("left", -900.0, -625.0, 0.9, -0.2)],
        "strokes": [[[-900.0, -62.5], [0.0, -63.0], [900.0, -62.0]]],
        "parts": [{"what": "map", "verdict": verdict, "says": "touch stands off"}],
        "told": ["latency cannot be measured from a page"],
        "made": made,
    });
    serde_json::from_value(json!({"section": "touch", "data_version": 1, "data": data})).unwrap()
}

#[test]
fn the_proof_is_told_with_its_map_and_every_mark() {
    let mut bench = common::empty();
    bench.append(section("outside", json!({"form": 1})));
    let history = bench.history();
    let mm = page(&history, &Options::default());
    let plain = mm.replace("&#39;", "'");
    for wanted in [
        ">Touch<",
        "Touch stands off.",
        "Set it in the display's own settings.",
        "does not follow the other marks",
        "Latency cannot be measured from a page.",
        "+1.27",
    ] {
        assert!(plain.contains(wanted), "{wanted}");
    }
    // 732 units for 2000 mm, the longest arrow at most 60: 3 mm are 1.1, fifty times larger 54.9.
    assert!(mm.contains("arrows 50 times larger"), "the scale is stated");
    let inches = page(&history, &Options { units: Units::Inch });
    assert!(inches.contains("0.050"), "1.27 mm in inches");
    assert!(!inches.contains("1.27<"), "no millimetres in a column of inches");
}
