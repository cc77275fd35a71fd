//! A station where the head sees no sheet is known too: the gap lies past one end of what the head
//! sees there. An inequality instead of a reading, so that a plane that stands out of sight can be
//! brought back.

use super::learn::Tracker;
use super::rounds::Learner;
use crate::plane::board::Board;
use crate::plane::observation::{GapObservation, Observations};
use skimgauge_quantity::{Band, Mm};
use statrs::distribution::{Continuous, ContinuousCDF, Normal};

/// Where a rough setting by sight leaves the gap at the image's corners: about so much, and its
/// standard uncertainty, mm. Common practice, no source.
const BY_SIGHT_MM: (f64, f64) = (3.5, 4.0);

/// A sheet that is partly on the eye's line has its middle no further past what is seen, mm.
pub const PARTLY_MM: f64 = 1.6;

/// A place less likely out of sight than this is not: something else keeps the light away.
const UNLIKELY: f64 = 1e-3;

/// How much of the sheet is missing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Missing {
    /// A part: the rest leaves the eye's line.
    Part,
    /// All of it.
    All,
}

/// A place where the head sees no whole sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blind {
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// How much of the sheet is missing.
    pub missing: Missing,
    /// Gaps that the head would see there, mm.
    pub seen: Band<Mm>,
}

impl Blind {
    /// Where the gap may be, mm.
    fn may_be(&self) -> [(f64, f64); 2] {
        let (low, high) = (self.seen.low.0, self.seen.high.0);
        match self.missing {
            Missing::Part => [(low - PARTLY_MM, low), (high, high + PARTLY_MM)],
            Missing::All => [(f64::NEG_INFINITY, low), (high, f64::INFINITY)],
        }
    }
}

impl Tracker {
    /// Learns that the gap at a place lies where the head cannot see it. What is known becomes the
    /// normal distribution with the mean and the variance of what is left of it (assumed density
    /// filtering). `false` where the gap is known to be in sight: then nothing is learnt.
    pub fn bound(&mut self, blind: &Blind) -> bool {
        let known = self.unseated(blind.x_mm, blind.y_mm);
        match left_of(known.gap_mm, known.u_mm, &blind.may_be()) {
            Some((gap_mm, variance)) => {
                self.become_at(blind.x_mm, blind.y_mm, gap_mm, variance);
                true
            }
            None => false,
        }
    }
}

/// Chance-weighted mean and variance of a normal distribution cut down to some intervals.
fn left_of(mean: f64, u: f64, intervals: &[(f64, f64)]) -> Option<(f64, f64)> {
    let normal = Normal::new(0.0, 1.0).ok()?;
    if !(mean.is_finite() && u.is_finite() && u > 0.0) {
        return None;
    }
    let density = |x: f64| if x.is_finite() { normal.pdf(x) } else { 0.0 };
    // About the mean, in units of u.
    let (mut chance, mut first, mut second) = (0.0, 0.0, 0.0);
    for &(low, high) in intervals {
        let (a, b) = ((low - mean) / u, (high - mean) / u);
        let share = match a > 0.0 {
            true => normal.sf(a) - normal.sf(b),
            false => normal.cdf(b) - normal.cdf(a),
        };
        let edge = |x: f64| if x.is_finite() { x * normal.pdf(x) } else { 0.0 };
        chance += share;
        first += density(a) - density(b);
        second += share + edge(a) - edge(b);
    }
    if chance < UNLIKELY {
        return None;
    }
    let (first, second) = (first / chance, second / chance);
    let variance = (second - first * first).max(1e-6);
    Some((mean + u * first, u * u * variance))
}

impl Learner {
    /// The light was set by sight: as much as that is known where nothing else is.
    pub fn by_sight(&mut self, size_mm: [f64; 2], board: &Board) {
        let [width_mm, height_mm] = size_mm;
        let (gap_mm, u_mm) = BY_SIGHT_MM;
        let at = [(-width_mm / 2.0, 0.0), (width_mm / 2.0, 0.0), (0.0, -height_mm)];
        let gaps = at.map(|(x_mm, y_mm)| GapObservation::bare(x_mm, y_mm, gap_mm, u_mm));
        let observations = Observations { gaps: gaps.to_vec(), lean: None, shared: Vec::new() };
        self.few_over(&observations, board);
    }

    /// Places of an image of this size that see no light in this round.
    pub fn blind(&mut self, blind: &[Blind], size_mm: [f64; 2], board: &Board) {
        if blind.is_empty() {
            return;
        }
        // Which end of what is seen it lies past is told by where a person set it.
        self.by_sight(size_mm, board);
        if let Some(tracker) = self.tracker_mut() {
            for place in blind {
                tracker.bound(place);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mean and variance of a normal distribution cut at one side: Johnson, Kotz and Balakrishnan,
    /// Continuous Univariate Distributions 1 (1994), 13.10.1, from memory: with `z` the cut in units
    /// of the deviation, mean `-h` and variance `1 - h (h + z)`, `h` the density over the chance.
    #[test]
    fn what_is_left_below_a_cut_has_the_published_mean_and_variance() {
        let normal = Normal::new(0.0, 1.0).unwrap();
        for z in [-2.0, -0.5, 0.0, 1.0, 2.5] {
            let h = normal.pdf(z) / normal.cdf(z);
            let (mean, variance) =
                left_of(3.0, 2.0, &[(f64::NEG_INFINITY, 3.0 + 2.0 * z)]).unwrap();
            assert!((mean - (3.0 - 2.0 * h)).abs() < 1e-9, "{z}");
            assert!((variance - 4.0 * (1.0 - h * (h + z))).abs() < 1e-9, "{z}");
        }
    }

    /// Two intervals against sums over a fine grid.
    #[test]
    fn what_is_left_of_two_intervals_is_the_sum_over_both() {
        let (mean, u) = (4.0, 3.0);
        let intervals = [(-0.05, 1.55), (15.4, 17.0)];
        let normal = Normal::new(mean, u).unwrap();
        let (mut sums, step) = ([0.0; 3], 1e-4);
        for (low, high) in intervals {
            let count = ((high - low) / step) as usize;
            for x in (0..count).map(|k| low + (k as f64 + 0.5) * step) {
                let p = normal.pdf(x) * step;
                sums = [sums[0] + p, sums[1] + p * x, sums[2] + p * x * x];
            }
        }
        let wanted = sums[1] / sums[0];
        let (found, variance) = left_of(mean, u, &intervals).unwrap();
        assert!((found - wanted).abs() < 1e-4, "{found} {wanted}");
        assert!((variance - (sums[2] / sums[0] - wanted * wanted)).abs() < 1e-3);
        assert_eq!(left_of(3.0, 0.05, &intervals), None);
    }
}
