//! The straight line of a calibration, after GUM H.3: intercept, slope, what both are worth, and
//! what the line says elsewhere.

use crate::linear::{LinearError, solve};
use nalgebra::{DMatrix, DVector};

/// `y = at_origin + slope (x - origin)`, by ordinary least squares; uncertainties from the scatter
/// about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Where `at_origin` is.
    pub origin: f64,
    /// Value there.
    pub at_origin: f64,
    /// Rise per unit of x.
    pub slope: f64,
    /// Standard uncertainty of `at_origin`.
    pub at_origin_u: f64,
    /// Standard uncertainty of `slope`.
    pub slope_u: f64,
    /// Correlation of the two.
    pub correlation: f64,
    /// Standard deviation of the observations about the line.
    pub scatter: f64,
    /// Observations less two.
    pub dof: usize,
}

impl Line {
    /// Through points `(x, y)`, at least three, not all at one x.
    pub fn through(points: &[(f64, f64)], origin: f64) -> Result<Self, LinearError> {
        if points.len() < 3 {
            return Err(LinearError::TooFew { observations: points.len(), unknowns: 3 });
        }
        let design = DMatrix::from_fn(points.len(), 2, |row, column| {
            if column == 0 { 1.0 } else { points[row].0 - origin }
        });
        let values = DVector::from_iterator(points.len(), points.iter().map(|p| p.1));
        let fit = solve(&design, &values, &vec![1.0; points.len()])?;
        let scatter = (fit.residuals.norm_squared() / fit.dof as f64).sqrt();
        let c = &fit.covariance;
        Ok(Self {
            origin,
            at_origin: fit.estimate[0],
            slope: fit.estimate[1],
            at_origin_u: scatter * c[(0, 0)].sqrt(),
            slope_u: scatter * c[(1, 1)].sqrt(),
            correlation: c[(0, 1)] / (c[(0, 0)] * c[(1, 1)]).sqrt(),
            scatter,
            dof: fit.dof,
        })
    }

    /// Value at `x` and its standard uncertainty (GUM H.3.4: the correlation counts).
    pub fn at(&self, x: f64) -> (f64, f64) {
        let d = x - self.origin;
        let variance = self.at_origin_u.powi(2)
            + (d * self.slope_u).powi(2)
            + 2.0 * d * self.at_origin_u * self.slope_u * self.correlation;
        (self.at_origin + self.slope * d, variance.max(0.0).sqrt())
    }
}
