//! The board's own shape, as far as it is known, and what is not known of it.
//!
//! A board that nobody has surveyed is not flat: it is of unknown bow and twist. These enter the
//! fit as unknowns that are zero give or take a stated amount. Three takes then still give a plane,
//! with an uncertainty that owns up to the board, and stations all round the edge find the bow and
//! the twist themselves.

use super::prior::Expected;
use super::surface::{Height, Surface};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Most kinds of unknown shape.
pub(crate) const MODES: usize = 3;

/// The board under the touch plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Board {
    /// What a survey found.
    pub shape: Shape,
    /// Standard uncertainty of `shape` at any one place, mm; also small bumps that no survey has
    /// seen. Zero or more.
    pub u_shape_mm: f64,
    /// What is unknown over the whole board, for a board without a survey.
    pub unknown: Option<Unsurveyed>,
}

/// A surveyed shape: how far the board stands out (toward the viewer) at a place, mm.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Flat, as far as anybody knows.
    Flat,
    /// Heights over a grid.
    Grid(Grid),
    /// Fitted to a survey's places.
    Surface(Surface),
}

/// How much bow and twist a board without a survey may have. Each is a standard uncertainty, mm, of
/// the image's size.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Unsurveyed {
    /// Width of the image, mm.
    pub width_mm: f64,
    /// Height of the image, mm.
    pub height_mm: f64,
    /// How far the middle of a horizontal line may stand out from its ends.
    pub bow_across_mm: f64,
    /// How far the middle of a vertical line may stand out from its ends.
    pub bow_down_mm: f64,
    /// How far each corner may stand out of (or behind) the plane of the middle, by twist.
    pub twist_mm: f64,
}

/// Heights over a grid, bilinear between its places, as at the nearest place outside it.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    x_mm: Vec<f64>,
    y_mm: Vec<f64>,
    height_mm: Vec<f64>,
}

/// Why a survey is not usable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum SurveyError {
    /// A grid line is out of order or not a number.
    #[error("the survey's grid lines must rise and be finite, two or more each way")]
    GridLines,
    /// The heights do not fill the grid.
    #[error("the survey has {given} heights for a grid of {wanted}")]
    Heights {
        /// Heights given.
        given: usize,
        /// Places of the grid.
        wanted: usize,
    },
    /// A value is not finite.
    #[error("value {} of the survey is not a finite number", .at + 1)]
    NotFinite {
        /// Index, from zero.
        at: usize,
    },
    /// No place at all.
    #[error("the survey is empty")]
    Empty,
    /// The image's size or the uncertainty of a height is not above zero.
    #[error("the image's size and the uncertainty of a surveyed height must be above zero")]
    Sizes,
    /// The arithmetic found no answer.
    #[error("the survey's places are too uneven to be worked with")]
    Uneven,
}

/// Where a gap is predicted or judged, with the board there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ControlPoint {
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// How far the board stands out there, mm.
    pub shape_mm: f64,
    /// Standard uncertainty of that, mm.
    pub u_shape_mm: f64,
}

impl Board {
    /// A board taken as flat without doubt: for checks and for what has been surveyed flat.
    pub fn flat() -> Self {
        Self { shape: Shape::Flat, u_shape_mm: 0.0, unknown: None }
    }

    /// A board that nobody has surveyed.
    pub fn unsurveyed(unknown: Unsurveyed) -> Self {
        Self { unknown: Some(unknown), ..Self::flat() }
    }

    /// A surveyed board; `u_shape_mm` is the standard uncertainty of its height at any one place.
    pub fn surveyed(shape: Shape, u_shape_mm: f64) -> Self {
        Self { shape, u_shape_mm, unknown: None }
    }

    /// The same board once its readings, read again, came back the same although they contradict
    /// one another: rougher at any one place than was assumed, by as much as the prior allows. Each
    /// place is then believed by its own readings.
    pub fn believed(&self, prior: impl Into<Expected>) -> Self {
        let u_shape_mm = self.u_shape_mm.max(prior.into().local.amplitude_mm);
        Self { u_shape_mm, ..self.clone() }
    }

    /// Places where it was surveyed one by one, `[x, y, height]`, mm.
    pub fn surveyed_places(&self) -> &[[f64; 3]] {
        match &self.shape {
            Shape::Surface(surface) => surface.places(),
            Shape::Flat | Shape::Grid(_) => &[],
        }
    }

    /// Where it was surveyed, place by place or at the crossings of a grid, `(x, y)`, mm.
    pub(crate) fn surveyed_at(&self) -> Vec<(f64, f64)> {
        match &self.shape {
            Shape::Flat => Vec::new(),
            Shape::Grid(grid) => {
                grid.y_mm.iter().flat_map(|&y| grid.x_mm.iter().map(move |&x| (x, y))).collect()
            }
            Shape::Surface(surface) => surface.places().iter().map(|p| (p[0], p[1])).collect(),
        }
    }

    /// Whether anybody has surveyed it. A board called flat was not.
    pub fn is_surveyed(&self) -> bool {
        !matches!(self.shape, Shape::Flat)
    }

    /// How far the surveyed board stands out at a place, mm.
    pub fn height_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        match &self.shape {
            Shape::Flat => 0.0,
            Shape::Grid(grid) => grid.height_mm(x_mm, y_mm),
            Shape::Surface(surface) => surface.at(x_mm, y_mm).height_mm,
        }
    }

    /// Height and its standard uncertainty at a place, mm.
    pub fn at(&self, x_mm: f64, y_mm: f64) -> Height {
        match &self.shape {
            Shape::Surface(surface) => {
                let Height { height_mm, u_mm } = surface.at(x_mm, y_mm);
                Height { height_mm, u_mm: u_mm.hypot(self.u_shape_mm) }
            }
            _ => Height { height_mm: self.height_mm(x_mm, y_mm), u_mm: self.u_shape_mm },
        }
    }

    /// Whether its height is uncertain at a place beyond what is unknown over all of it.
    pub(crate) fn is_rough(&self) -> bool {
        self.u_shape_mm > 0.0 || matches!(self.shape, Shape::Surface(_))
    }

    /// The control point at a place.
    pub fn point(&self, x_mm: f64, y_mm: f64) -> ControlPoint {
        let Height { height_mm: shape_mm, u_mm: u_shape_mm } = self.at(x_mm, y_mm);
        ControlPoint { x_mm, y_mm, shape_mm, u_shape_mm }
    }

    /// Corners, middles of the edges and centre of an image, row by row from the top left, with
    /// every surveyed place after them.
    pub fn control_points(&self, width_mm: f64, height_mm: f64) -> Vec<ControlPoint> {
        let mut points = Vec::with_capacity(9);
        for y in [0.0, -height_mm / 2.0, -height_mm] {
            for x in [-width_mm / 2.0, 0.0, width_mm / 2.0] {
                points.push(self.point(x, y));
            }
        }
        let known = |x_mm, y_mm, shape_mm, u_mm: f64| ControlPoint {
            x_mm,
            y_mm,
            shape_mm,
            u_shape_mm: u_mm.hypot(self.u_shape_mm),
        };
        match &self.shape {
            Shape::Flat => {}
            Shape::Grid(grid) => {
                let places = self.surveyed_at().into_iter();
                points.extend(places.zip(&grid.height_mm).map(|((x, y), &h)| known(x, y, h, 0.0)));
            }
            Shape::Surface(surface) => {
                let u_mm = surface.reading_u_mm();
                points.extend(surface.places().iter().map(|&[x, y, h]| known(x, y, h, u_mm)));
            }
        }
        points
    }
}

impl Unsurveyed {
    /// What one standard uncertainty of each kind of shape does to the board's height at a place,
    /// mm.
    pub(crate) fn modes(&self, x_mm: f64, y_mm: f64) -> [f64; MODES] {
        let across = 2.0 * x_mm / self.width_mm;
        let down = 2.0 * y_mm / self.height_mm + 1.0;
        // A third off: over the image's width the bow then has no mean, and does not pass for a
        // change of `c`.
        [
            -self.bow_across_mm * (across * across - 1.0 / 3.0),
            -self.bow_down_mm * (down * down - 1.0 / 3.0),
            self.twist_mm * across * down,
        ]
    }

    /// Whether sizes are positive and uncertainties finite and not negative.
    pub(crate) fn is_usable(&self) -> bool {
        let size = |v: f64| v.is_finite() && v > 0.0;
        let amount = |v: f64| v.is_finite() && v >= 0.0;
        size(self.width_mm)
            && size(self.height_mm)
            && amount(self.bow_across_mm)
            && amount(self.bow_down_mm)
            && amount(self.twist_mm)
    }
}

impl Grid {
    /// Heights row by row: for each of `y_mm` (rising) one height for each of `x_mm` (rising). All
    /// mm.
    pub fn new(x_mm: Vec<f64>, y_mm: Vec<f64>, height_mm: Vec<f64>) -> Result<Self, SurveyError> {
        let rising = |v: &[f64]| {
            v.len() >= 2 && v.iter().all(|c| c.is_finite()) && v.windows(2).all(|w| w[0] < w[1])
        };
        if !rising(&x_mm) || !rising(&y_mm) {
            return Err(SurveyError::GridLines);
        }
        let wanted = x_mm.len() * y_mm.len();
        if height_mm.len() != wanted {
            return Err(SurveyError::Heights { given: height_mm.len(), wanted });
        }
        if let Some(at) = height_mm.iter().position(|h| !h.is_finite()) {
            return Err(SurveyError::NotFinite { at });
        }
        Ok(Self { x_mm, y_mm, height_mm })
    }

    fn height_mm(&self, x: f64, y: f64) -> f64 {
        let (column, across) = cell(&self.x_mm, x);
        let (row, up) = cell(&self.y_mm, y);
        let at = |r: usize, c: usize| self.height_mm[r * self.x_mm.len() + c];
        let along = |r: usize| at(r, column) + across * (at(r, column + 1) - at(r, column));
        along(row) + up * (along(row + 1) - along(row))
    }
}

/// The cell of rising `lines` that holds `v`, and how far into it, 0 to 1.
fn cell(lines: &[f64], v: f64) -> (usize, f64) {
    let last = lines.len() - 2;
    let index = lines.partition_point(|&l| l <= v).saturating_sub(1).min(last);
    let share = (v - lines[index]) / (lines[index + 1] - lines[index]);
    (index, share.clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_grid_is_bilinear_inside_and_as_its_edge_outside() {
        let grid = Grid::new(vec![0.0, 10.0], vec![-10.0, 0.0], vec![1.0, 2.0, 3.0, 8.0]).unwrap();
        assert_eq!(grid.height_mm(0.0, -10.0), 1.0);
        assert_eq!(grid.height_mm(10.0, 0.0), 8.0);
        assert_eq!(grid.height_mm(5.0, -5.0), 3.5);
        assert_eq!(grid.height_mm(99.0, -99.0), 2.0);
    }

    #[test]
    fn a_bad_survey_is_refused() {
        assert_eq!(Grid::new(vec![0.0], vec![0.0, 1.0], vec![]), Err(SurveyError::GridLines));
        assert_eq!(
            Grid::new(vec![0.0, 0.0], vec![0.0, 1.0], vec![0.0; 4]),
            Err(SurveyError::GridLines)
        );
        let short = Grid::new(vec![0.0, 1.0], vec![0.0, 1.0], vec![0.0; 3]);
        assert_eq!(short, Err(SurveyError::Heights { given: 3, wanted: 4 }));
        let bad = Grid::new(vec![0.0, 1.0], vec![0.0, 1.0], vec![0.0, 0.0, f64::NAN, 0.0]);
        assert_eq!(bad, Err(SurveyError::NotFinite { at: 2 }));
    }
}
