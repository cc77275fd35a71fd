//! A set-out as text.

use super::{columns, listed, paragraph, side};
use serde_json::{Value, json};
use skimgauge_site::reach::{ImageReach, Standing, Within};
use skimgauge_site::setout::clearance::Fit;
use skimgauge_site::setout::{SetOut, steps::Step};

/// The whole set-out.
pub fn text(found: &SetOut) -> String {
    let area = &found.image_area;
    let mut text = format!(
        "SET-OUT  image {:.1} x {:.1} mm, {:.1} to {:.1} mm above the floor, middle {:.1} mm from the wall's left end\n",
        found.image.width_mm,
        found.image.height_mm,
        area.bottom_mm,
        area.top_mm,
        (area.left_mm + area.right_mm) / 2.0
    );
    text += &listed("STOP: change this before anything is drilled", found.stops.iter().map(|stop| stop.says.as_str()));
    text += &format!(
        "\nLines to strike: plumb {:.1} mm from the wall's left end, level {:.1} mm above the floor.\n\nMarks, mm\n",
        found.datum.plumb_from_wall_left_mm, found.datum.level_above_floor_mm
    );
    text += &marks(found);
    text += "\nOrder of work\n";
    found.steps.iter().for_each(|step| text += &step_text(step));
    text += "\nClearances, mm\n";
    text += &clearances(found);
    text += "\nReach from the floor, after 2010 ADA Standards 308 where a clause is named\n";
    text += &reach(&found.reach);
    text += &paragraph("  ", &format!("Units: {}.", found.reach_master));
    text += "\nViewing distance\n";
    for viewing in &found.viewing {
        text += &paragraph("  - ", &format!("{}: {:.0} mm ({})", viewing.rule, viewing.distance_mm, viewing.source));
    }
    text += &listed("To know", found.remarks.iter().map(String::as_str));
    text += &listed("Cautions", found.cautions.iter().copied());
    text
}

fn marks(found: &SetOut) -> String {
    let rows: Vec<Vec<String>> = found
        .marks
        .iter()
        .enumerate()
        .map(|(index, mark)| {
            vec![
                (index + 1).to_string(),
                mark.name.clone(),
                side(mark.from_plumb_mm, "right", "left"),
                side(mark.from_level_mm, "above", "below"),
                format!("{:.1}", mark.above_floor_mm),
                mark.drill_mm.map_or_else(String::new, |mm| format!("{mm:.1}")),
                mark.slip_shown_mm.map_or_else(String::new, |mm| format!("{mm:.1}")),
            ]
        })
        .collect();
    let head = ["", "mark", "from plumb", "from level", "above floor", "drill", "slip shown from"];
    columns(&head, &rows, &[0, 2, 3, 4, 5, 6])
}

fn step_text(step: &Step) -> String {
    let mut text = paragraph(&format!("  {}. ", step.number), &format!("{}: {}", step.title, step.says));
    for check in &step.checks {
        text += &paragraph(
            "     check: ",
            &format!("{} to {}: {:.1} mm, within {:.1}", check.from, check.to, check.distance_mm, check.tolerance_mm),
        );
    }
    text + &paragraph("     if not: ", &step.otherwise)
}

fn clearances(found: &SetOut) -> String {
    let rows: Vec<Vec<String>> = found
        .clearances
        .iter()
        .map(|clearance| {
            let wanted = match (clearance.least_mm, clearance.most_mm) {
                (Some(least), Some(most)) => format!("{least:.0} to {most:.0}"),
                (Some(least), None) => format!("{least:.0} or more"),
                (None, Some(most)) => format!("{most:.0} or less"),
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
                format!("{:.1}", clearance.clear_mm),
                wanted,
                fit.to_owned(),
            ]
        })
        .collect();
    columns(&["from", "to", "free", "wanted", ""], &rows, &[2])
}

fn reach(found: &[ImageReach]) -> String {
    let rows: Vec<Vec<String>> = found
        .iter()
        .map(|found| {
            let after = match found.reach.standing {
                Standing::Standard => found.reach.source.trim_start_matches("2010 ADA Standards ").to_owned(),
                Standing::Advisory => "advice with 308.1".to_owned(),
                Standing::CommonPractice => found.reach.source.to_owned(),
            };
            let top = match found.top {
                Within::Reached => "reached".to_owned(),
                Within::BetweenUnits => "between inch and printed mm".to_owned(),
                Within::OutOfReach => format!("{:.0} mm too high", found.lower_by_mm),
            };
            let reaches = format!("{} to {}", found.reach.low_printed_mm, found.reach.high_printed_mm);
            vec![found.reach.who.to_owned(), reaches, format!("{:.0} %", 100.0 * found.share), top, after]
        })
        .collect();
    columns(&["who", "reaches mm", "of image", "its top edge", "after"], &rows, &[2])
}

/// What the record keeps for the client: places, clearances and reach. The checks on the way there are for the wall, and
/// come out again from the job file, which the record has too.
pub fn recorded(found: &SetOut, drawing: &str) -> Value {
    let marks = found.marks.iter().map(|mark| {
        json!({
            "name": mark.name, "from_plumb_mm": mark.from_plumb_mm, "from_level_mm": mark.from_level_mm,
            "above_floor_mm": mark.above_floor_mm, "drill_mm": mark.drill_mm,
        })
    });
    let clearances = found.clearances.iter().map(|c| {
        json!({"between": format!("{} and {}", c.from, c.to), "free_mm": c.clear_mm, "least_mm": c.least_mm, "most_mm": c.most_mm, "fit": c.fit})
    });
    let reach = found.reach.iter().map(|r| {
        json!({"who": r.reach.who, "low_mm": r.reach.low_printed_mm, "high_mm": r.reach.high_printed_mm,
            "of_image_percent": (100.0 * r.share).round(), "after": r.reach.source})
    });
    json!({
        "width_mm": found.image.width_mm, "height_mm": found.image.height_mm,
        "top_above_floor_mm": found.image_area.top_mm,
        "plumb_line_from_wall_left_mm": found.datum.plumb_from_wall_left_mm,
        "level_line_above_floor_mm": found.datum.level_above_floor_mm,
        "drawing": drawing,
        "marks": marks.collect::<Vec<_>>(),
        "clearances": clearances.collect::<Vec<_>>(),
        "reach": reach.collect::<Vec<_>>(),
        "to_change_first": found.stops.iter().map(|stop| stop.says.as_str()).collect::<Vec<_>>(),
        "remarks": found.remarks,
        "cautions": found.cautions,
    })
}
