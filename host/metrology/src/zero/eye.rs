//! The eye's scale, by rolling the slide through the light: the ratio falls as the slide rises, by
//! one over the scale.

use super::outcome::ZeroError;
use super::still::RollPoint;
use crate::linear::solve;
use nalgebra::{DMatrix, DVector};

/// Ratios beyond this bend too much.
const LINEAR: f64 = 0.6;
/// Within this the bend is small beside the noise, and the first guess is good enough.
const INNER: f64 = 0.35;
/// Fewest readings in that region.
const LEAST: usize = 20;
/// Slower bends than this are left to the scatter.
const BEND_FROM: f64 = 0.45;

/// What rolling gave: the slide's codes per unit of ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rolled {
    /// Codes of stand-off per unit of ratio: positive.
    pub codes_per_ratio: f64,
    /// Standard uncertainty.
    pub u: f64,
    /// Degrees of freedom of `u`.
    pub dof: usize,
    /// Scatter of the ratio about the curve.
    pub scatter: f64,
}

/// The eye's ratio from codes and dark offsets; `None` without light.
pub(super) fn ratio(outer: f64, inner: f64, dark: [f64; 2], inner_gain: f64) -> Option<f64> {
    let (outer, inner) = (outer - dark[0], (inner - dark[1]) / (1.0 + inner_gain));
    let light = outer + inner;
    (light >= f64::from(skimgauge_shared::calibration::ENOUGH_LIGHT_CODES))
        .then(|| (outer - inner) / light)
}

/// Fits one or more rolls together: each has its own centre (another seat), all one scale. A cubic
/// term takes the eye's bend away where the roll went far enough to show it; the scale is that at
/// the centre.
pub(super) fn roll(
    rolls: &[Vec<RollPoint>],
    dark: [f64; 2],
    inner_gain: f64,
) -> Result<Rolled, ZeroError> {
    let mut points: Vec<(usize, f64, f64)> = Vec::new();
    for (which, roll) in rolls.iter().enumerate() {
        let ratios: Vec<(f64, f64)> = roll
            .iter()
            .filter_map(|p| Some((p.stand_off, ratio(p.outer, p.inner, dark, inner_gain)?)))
            .collect();
        let inner: Vec<&(f64, f64)> = ratios.iter().filter(|(_, r)| r.abs() <= INNER).collect();
        if inner.len() < LEAST {
            return Err(ZeroError::RollTooFast { readings: inner.len(), least: LEAST });
        }
        // Zero of the ratio, by a line through the inner part; the slide's codes count from there.
        let line = super::line::Line::through(
            &inner.iter().map(|&&(s, r)| (s, r)).collect::<Vec<_>>(),
            inner[0].0,
        )
        .map_err(|_| ZeroError::RollTooShort)?;
        if line.slope >= 0.0 {
            return Err(ZeroError::RollBackwards);
        }
        let centre = line.origin - line.at_origin / line.slope;
        points.extend(
            ratios.iter().filter(|(_, r)| r.abs() <= LINEAR).map(|&(s, r)| (which, s - centre, r)),
        );
    }
    let low = points.iter().map(|p| p.2).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|p| p.2).fold(f64::NEG_INFINITY, f64::max);
    if points.is_empty() || low > -INNER / 2.0 || high < INNER / 2.0 {
        return Err(ZeroError::RollTooShort);
    }
    let bends = low < -BEND_FROM && high > BEND_FROM;
    let furthest = points.iter().map(|p| p.1.abs()).fold(1.0, f64::max);
    let columns = 1 + usize::from(bends) + rolls.len();
    let design = DMatrix::from_fn(points.len(), columns, |row, column| {
        let (which, s, _) = points[row];
        match column {
            0 => s / furthest,
            1 if bends => (s / furthest).powi(3),
            _ => f64::from(u8::from(column - 1 - usize::from(bends) == which)),
        }
    });
    let values = DVector::from_iterator(points.len(), points.iter().map(|p| p.2));
    let fit =
        solve(&design, &values, &vec![1.0; points.len()]).map_err(|_| ZeroError::RollTooShort)?;
    if fit.dof == 0 || fit.estimate[0] >= 0.0 {
        return Err(ZeroError::RollTooShort);
    }
    let scatter = (fit.residuals.norm_squared() / fit.dof as f64).sqrt();
    let slope = fit.estimate[0] / furthest;
    let slope_u = scatter * fit.covariance[(0, 0)].sqrt() / furthest;
    let codes_per_ratio = -1.0 / slope;
    Ok(Rolled {
        codes_per_ratio,
        u: codes_per_ratio * slope_u / slope.abs(),
        dof: fit.dof,
        scatter,
    })
}
