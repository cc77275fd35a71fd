//! A set-out as text.

use super::{columns, listed, paragraph, said, side, told};
use crate::lengths::Lengths;
use skimgauge_handover::Units;
use skimgauge_quantity::{Name, say};
use skimgauge_site::reach::{ImageReach, Standing, Within};
use skimgauge_site::setout::clearance::Fit;
use skimgauge_site::setout::{SetOut, steps::Step};

/// The whole set-out.
pub fn text(found: &SetOut, units: Lengths) -> String {
    let area = &found.image_area;
    let mut text = format!(
        "SET-OUT  image {} x {}, {} to {} above the floor, middle {} from the wall's left end\n",
        units.length_number(found.image.width.0, 1),
        units.length(found.image.height.0, 1),
        units.length_number(area.bottom_mm, 1),
        units.length(area.top_mm, 1),
        units.length((area.left_mm + area.right_mm) / 2.0, 1)
    );
    text += &listed(
        "STOP: change this before anything is drilled",
        told(found.stops.iter().map(|stop| &stop.says), units),
    );
    text += &listed("ASSUMED: settle this before anything is marked", told(&found.assumed, units));
    text += &format!(
        "\nLines to strike: plumb {} from the wall's left end, level {} above the floor.\n\nMarks, {}\n",
        units.length(found.datum.plumb_from_wall_left_mm, 1),
        units.length(found.datum.level_above_floor_mm, 1),
        units.sign()
    );
    text += &marks(found, units);
    text += "\nOrder of work\n";
    found.steps.iter().for_each(|step| text += &step_text(step, units));
    text += &format!("\nClearances, {}\n", units.sign());
    text += &clearances(found, units);
    text += "\nReach from the floor, after 2010 ADA Standards 308 where a clause is named\n";
    text += &reach(&found.reach, units);
    text += &paragraph("  ", &format!("Units: {}.", found.reach_master));
    text += "\nViewing distance\n";
    for viewing in &found.viewing {
        text += &paragraph(
            "  - ",
            &format!(
                "{}: {} ({})",
                viewing.rule,
                units.length(viewing.distance_mm, 0),
                viewing.source
            ),
        );
    }
    text += &listed("To know", told(&found.remarks, units));
    text += &listed("Cautions", &found.cautions);
    text
}

fn marks(found: &SetOut, units: Lengths) -> String {
    let rows: Vec<Vec<String>> = found
        .marks
        .iter()
        .enumerate()
        .map(|(index, mark)| {
            vec![
                (index + 1).to_string(),
                mark.name.clone(),
                side(mark.from_plumb_mm, "right", "left", units),
                side(mark.from_level_mm, "above", "below", units),
                units.length_number(mark.above_floor_mm, 1),
                mark.drill_mm.map_or_else(String::new, |mm| units.length_number(mm, 1)),
                mark.slip_shown_mm.map_or_else(String::new, |mm| units.length_number(mm, 1)),
            ]
        })
        .collect();
    let head = ["", "mark", "from plumb", "from level", "above floor", "drill", "slip shown from"];
    columns(&head, &rows, &[0, 2, 3, 4, 5, 6])
}

fn step_text(step: &Step, units: Lengths) -> String {
    let style = units.style();
    let mut text =
        said(&format!("  {}. ", step.number), &say!("{}: {}", Name(&step.title), step.says), style);
    for check in &step.checks {
        text += &paragraph(
            "     check: ",
            &format!(
                "{} to {}: {}, within {}",
                check.from.text(style),
                check.to.text(style),
                units.length(check.distance_mm, 1),
                units.length(check.tolerance_mm, 1)
            ),
        );
    }
    text + &said("     if not: ", &step.otherwise, style)
}

fn clearances(found: &SetOut, units: Lengths) -> String {
    let rows: Vec<Vec<String>> = found
        .clearances
        .iter()
        .map(|clearance| {
            let wanted = match (clearance.least_mm, clearance.most_mm) {
                (Some(least), Some(most)) => {
                    format!("{} to {}", units.length_number(least, 0), units.length_number(most, 0))
                }
                (Some(least), None) => format!("{} or more", units.length_number(least, 0)),
                (None, Some(most)) => format!("{} or less", units.length_number(most, 0)),
                (None, None) => String::new(),
            };
            let fit = match clearance.fit {
                Fit::Enough => "enough",
                Fit::Short => "TOO SHORT",
                Fit::Far => "FAR",
                Fit::Overlaps => "OVERLAPS",
                Fit::Stated => "",
            };
            vec![
                clearance.from.clone(),
                clearance.to.clone(),
                units.length_number(clearance.clear_mm, 1),
                wanted,
                fit.to_owned(),
            ]
        })
        .collect();
    columns(&["from", "to", "free", "wanted", ""], &rows, &[2])
}

fn reach(found: &[ImageReach], units: Lengths) -> String {
    let rows: Vec<Vec<String>> = found
        .iter()
        .map(|found| {
            let after = match found.reach.standing {
                Standing::Standard => {
                    found.reach.source.trim_start_matches("2010 ADA Standards ").to_owned()
                }
                Standing::Advisory => "advice with 308.1".to_owned(),
                Standing::CommonPractice => found.reach.source.to_owned(),
            };
            let top = match found.top {
                Within::Reached => "reached".to_owned(),
                Within::BetweenUnits => {
                    "between the inches and the metric figure printed".to_owned()
                }
                Within::OutOfReach => format!("{} too high", units.length(found.lower_by_mm, 0)),
            };
            let reaches = match units.0 {
                Units::Mm => {
                    format!("{} to {}", found.reach.low_printed_mm, found.reach.high_printed_mm)
                }
                Units::Inch => format!("{} to {}", found.reach.low_in, found.reach.high_in),
            };
            vec![
                found.reach.who.to_owned(),
                reaches,
                format!("{:.0} %", 100.0 * found.share),
                top,
                after,
            ]
        })
        .collect();
    columns(
        &["who", &format!("reaches {}", units.sign()), "of image", "its top edge", "after"],
        &rows,
        &[2],
    )
}
