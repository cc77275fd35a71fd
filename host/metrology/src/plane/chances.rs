//! The chance that the gap is out of its band somewhere on the fine grid, with the sign of what all
//! readings share.
//!
//! A zero that is wrong moves every gap the same way: it never takes one place out below and another
//! out above, and where it takes one out it takes its neighbours out with it. So the chance is worked
//! out for one value of it after the other, and then averaged: for each value the sum over the board
//! (Boole's inequality), no more than one.

use super::fit::PlaneFit;
use super::prior::{Lifts, Told};
use crate::coverage::nonconformance_probability;
use skimgauge_quantity::{Band, Mm};

/// Where what is shared is less than this share of all else that is uncertain at every place, its
/// sign says nothing.
const SAYS_NOTHING: f64 = 0.1;

/// Up to this share three values of it stand for all.
const FEW: f64 = 0.5;

/// What goes together over the board, in two parts: what moves the gaps one way, and what moves large
/// gaps one way and small ones the other.
pub(crate) type Together = [f64; 2];

/// Values of what goes together, in standard uncertainties, with their weights.
#[derive(Debug, Clone, PartialEq)]
struct Steps(Vec<(Together, f64)>);

impl Steps {
    /// Where each part is this large, at most, beside all else that is uncertain.
    fn of(shares: Together) -> Self {
        let [one, other] = shares.map(values);
        let pairs = one.iter().flat_map(|a| other.iter().map(move |b| (a, b)));
        Self(pairs.map(|((e, v), (f, w))| ([*e, *f], v * w)).collect())
    }
}

/// Values of one part, with their weights.
fn values(share: f64) -> Vec<(f64, f64)> {
    if share < SAYS_NOTHING {
        return vec![(0.0, 1.0)];
    }
    if share < FEW {
        // Gauss and Hermite's three values, for a normal distribution.
        let side = 3f64.sqrt();
        return vec![(0.0, 2.0 / 3.0), (-side, 1.0 / 6.0), (side, 1.0 / 6.0)];
    }
    // Evenly spaced ones, exact for what is smooth and right to half a step for what is not.
    let at = (-12..=12).map(|k| f64::from(k) / 3.0);
    let density = |e: f64| (-e * e / 2.0).exp();
    let whole: f64 = at.clone().map(density).sum();
    at.map(|e| (e, density(e) / whole)).collect()
}

/// What all readings share, over the board: each error is so much at a gap of nothing and so much a
/// millimetre, so that all of them together are two errors, one of the middle gap and one that is
/// nothing there.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Common {
    /// Sums over the errors: of squares at a gap of nothing, of products, of squares a millimetre.
    sums: [f64; 3],
    middle_mm: f64,
    /// Of a gap's distance from the middle one.
    turning: f64,
}

impl Common {
    /// Over a board whose gaps are about so much, mm.
    pub(crate) fn of(fit: &PlaneFit, middle_mm: f64) -> Self {
        let sums = fit.shared().iter().fold([0.0; 3], |[a, b, c], shared| {
            let (here, per_mm) = (shared.effect_mm(0.0), shared.per_mm);
            [a + here * here, b + here * per_mm, c + per_mm * per_mm]
        });
        let [a, b, c] = sums;
        let variance = a + 2.0 * b * middle_mm + c * middle_mm * middle_mm;
        let left = if variance > 1e-18 { (a * c - b * b) / variance } else { c };
        Self { sums, middle_mm, turning: left.max(0.0).sqrt() }
    }

    /// What it does to a gap, mm.
    pub(crate) fn at(&self, gap_mm: f64) -> Together {
        let ([a, b, c], middle) = (self.sums, self.middle_mm);
        let variance = a + 2.0 * b * middle + c * middle * middle;
        let with = a + b * (gap_mm + middle) + c * gap_mm * middle;
        let one = if variance > 1e-18 { with / variance.sqrt() } else { 0.0 };
        [one, self.turning * (gap_mm - middle)]
    }
}

/// A place of the fine grid: its gap and what is uncertain of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Doubt {
    pub(crate) gap_mm: f64,
    /// Variance of it but for what goes together and the board's local form, mm^2.
    pub(crate) own: f64,
    /// What goes together, signed, mm.
    pub(crate) together_mm: Together,
    /// Variance of the board's local form, mm^2.
    pub(crate) local: f64,
}

/// The chances of all places, for each value of what goes together.
#[derive(Debug, Clone)]
pub(crate) struct Chances {
    steps: Steps,
    /// A part whose sign says nothing counts at each place by itself.
    folded: [bool; 2],
    band: Band<Mm>,
    lifts: Lifts,
    /// By place, then by value: of being out, and of being out by a lift, beside how many are
    /// expected there.
    at: Vec<(f64, f64)>,
}

impl Chances {
    /// Of these places, with what is told of a lift at each.
    pub(crate) fn new(doubts: &[Doubt], told: &[Told], lifts: Lifts, band: Band<Mm>) -> Self {
        let shares = doubts.iter().fold([0.0f64; 2], |most, d| {
            let beside = (d.own + d.local).sqrt().max(1e-9);
            [0, 1].map(|part| most[part].max(d.together_mm[part].abs() / beside))
        });
        let steps = Steps::of(shares);
        let folded = shares.map(|share| share < SAYS_NOTHING);
        let at = vec![(0.0, 0.0); doubts.len() * steps.0.len()];
        let mut chances = Self { steps, folded, band, lifts, at };
        for (k, (doubt, told)) in doubts.iter().zip(told).enumerate() {
            chances.set(k, doubt, told);
        }
        chances
    }

    /// Works one place out anew.
    pub(crate) fn set(&mut self, place: usize, doubt: &Doubt, told: &Told) {
        let steps = self.steps.0.len();
        let part = |k: usize| if self.folded[k] { doubt.together_mm[k].powi(2) } else { 0.0 };
        let folded = part(0) + part(1);
        let rest_mm = (doubt.own + folded).sqrt();
        let u_mm = (doubt.own + folded + doubt.local).sqrt().max(1e-9);
        for (step, ([e, f], _)) in self.steps.0.iter().enumerate() {
            let [one, other] = doubt.together_mm;
            let gap_mm = doubt.gap_mm - e * one - f * other;
            let (low, high) = (gap_mm - self.band.low.0, self.band.high.0 - gap_mm);
            self.at[place * steps + step] = (
                nonconformance_probability(gap_mm, u_mm, self.band.low.0, self.band.high.0),
                self.lifts.chance(told, low, high, rest_mm),
            );
        }
    }

    fn of(&self, place: usize) -> &[(f64, f64)] {
        let steps = self.steps.0.len();
        &self.at[place * steps..(place + 1) * steps]
    }

    /// The chance that the gap is out at a place, and that it is by a lift, beside how many are
    /// expected there.
    pub(crate) fn at(&self, place: usize) -> (f64, f64) {
        let weighted = self.steps.0.iter().zip(self.of(place));
        weighted
            .fold((0.0, 0.0), |sum, ((_, w), (out, lifted))| (sum.0 + w * out, sum.1 + w * lifted))
    }

    /// Bound on the chance that it is out anywhere: one place stands for this share of a sum over the
    /// board, and so many lifts are expected at each.
    pub(crate) fn anywhere(&self, share: f64, lifts_at: impl Fn(usize) -> f64) -> f64 {
        let steps = self.steps.0.len();
        let mut sums = vec![(0.0, 0.0, 0.0f64); steps];
        for (place, chances) in self.at.chunks_exact(steps).enumerate() {
            let lifts = lifts_at(place);
            for ((sum, lifted, most), (out, lift)) in sums.iter_mut().zip(chances) {
                *sum += share * out;
                *lifted += lifts * lift;
                *most = most.max(*out);
            }
        }
        let whole = sums.iter().map(|(sum, lifted, most)| (sum.max(*most) + lifted).min(1.0));
        self.steps.0.iter().zip(whole).map(|((_, weight), chance)| weight * chance).sum()
    }
}
