//! Surveyed points: `x_mm,y_mm,z_mm`, and `simulated` where a simulated head read them.

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

/// The same, where a simulated head read some of them.
pub const SURVEY_PRACTISED: &str = "x_mm,y_mm,z_mm,simulated";

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
        Column::text("simulated", false),
    ],
};

/// One surveyed point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surveyed {
    /// Where.
    pub at: Point,
    /// How far the board stands out there, toward the viewer.
    pub z: Mm,
    /// Whether the row says that a simulated head read it: anything but `no` in that column.
    pub simulated: bool,
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
        let simulated = !matches!(row.text(3).to_lowercase().as_str(), "" | "no");
        points.push(Surveyed { at, z, simulated });
        Ok(())
    })?;
    Ok(points)
}

/// Writes the points as [`survey`] reads them; with a simulated one among them each row says which
/// it is, so that no row is taken for a board's by whoever has it alone.
pub fn write_survey(points: &[Surveyed]) -> String {
    let any = points.iter().any(|point| point.simulated);
    let mut text = format!("{}\n", if any { SURVEY_PRACTISED } else { SURVEY });
    for point in points {
        let mark = match (any, point.simulated) {
            (false, _) => "",
            (true, true) => ",SIMULATED",
            (true, false) => ",no",
        };
        text.push_str(&format!("{},{},{}{mark}\n", point.at.x.0, point.at.y.0, point.z.0));
    }
    text
}
