//! Surveyed points: `x_mm,y_mm,z_mm`.

use std::collections::HashMap;

use skimgauge_model::Point;
use skimgauge_quantity::Mm;

use crate::against::{Against, SURVEY_SLACK};
use crate::error::{Problem, TableError};
use crate::grid::Grid;
use crate::header::{Column, Kind};
use crate::readings::LARGEST_POSITION_MM;

/// The header of a table of surveyed points.
pub const SURVEY: &str = "x_mm,y_mm,z_mm";

/// No board's shape is more, mm.
const LARGEST_HEIGHT_MM: f64 = 200.0;

static KIND: Kind = Kind {
    header: SURVEY,
    may_be_left_out: "",
    what: "points",
    columns: &[
        Column::number("x_mm", "x", LARGEST_POSITION_MM, true),
        Column::number("y_mm", "y", LARGEST_POSITION_MM, true),
        Column::number("z_mm", "z", LARGEST_HEIGHT_MM, true),
    ],
};

/// One surveyed point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surveyed {
    /// Where.
    pub at: Point,
    /// How far the board stands out there, toward the viewer.
    pub z: Mm,
}

/// Reads a table of surveyed points.
///
/// # Errors
/// The first [`TableError`], with its line; among them two heights at one place.
pub fn survey(bytes: &[u8], against: &Against<'_>) -> Result<Vec<Surveyed>, TableError> {
    let grid = Grid::read(bytes, &KIND)?;
    let mut points = Vec::new();
    let mut places = HashMap::new();
    grid.each(|row| {
        let at = Point { x: Mm(row.number(0)?), y: Mm(row.number(1)?) };
        let z = Mm(row.number(2)?);
        against.check_place(at, row.line, SURVEY_SLACK)?;
        if let Some(first) = places.insert((at.x.0.to_bits(), at.y.0.to_bits()), row.line) {
            return Err(Problem::PlaceTwice { first }.at(row.line));
        }
        points.push(Surveyed { at, z });
        Ok(())
    })?;
    Ok(points)
}

/// Writes the points as [`survey`] reads them.
pub fn write_survey(points: &[Surveyed]) -> String {
    let mut text = format!("{SURVEY}\n");
    for point in points {
        text.push_str(&format!("{},{},{}\n", point.at.x.0, point.at.y.0, point.z.0));
    }
    text
}
