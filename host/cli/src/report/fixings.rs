//! Fixings as text.

use super::{columns, listed, paragraph, said};
use crate::lengths::Lengths;
use skimgauge_handover::Units;
use skimgauge_site::fixings::{CaseReport, FixingsReport, Judged, PlateReport};

/// Newtons in one pound-force: NIST SP 811 (2008), appendix B.8.
const N_PER_LBF: f64 = 4.448222;

/// The whole report. Forces are in N, as approvals have them; with inches, in pounds-force beside
/// it.
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
            force(tension_n, units),
            force(shear_n, units),
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
    let rows: Vec<Vec<String>> = case
        .anchors
        .iter()
        .map(|anchor| {
            let mut row = vec![
                anchor.anchor.clone(),
                format!("{:.0}", anchor.shear_n),
                format!("{:.0}", anchor.tension_about_centroid_n),
                format!("{:.0}", anchor.tension_about_edge_n),
                format!("{:.0}", anchor.tension_on_soft_bedding_n),
                format!("{:.0}", anchor.tension_n),
                anchor.used.map_or_else(
                    || "-".to_owned(),
                    |used| format!("{:.0} %", 100.0 * used.together),
                ),
            ];
            if units.0 == Units::Inch {
                row.insert(6, format!("{:.0}", anchor.tension_n / N_PER_LBF));
            }
            row
        })
        .collect();
    let mut head = vec![
        "anchor",
        "shear N",
        "tension: centroid N",
        "hard wall N",
        "soft bedding N",
        "counts N",
        "used",
    ];
    if units.0 == Units::Inch {
        head.insert(6, "counts lbf");
    }
    text += &columns(&head, &rows, &[1, 2, 3, 4, 5, 6, 7]);
    text
}

/// A force: `1200 N`, or `1200 N (270 lbf)`.
fn force(n: f64, units: Lengths) -> String {
    match units.0 {
        Units::Mm => format!("{n:.0} N"),
        Units::Inch => format!("{n:.0} N ({:.0} lbf)", n / N_PER_LBF),
    }
}
