//! A survey as text.

use super::{columns, paragraph};
use crate::survey::Survey;
use skimgauge_site::survey::Proposed;

/// The points to begin with, as text.
pub fn proposal(points: &[Proposed]) -> String {
    let mut text = String::from(
        "SURVEY  points to begin with, mm from the middle of the image's top edge; the first six find bow and twist\n",
    );
    text += &places(points);
    text + "\nSurvey them with the head: skimgauge survey --job FILE --head PORT --points POINTS.csv\n\
            or write their heights beside them as a table x_mm,y_mm,z_mm: skimgauge survey --job FILE --from POINTS.csv\n"
}

fn places(points: &[Proposed]) -> String {
    let rows: Vec<Vec<String>> = points
        .iter()
        .map(|p| vec![p.order.to_string(), format!("{:.0}", p.x_mm), format!("{:.0}", p.y_mm), p.why.clone()])
        .collect();
    columns(&["", "x_mm", "y_mm", "for"], &rows, &[0, 1, 2])
}

/// The whole survey as text.
pub fn text(survey: &Survey) -> String {
    let mut text = format!("SURVEY  {} points\n", survey.points);
    let proved = if survey.flatness_is_proved { "proved by its touching places" } else { "not proved" };
    let mut rows = vec![
        vec!["flatness, minimum zone".to_owned(), format!("{:.3}", survey.flatness_mm), proved.to_owned()],
        vec!["flatness, least squares".to_owned(), format!("{:.3}", survey.least_squares_flatness_mm), String::new()],
    ];
    for (name, value) in [
        ("bow across, middle out of left and right", survey.bow_across_mm),
        ("bow down, middle out of top and bottom", survey.bow_down_mm),
        ("twist, top right out", survey.twist_mm),
    ] {
        rows.push(vec![name.to_owned(), value.map_or("not known".to_owned(), |mm| format!("{mm:+.3}")), String::new()]);
    }
    text += &columns(&["", "mm", ""], &rows, &[1]);
    let band = &survey.band;
    let says = if band.can_be_met {
        format!(
            "The gap's band {:.2} to {:.2} mm can be met over this board: it takes {:.2} mm of it, {:.2} mm are left on each side for everything else.",
            band.low_mm, band.high_mm, band.needed_mm, band.margin_mm
        )
    } else {
        format!(
            "NO setting of the touch plane keeps the band {:.2} to {:.2} mm over this board: it takes {:.2} mm. The places below make it so.",
            band.low_mm, band.high_mm, band.needed_mm
        )
    };
    text += &paragraph("  ", &says);
    for (heading, list) in [("Farthest from the plane, mm", &survey.worst), ("Bumps and dents, mm", &survey.bumps)] {
        if !list.is_empty() {
            let rows: Vec<Vec<String>> = list
                .iter()
                .map(|p| vec![format!("{:.0}", p.x_mm), format!("{:.0}", p.y_mm), format!("{:+.3}", p.z_mm)])
                .collect();
            text += &format!("\n{heading}\n{}", columns(&["x_mm", "y_mm", "z_mm"], &rows, &[0, 1, 2]));
        }
    }
    if !survey.next.is_empty() {
        text += &format!("\nWhere to look next\n{}", places(&survey.next));
    }
    for remark in &survey.remarks {
        text += &paragraph("  - ", remark);
    }
    text
}
