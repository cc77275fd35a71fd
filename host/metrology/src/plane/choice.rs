//! Where to measure: the fewest stations that decide the plane, then the one that would help most.

use super::board::{Board, ControlPoint};
use super::fit::{Bearings, PlaneFit, UNKNOWNS, dot, kinds_of, quadratic, times};
use super::refusal::SAME_PLACE_MM;
use crate::coverage::conformance_probability;
use crate::trim::person::Person;
use nalgebra::DMatrix;
use skimgauge_model::Station;

/// What one further station would do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Choice {
    /// Index into the candidates.
    pub candidate: usize,
    /// Standard uncertainty of the worst control point after it, mm.
    pub u_after_mm: f64,
    /// Standard uncertainty of the worst control point now, mm.
    pub u_now_mm: f64,
}

/// Which of `candidates`, taken once with standard uncertainty `u_mm`, would most lower the
/// uncertainty of the worst control point. `None` without candidates or control points, or where
/// `u_mm` is not above zero.
pub fn next_station(
    fit: &PlaneFit,
    candidates: &[Station],
    points: &[ControlPoint],
    u_mm: f64,
) -> Option<Choice> {
    if u_mm.is_nan() || u_mm <= 0.0 || points.is_empty() {
        return None;
    }
    let bearings = fit.bearings;
    let at: Vec<[f64; UNKNOWNS]> = points.iter().map(|p| bearings.at(p.x_mm, p.y_mm)).collect();
    let now: Vec<f64> = at.iter().map(|b| quadratic(&fit.single, b)).collect();
    let rough = fit.rough;
    let worst = |variance: &dyn Fn(usize) -> f64| {
        (0..points.len())
            .map(|i| variance(i).max(0.0) + fit.shared_variance)
            .fold(0.0, f64::max)
            .sqrt()
    };
    let u_now_mm = worst(&|i| {
        let (share, own) = fit.answers(&points[i]);
        share * share * now[i] + own
    });
    let after = |station: &Station| {
        let bearing = bearings.at(station.at.x.0, station.at.y.0);
        let gain = times(&fit.single, &bearing);
        let spread = u_mm * u_mm + rough + dot(&gain, &bearing);
        worst(&|i| {
            let point = &points[i];
            let (mut share, mut own) = fit.answers(point);
            if (station.at.x.0 - point.x_mm).hypot(station.at.y.0 - point.y_mm) <= SAME_PLACE_MM {
                // A further take right here tells the board's own height as well.
                let before = if share < 1.0 { own / (1.0 - share) } else { f64::INFINITY };
                let variance = 1.0 / (1.0 / (u_mm * u_mm) + 1.0 / before);
                let trust = if rough > 0.0 { rough / (rough + variance) } else { 0.0 };
                (share, own) = (1.0 - trust, trust * variance);
            }
            share * share * (now[i] - dot(&gain, &at[i]).powi(2) / spread) + own
        })
    };
    candidates
        .iter()
        .enumerate()
        .map(|(candidate, station)| Choice { candidate, u_after_mm: after(station), u_now_mm })
        .min_by(|a, b| a.u_after_mm.total_cmp(&b.u_after_mm))
}

/// The fewest stations that, with those already `taken`, decide the plane over the board; of all
/// such sets the one with the smallest uncertainty at the worst control point. Indices into
/// `candidates`, in their order; empty where what is taken decides it already, `None` where no set
/// does. `lean_known` saves one station.
pub fn fewest_stations(
    taken: &[Station],
    candidates: &[Station],
    points: &[ControlPoint],
    board: &Board,
    lean_known: bool,
) -> Option<Vec<usize>> {
    let design = Design::new(board, points, lean_known);
    let mut base = design.prior();
    for station in taken {
        design.add(&mut base, station);
    }
    for size in 0..=3 {
        let mut best: Option<(f64, Vec<usize>)> = None;
        each_subset(candidates.len(), size, &mut |subset| {
            let mut information = base.clone();
            for &index in subset {
                design.add(&mut information, &candidates[index]);
            }
            if let Some(worst) = design.worst_variance(information)
                && best.as_ref().is_none_or(|(w, _)| worst < w * (1.0 - 1e-12))
            {
                best = Some((worst, subset.to_vec()));
            }
        });
        if let Some((_, subset)) = best {
            return Some(subset);
        }
    }
    None
}

/// The stations to take before the first turn: of the sets that decide the plane, the one that
/// costs least time, another round and its chance counted. `typical_mm` is how far the worst point
/// may be off before another round is needed, mm (about half the band, less half of what the board
/// usually strays); `round_s` what that round costs. Indices into `candidates`, empty where none
/// decides the plane.
pub fn stations_to_take(
    candidates: &[Station],
    points: &[ControlPoint],
    board: &Board,
    typical_mm: f64,
    person: &Person,
    round_s: f64,
) -> Vec<usize> {
    let Some(mut chosen) = fewest_stations(&[], candidates, points, board, false) else {
        return Vec::new();
    };
    let design = Design::new(board, points, false);
    let information_of = |chosen: &[usize]| {
        let mut information = design.prior();
        chosen.iter().for_each(|&k| design.add(&mut information, &candidates[k]));
        information
    };
    let seconds = |count: usize, variance: f64| {
        let chance = conformance_probability(0.0, variance.sqrt(), -typical_mm, typical_mm);
        person.stations_s(count) + (1.0 - chance) * round_s
    };
    let Some(first) = design.worst_variance(information_of(&chosen)) else { return chosen };
    let mut best = (seconds(chosen.len(), first), chosen.clone());
    while chosen.len() < candidates.len() {
        let information = information_of(&chosen);
        let after = |k: usize| {
            let mut information = information.clone();
            design.add(&mut information, &candidates[k]);
            design.worst_variance(information).unwrap_or(f64::INFINITY)
        };
        let next = (0..candidates.len())
            .filter(|k| !chosen.contains(k))
            .map(|k| (after(k), k))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((variance, k)) = next else { break };
        chosen.push(k);
        let cost = seconds(chosen.len(), variance);
        if cost < best.0 {
            best = (cost, chosen.clone());
        }
    }
    best.1
}

/// Take uncertainty that sets are compared with, mm; it matters only beside what is unknown of the
/// board.
const TYPICAL_U_MM: f64 = 0.05;

/// A plane whose worst control point is less certain than this, mm, is not decided: its stations
/// are all but in a line.
const DECIDED_U_MM: f64 = 50.0 * TYPICAL_U_MM;

struct Design<'a> {
    bearings: Bearings,
    kinds: Vec<usize>,
    points: &'a [ControlPoint],
    lean_known: bool,
}

impl<'a> Design<'a> {
    fn new(board: &'a Board, points: &'a [ControlPoint], lean_known: bool) -> Self {
        Self { bearings: Bearings(board.unknown), kinds: kinds_of(board), points, lean_known }
    }

    fn bearing(&self, x_mm: f64, y_mm: f64) -> Vec<f64> {
        let all = self.bearings.at(x_mm, y_mm);
        (0..3).chain(self.kinds.iter().map(|k| 3 + k)).map(|k| all[k]).collect()
    }

    fn prior(&self) -> DMatrix<f64> {
        let mut information = DMatrix::zeros(3 + self.kinds.len(), 3 + self.kinds.len());
        (3..information.nrows()).for_each(|k| information[(k, k)] = 1.0);
        if self.lean_known {
            // One tenth of a millimetre per metre: what an inclinometer by reversal gives.
            information[(2, 2)] += 100.0;
        }
        information
    }

    fn add(&self, information: &mut DMatrix<f64>, station: &Station) {
        let bearing = nalgebra::DVector::from_vec(self.bearing(station.at.x.0, station.at.y.0));
        *information += &bearing * bearing.transpose() / (TYPICAL_U_MM * TYPICAL_U_MM);
    }

    fn worst_variance(&self, information: DMatrix<f64>) -> Option<f64> {
        let covariance = information.cholesky()?.inverse();
        let worst = self
            .points
            .iter()
            .map(|p| {
                let bearing = nalgebra::DVector::from_vec(self.bearing(p.x_mm, p.y_mm));
                bearing.dot(&(&covariance * &bearing))
            })
            .fold(0.0, f64::max);
        (worst.is_finite() && worst < DECIDED_U_MM * DECIDED_U_MM).then_some(worst)
    }
}

/// Calls `with` for every set of `size` of the numbers below `count`, in rising order.
fn each_subset(count: usize, size: usize, with: &mut dyn FnMut(&[usize])) {
    fn extend(
        start: usize,
        count: usize,
        size: usize,
        chosen: &mut Vec<usize>,
        with: &mut dyn FnMut(&[usize]),
    ) {
        if chosen.len() == size {
            return with(chosen);
        }
        for next in start..count {
            chosen.push(next);
            extend(next + 1, count, size, chosen, with);
            chosen.pop();
        }
    }
    extend(0, count, size, &mut Vec::with_capacity(size), with);
}
