//! What the map may be otherwise: through other marks, because one that stayed may bend it without
//! that being sure, or because the last one taken out may not.
//!
//! Each such map has its chance (two hypotheses of a mark: it scatters as the others, or it lies off
//! by anything that is some [`WIDE`] times as much), and the mean of the squares by which those maps
//! lie off from the one that is told is a share of its uncertainty: the variance of a mixture about
//! the part that is told. Without it the intervals held the truth in 92 of 100 proofs where a mark
//! was bent by what is found every second time.

use super::fit::{Fit, Look, columns};
use nalgebra::DVector;
use skimgauge_model::Point;

/// A bent mark lies off by so many times its scatter, in squares.
const WIDE: f64 = 16.0;
/// Before anything is seen: the chance that some mark is bent.
const BENT: f64 = 0.3;

/// Other maps, each as what it differs by, with its chance.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Otherwise {
    maps: Vec<(f64, [DVector<f64>; 2])>,
}

/// The chance of each mark to be the bent one, and of none to be.
pub(super) fn chances(looks: &[Look]) -> (Vec<f64>, f64) {
    let each = BENT / looks.len().max(1) as f64;
    let weight = |look: &Look| {
        // Of a normal error's squares: exp(z^2 / 2) is one over the chance of as much.
        let odds = look.chance.max(1e-12).powf(-WIDE / (1.0 + WIDE)) / (1.0 + WIDE);
        each * odds
    };
    let weights: Vec<f64> = looks.iter().map(weight).collect();
    let all = weights.iter().sum::<f64>() + 1.0 - BENT;
    (weights.into_iter().map(|weight| weight / all).collect(), (1.0 - BENT) / all)
}

impl Otherwise {
    /// This map has this chance.
    pub(super) fn may_be(&mut self, chance: f64, map: &Fit) {
        self.maps.push((chance, map.axes.clone()));
    }

    /// As what they differ by from the map that is told.
    pub(super) fn than(mut self, told: &Fit) -> Self {
        for (_, axes) in &mut self.maps {
            for (axis, told) in axes.iter_mut().zip(&told.axes) {
                *axis -= told;
            }
        }
        self
    }

    /// Root of the mean square by which they differ in something that has these factors, one for
    /// each axis; the greater of both axes where `factors` are those of one.
    pub(super) fn u(&self, of: impl Fn(&[DVector<f64>; 2]) -> f64) -> f64 {
        self.maps.iter().map(|(chance, axes)| chance * of(axes).powi(2)).sum::<f64>().sqrt()
    }

    /// The same of the error at a place, on the axis where it is greater.
    pub(super) fn u_at(&self, middle: Point, at: Point) -> f64 {
        let columns = DVector::from_row_slice(&columns(middle, at));
        let on = |axis: usize| self.u(|axes| axes[axis].dot(&columns));
        on(0).max(on(1))
    }
}
