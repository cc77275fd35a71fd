//! How flat a board is: planes through surveyed places, the zone that holds them, and what shape is
//! left.

pub mod form;
mod hull;
pub mod looked_at;
pub mod proof;
pub mod zone;

use crate::linear::{self, LinearError};
use nalgebra::{DMatrix, DVector};
use thiserror::Error;

/// A surveyed place: right of the image's middle, above its top edge, height toward the viewer. Any
/// one unit.
pub type HeightAt = [f64; 3];

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum FlatnessError {
    /// Fewer than three places.
    #[error("{given} places do not make a plane; survey at least three, not in a line")]
    TooFew {
        /// Places given.
        given: usize,
    },
    /// All places in a line.
    #[error("all surveyed places are in a line: survey some to the side of it")]
    InALine,
    /// A value that is not finite.
    #[error("place {} of the survey has a value that is not a finite number", .at + 1)]
    NotFinite {
        /// Index, from zero.
        at: usize,
    },
    /// The search did not end.
    #[error("the heights are too uneven for the flatness to be worked out")]
    Numbers,
}

/// The least-squares plane `z = a + b x + c y` (residuals along z) and what it leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeastSquares {
    /// Height at the origin.
    pub a: f64,
    /// Slope along x.
    pub b: f64,
    /// Slope along y.
    pub c: f64,
    /// Highest residual less lowest.
    pub peak_to_valley: f64,
    /// Index of the highest.
    pub highest: usize,
    /// Index of the lowest.
    pub lowest: usize,
    /// Root of the mean square of the residuals, over all places.
    pub rms: f64,
}

/// The least-squares plane.
///
/// # Errors
/// [`FlatnessError`] for fewer than three places, a line of them, or a value that is not finite.
pub fn least_squares(places: &[HeightAt]) -> Result<LeastSquares, FlatnessError> {
    check(places)?;
    // From the middle of the survey: far from the origin the three unknowns would all but cancel.
    let n = places.len() as f64;
    let [x0, y0] = [0, 1].map(|axis| places.iter().map(|p| p[axis]).sum::<f64>() / n);
    let design =
        DMatrix::from_fn(places.len(), 3, |r, c| [1.0, places[r][0] - x0, places[r][1] - y0][c]);
    let heights = DVector::from_iterator(places.len(), places.iter().map(|p| p[2]));
    let fit = linear::solve(&design, &heights, &vec![1.0; places.len()]).map_err(|e| match e {
        LinearError::TooFew { observations, .. } => FlatnessError::TooFew { given: observations },
        LinearError::Unusable { at } => FlatnessError::NotFinite { at },
        LinearError::Undecided | LinearError::Shape => FlatnessError::InALine,
    })?;
    let (highest, lowest) = (fit.residuals.imax(), fit.residuals.imin());
    Ok(LeastSquares {
        a: fit.estimate[0] - fit.estimate[1] * x0 - fit.estimate[2] * y0,
        b: fit.estimate[1],
        c: fit.estimate[2],
        peak_to_valley: fit.residuals[highest] - fit.residuals[lowest],
        highest,
        lowest,
        rms: (fit.chi_square / n).sqrt(),
    })
}

fn check(places: &[HeightAt]) -> Result<(), FlatnessError> {
    if places.len() < 3 {
        return Err(FlatnessError::TooFew { given: places.len() });
    }
    match places.iter().position(|p| p.iter().any(|v| !v.is_finite())) {
        Some(at) => Err(FlatnessError::NotFinite { at }),
        None => Ok(()),
    }
}
