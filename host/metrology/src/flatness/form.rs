//! The shape in words that a fitter uses: bow across, bow down, twist, and bumps that none of them
//! explains.

use super::{FlatnessError, HeightAt, check};
use crate::linear;
use nalgebra::{DMatrix, DVector};

/// A place is a bump where it stands out by this many times the usual scatter.
const BUMP_SCATTERS: f64 = 4.0;

/// Standard deviation over the median of absolute deviations, for normal scatter.
const NORMAL_MAD: f64 = 1.482_602_218_505_602;

/// The form of a board over its image. All heights mm, positive toward the viewer.
#[derive(Debug, Clone, PartialEq)]
pub struct Form {
    /// How far the middle of the image stands out from the middles of its left and right edges.
    pub bow_across_mm: f64,
    /// How far the middle stands out from the middles of the top and bottom edges.
    pub bow_down_mm: f64,
    /// How far the top right corner stands out of the plane through the middle, by twist; the
    /// bottom left does the same, the other two the opposite.
    pub twist_mm: f64,
    /// Standard scatter of what bow and twist leave, from its median, so that bumps do not widen
    /// it.
    pub scatter_mm: f64,
    /// What bow and twist leave at each place, in their order.
    pub residuals_mm: Vec<f64>,
    /// Places that stand out of the rest, the largest first.
    pub bumps: Vec<Bump>,
}

/// One place that stands out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bump {
    /// Index into the places.
    pub place: usize,
    /// How far it stands out (toward the viewer) of the bowed and twisted board; negative for a
    /// dent.
    pub height_mm: f64,
}

/// Finds the form over an image `width_mm` by `height_mm` (both above zero), from six places or
/// more that do not lie on a few lines. `u_mm` is the standard uncertainty of one height, mm:
/// nothing smaller than its scatter counts as a bump.
///
/// # Errors
/// [`FlatnessError`] where the places cannot tell bow from twist.
pub fn form(
    places: &[HeightAt],
    width_mm: f64,
    height_mm: f64,
    u_mm: f64,
) -> Result<Form, FlatnessError> {
    check(places)?;
    if places.len() < 6 {
        return Err(FlatnessError::TooFew { given: places.len() });
    }
    let design = DMatrix::from_fn(places.len(), 6, |r, c| {
        let across = 2.0 * places[r][0] / width_mm;
        let down = 2.0 * places[r][1] / height_mm + 1.0;
        [1.0, across, down, -across * across, -down * down, across * down][c]
    });
    let heights = DVector::from_iterator(places.len(), places.iter().map(|p| p[2]));
    let mut weights_u = vec![1.0; places.len()];
    let mut fit =
        linear::solve(&design, &heights, &weights_u).map_err(|_| FlatnessError::InALine)?;
    let scatter_of = |residuals: &DVector<f64>| {
        let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
        let middle = sizes.len() / 2;
        let (_, median, _) = sizes.select_nth_unstable_by(middle, f64::total_cmp);
        NORMAL_MAD * *median
    };
    // A bump pulls the bow toward itself: those found are left out, and the rest is fitted once
    // more.
    for _ in 0..3 {
        let limit = BUMP_SCATTERS * scatter_of(&fit.residuals).max(u_mm);
        let kept = fit.residuals.iter().filter(|r| r.abs() <= limit).count();
        if limit <= 0.0 || kept == places.len() || kept < 12 {
            break;
        }
        weights_u
            .iter_mut()
            .zip(fit.residuals.iter())
            .for_each(|(u, r)| *u = if r.abs() > limit { 1.0e6 } else { 1.0 });
        fit = linear::solve(&design, &heights, &weights_u).map_err(|_| FlatnessError::InALine)?;
    }
    let scatter_mm = scatter_of(&fit.residuals);
    let limit = BUMP_SCATTERS * scatter_mm.max(u_mm);
    let mut bumps: Vec<Bump> = fit
        .residuals
        .iter()
        .enumerate()
        .filter(|(_, r)| r.abs() > limit && limit > 0.0)
        .map(|(place, &height_mm)| Bump { place, height_mm })
        .collect();
    bumps.sort_by(|a, b| b.height_mm.abs().total_cmp(&a.height_mm.abs()));
    Ok(Form {
        bow_across_mm: fit.estimate[3],
        bow_down_mm: fit.estimate[4],
        twist_mm: fit.estimate[5],
        scatter_mm,
        residuals_mm: fit.residuals.iter().copied().collect(),
        bumps,
    })
}
