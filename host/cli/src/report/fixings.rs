//! Fixings as text.

use super::{columns, listed, paragraph, said};
use crate::lengths::Lengths;
use skimgauge_quantity::force;
use skimgauge_site::fixings::{CaseReport, FixingsReport, Judged, PlateReport};

/// The whole report. Forces are in N; with inches, in pounds-force.
pub fn text(report: &FixingsReport, units: Lengths) -> String {
    let mut text = format!("FIXINGS  load factor {}\n", report.load_factor);
    text += &paragraph("  ", &format!("Method: {}", report.method));
    text += &said("  ", &report.counted_says, units.style());
    report.plates.iter().for_each(|plate| text += &plate_text(plate, units));
    text + &listed("Cautions", &report.cautions)
}

fn plate_text(plate: &PlateReport, units: Lengths) -> String {
    let judged = match (plate.judged, plate.worst_use) {
        (Judged::WithinAllowed, Some(used)) => {
            format!(
                "within the allowed values entered, {:.0} % used. This says nothing about the wall",
                100.0 * used
            )
        }
        (Judged::BeyondAllowed, Some(used)) => {
            format!(
                "BEYOND the allowed values entered, or their conditions ({:.0} % used)",
                100.0 * used
            )
        }
        _ => "NOT JUDGED: no approval data".to_owned(),
    };
    let (tension_n, shear_n) = plate.most_loaded_n;
    let mut text = format!("\n{}{}\n", plate.plate, share(plate));
    text += &paragraph("  ", &format!("{judged}."));
    text += &paragraph(
        "  ",
        &format!(
            "Most loaded: anchor {}, {} tension and {} shear, with {}.",
            plate.most_loaded,
            force(tension_n).text(units.style()),
            force(shear_n).text(units.style()),
            plate.most_loaded_in
        ),
    );
    plate.cases.iter().for_each(|case| text += &case_text(case, units));
    for result in &plate.proof {
        text += &said("  proof load: ", &result.says, units.style());
    }
    text +=
        &plate.remarks.iter().map(|remark| said("  - ", remark, units.style())).collect::<String>();
    text
}

/// Which part of the shared load a plate takes, where it is not all of it.
fn share(plate: &PlateReport) -> String {
    if (plate.share - 1.0).abs() < 1e-9 {
        String::new()
    } else {
        format!("  takes {:.1} % of what hangs on all plates", 100.0 * plate.share)
    }
}

fn case_text(case: &CaseReport, units: Lengths) -> String {
    let mut text =
        paragraph("  ", &format!("{}. Pressed on the wall: {}.", case.case, case.pressed));
    let number = |newtons: f64| force(newtons).cell(units.style());
    let rows: Vec<Vec<String>> = case
        .anchors
        .iter()
        .map(|anchor| {
            vec![
                anchor.anchor.clone(),
                number(anchor.shear_n),
                number(anchor.tension_about_centroid_n),
                number(anchor.tension_about_edge_n),
                number(anchor.tension_on_soft_bedding_n),
                number(anchor.tension_n),
                anchor.used.map_or_else(
                    || "-".to_owned(),
                    |used| format!("{:.0} %", 100.0 * used.together),
                ),
            ]
        })
        .collect();
    let head = ["shear", "tension: centroid", "hard wall", "soft bedding", "counts"]
        .map(|of| format!("{of} {}", units.0.force_sign()));
    let head: Vec<&str> =
        std::iter::once("anchor").chain(head.iter().map(String::as_str)).chain(["used"]).collect();
    text += &columns(&head, &rows, &[1, 2, 3, 4, 5, 6]);
    text
}
