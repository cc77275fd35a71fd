//! Fixings as text.

use super::{columns, listed, paragraph};
use serde_json::{Value, json};
use skimgauge_site::fixings::{CaseReport, FixingsReport, Judged, PlateReport};

/// The whole report.
pub fn text(report: &FixingsReport) -> String {
    let mut text = format!("FIXINGS  load factor {}\n", report.load_factor);
    text += &paragraph("  ", &format!("Method: {}", report.method));
    report.plates.iter().for_each(|plate| text += &plate_text(plate));
    text + &listed("Cautions", report.cautions.iter().copied())
}

fn plate_text(plate: &PlateReport) -> String {
    let judged = match (plate.judged, plate.worst_use) {
        (Judged::WithinAllowed, Some(used)) => {
            format!("within the allowed values entered, {:.0} % used. This says nothing about the wall", 100.0 * used)
        }
        (Judged::BeyondAllowed, Some(used)) => {
            format!("BEYOND the allowed values entered, or their conditions ({:.0} % used)", 100.0 * used)
        }
        _ => "NOT JUDGED: no approval data".to_owned(),
    };
    let (tension_n, shear_n) = plate.most_loaded_n;
    let mut text = format!("\n{}\n", plate.plate);
    text += &paragraph("  ", &format!("{judged}."));
    text += &paragraph(
        "  ",
        &format!(
            "Most loaded: anchor {}, {tension_n:.0} N tension and {shear_n:.0} N shear, with {}.",
            plate.most_loaded, plate.most_loaded_in
        ),
    );
    plate.cases.iter().for_each(|case| text += &case_text(case));
    for result in &plate.proof {
        text += &paragraph("  proof load: ", &result.says);
    }
    text += &plate.remarks.iter().map(|remark| paragraph("  - ", remark)).collect::<String>();
    text
}

fn case_text(case: &CaseReport) -> String {
    let mut text = paragraph("  ", &format!("{}; the plate presses with its {}:", case.case, case.pressed));
    let rows: Vec<Vec<String>> = case
        .anchors
        .iter()
        .map(|anchor| {
            vec![
                anchor.anchor.clone(),
                format!("{:.0}", anchor.shear_n),
                format!("{:.0}", anchor.tension_about_centroid_n),
                format!("{:.0}", anchor.tension_about_edge_n),
                format!("{:.0}", anchor.tension_n),
                anchor.used.map_or_else(|| "-".to_owned(), |used| format!("{:.0} %", 100.0 * used.together)),
            ]
        })
        .collect();
    let head = ["anchor", "shear N", "tension: centroid N", "edge N", "counts N", "used"];
    text += &columns(&head, &rows, &[1, 2, 3, 4, 5]);
    text
}

/// What the record keeps for the client: every plate with its most loaded anchor, and every anchor in the case that loads
/// it most. The rest comes out again from the job file, which the record has too.
pub fn recorded(report: &FixingsReport) -> Value {
    let percent = |used: Option<f64>| used.map(|used| (100.0 * used).round());
    let plates = report.plates.iter().map(|plate| {
        json!({
            "plate": plate.plate, "judged": plate.judged, "used_percent": percent(plate.worst_use),
            "most_loaded": plate.most_loaded, "tension_n": plate.most_loaded_n.0, "shear_n": plate.most_loaded_n.1,
            "with": plate.most_loaded_in,
        })
    });
    let anchors = report.plates.iter().flat_map(|plate| {
        let worst = plate.cases.iter().find(|case| case.case == plate.most_loaded_in);
        worst.into_iter().flat_map(|case| &case.anchors).map(|anchor| {
            json!({
                "plate": plate.plate, "anchor": anchor.anchor, "tension_n": anchor.tension_n, "shear_n": anchor.shear_n,
                "used_percent": percent(anchor.used.map(|used| used.together)),
            })
        })
    });
    let proof = report.plates.iter().flat_map(|plate| &plate.proof).map(|proof| {
        let pull = &proof.pull;
        json!({"anchor": pull.anchor, "load_n": pull.load_n, "held_s": pull.held_s, "slip_mm": pull.slip_mm, "found": proof.found})
    });
    json!({
        "load_factor": report.load_factor,
        "method": [report.method],
        "plates": plates.collect::<Vec<_>>(),
        "anchors": anchors.collect::<Vec<_>>(),
        "proof_loads": proof.collect::<Vec<_>>(),
        "remarks": report.plates.iter().flat_map(|plate| &plate.remarks).collect::<Vec<_>>(),
        "cautions": report.cautions,
    })
}
