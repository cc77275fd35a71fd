//! The board's own shape.

use skimgauge_model::Verdict;
use skimgauge_quantity::{Mm, say};
use skimgauge_record::section::{Height, Survey};

use super::super::Reading;
use super::{Facts, drawing_in_units, listed, table, told};
use crate::document::{Block, Cell, Column};
use crate::plain;

pub(super) fn blocks(reading: &Reading<'_>, survey: &Survey) -> Vec<Block> {
    let mut blocks = Vec::new();
    blocks.extend(drawing_in_units(
        reading,
        (&survey.map, survey.map_in_inches.as_deref()),
        "The board, seen by its heights",
    ));
    let proved = if survey.flatness_is_proved { "" } else { ", as far as the places show" };
    let flatness = say!("{}{proved}", survey.flatness.gap());
    let band = &survey.band;
    let unsure = band.verdict == Some(Verdict::Unsure);
    // Bow and twist are of the whole image, and not known of a part.
    let in_part = unsure && survey.twist.is_none();
    let taking = if in_part { "the places surveyed take" } else { "the board takes" };
    let allowed =
        say!("{}; {taking} {} of it", band.low.limit().to(band.high.limit()), band.needed.gap());
    let margin = if in_part {
        say!(
            "the survey is not finished: it does not cover the whole image, and whether some setting can pass is not known"
        )
    } else if unsure {
        say!("too close to call whether some setting can pass")
    } else if band.can_be_met {
        say!("some setting can pass, with {} left on each side", band.margin.gap())
    } else {
        say!("no setting can pass: {} too little on each side", (-band.margin).gap())
    };
    blocks.extend(
        Facts::new(reading)
            .cell("Places surveyed", Cell::text(survey.points.to_string()))
            .cell(
                "Flatness (minimum zone)",
                Cell::number(survey.flatness.0, |_| flatness.text(reading.style)),
            )
            .length(
                "From the least-squares plane, highest to lowest",
                survey.least_squares_flatness,
                Mm::gap,
            )
            .length_if("Bow across", survey.bow_across, Mm::gap)
            .length_if("Bow down", survey.bow_down, Mm::gap)
            .length_if("Twist, at the top right corner", survey.twist, Mm::gap)
            .cell("The gap may be", told(reading, &allowed))
            .cell("So", told(reading, &margin))
            .block(),
    );
    blocks.extend(heights(reading, "Farthest from the plane", &survey.worst));
    blocks.extend(heights(reading, "What bow and twist do not explain", &survey.bumps));
    blocks.extend(listed(reading, "Left open", &survey.remarks));
    blocks
}

fn heights(reading: &Reading<'_>, caption: &str, heights: &[Height]) -> Option<Block> {
    let rows = heights.iter().map(|height| {
        vec![
            reading.cell(height.x.0, height.x.wall()),
            reading.cell(height.y.0, height.y.wall()),
            reading.cell(height.z.0, height.z.fine().signed()),
        ]
    });
    let columns = vec![
        Column::number("Right of the middle"),
        Column::number("Above the top edge"),
        Column::number("Toward the viewer"),
    ];
    table(&format!("{}, {}", plain::line(caption), reading.sign()), columns, rows.collect())
}
