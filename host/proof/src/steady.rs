//! A contact that is held still: how much it scatters, and whether it is lost.

use crate::plan::Ask;
use crate::raw::{Asked, Came, Proof, Report};
use crate::taps::{at_asked_place, is_palm};
use serde::Serialize;
use skimgauge_quantity::Mm;
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// The beginning of a hold, while the finger still settles, ms.
const SETTLES_MS: f64 = 300.0;
/// Fewest reports from which a scatter is worked out.
const FEWEST: usize = 20;

/// One hold.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hold {
    /// At which mark.
    pub mark: u8,
    /// Reports used.
    pub reports: usize,
    /// How long, s.
    pub held_s: f64,
    /// Scatter about a steady drift, standard deviation on one axis; `None` of too few reports (a
    /// display may tell nothing while nothing changes).
    #[serde(rename = "scatter_mm")]
    pub scatter: Option<Mm>,
    /// With 95 % confidence the scatter is below this.
    #[serde(rename = "below_mm")]
    pub below: Option<Mm>,
    /// And above this.
    #[serde(rename = "above_mm")]
    pub above: Option<Mm>,
    /// Farthest report from their mean.
    #[serde(rename = "farthest_mm")]
    pub farthest: Mm,
    /// How often the contact was lost and came back.
    pub lost: usize,
}

/// Every hold.
pub fn holds(proof: &Proof) -> Vec<Hold> {
    proof.standing().filter_map(|asked| hold(proof, asked)).collect()
}

fn hold(proof: &Proof, asked: &Asked) -> Option<Hold> {
    let Ask::Hold { mark } = asked.ask else { return None };
    if asked.came != Came::Done {
        return None;
    }
    let own: Vec<_> = asked
        .contacts
        .iter()
        .filter(|contact| at_asked_place(proof, asked, contact) && !is_palm(proof, contact))
        .collect();
    let longest = own
        .iter()
        .max_by(|a, b| (a.up_ms() - a.down_ms()).total_cmp(&(b.up_ms() - b.down_ms())))?;
    let from = longest.down_ms() + SETTLES_MS;
    let held: Vec<Report> =
        longest.reports().into_iter().filter(|report| report.at_ms >= from).collect();
    let places: Vec<(f64, [f64; 2])> = held
        .iter()
        .map(|report| {
            let at = proof.place(*report);
            (report.at_ms, [at.x.0, at.y.0])
        })
        .collect();
    let spread = (places.len() >= FEWEST).then(|| scatter(&places)).flatten();
    Some(Hold {
        mark,
        reports: places.len(),
        held_s: (longest.up_ms() - longest.down_ms()).max(0.0) / 1000.0,
        scatter: spread.map(|spread| Mm(spread.s)),
        below: spread.map(|spread| Mm(spread.below)),
        above: spread.map(|spread| Mm(spread.above)),
        farthest: Mm(farthest(&places)),
        lost: own.len() - 1,
    })
}

fn farthest(places: &[(f64, [f64; 2])]) -> f64 {
    if places.is_empty() {
        return 0.0;
    }
    let n = places.len() as f64;
    let mean: [f64; 2] =
        std::array::from_fn(|axis| places.iter().map(|(_, at)| at[axis]).sum::<f64>() / n);
    places.iter().map(|(_, at)| (at[0] - mean[0]).hypot(at[1] - mean[1])).fold(0.0, f64::max)
}

/// A standard deviation with its 95 % bounds, one-sided each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spread {
    pub(crate) s: f64,
    pub(crate) below: f64,
    pub(crate) above: f64,
}

/// Scatter about a straight drift on both axes. Reports that follow their neighbours count for
/// fewer: `n (1 - r) / (1 + r)` with `r` the correlation of neighbours.
pub(crate) fn scatter(places: &[(f64, [f64; 2])]) -> Option<Spread> {
    let n = places.len();
    let left: Vec<Vec<f64>> = (0..2).map(|axis| about_drift(places, axis)).collect();
    let squares: f64 = left.iter().flatten().map(|left| left * left).sum();
    let follows: f64 =
        left.iter().flat_map(|left| left.windows(2)).map(|pair| pair[0] * pair[1]).sum();
    let plain_dof = 2.0 * n as f64 - 4.0;
    if plain_dof < 2.0 {
        return None;
    }
    let r = if squares > 0.0 { (follows / squares).clamp(0.0, 0.99) } else { 0.0 };
    let dof = (plain_dof * (1.0 - r) / (1.0 + r)).max(2.0);
    let s = (squares / plain_dof).sqrt();
    let chi = ChiSquared::new(dof).ok()?;
    let bound = |probability: f64| s * (dof / chi.inverse_cdf(probability)).sqrt();
    Some(Spread { s, below: bound(0.05), above: bound(0.95) })
}

fn about_drift(places: &[(f64, [f64; 2])], axis: usize) -> Vec<f64> {
    let n = places.len() as f64;
    let t0 = places.iter().map(|(t, _)| t).sum::<f64>() / n;
    let x0 = places.iter().map(|(_, at)| at[axis]).sum::<f64>() / n;
    let tt: f64 = places.iter().map(|(t, _)| (t - t0).powi(2)).sum();
    let tx: f64 = places.iter().map(|(t, at)| (t - t0) * (at[axis] - x0)).sum();
    let slope = if tt > 0.0 { tx / tt } else { 0.0 };
    places.iter().map(|(t, at)| at[axis] - x0 - slope * (t - t0)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of 100 independent readings the 95 % upper bound of a standard deviation is 1.13 times it
    /// (chi-square table: 0.05 quantile at 99 degrees of freedom 77.05; from memory).
    #[test]
    fn the_upper_bound_of_a_scatter_is_that_of_the_chi_square_table() {
        let chi = ChiSquared::new(99.0).unwrap();
        assert!(((99.0 / chi.inverse_cdf(0.05)).sqrt() - 1.1335).abs() < 1e-3);
    }

    #[test]
    fn a_steady_drift_is_no_scatter() {
        let places: Vec<(f64, [f64; 2])> = (0..100)
            .map(|at| (f64::from(at), [0.3 * f64::from(at), 5.0 - 0.1 * f64::from(at)]))
            .collect();
        assert!(scatter(&places).unwrap().s < 1e-9);
    }
}
