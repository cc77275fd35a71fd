//! The readings of one place, as one.

use super::consistency::PlaceRead;
use super::observation::GapObservation;
use super::refusal::SAME_PLACE_MM;
use crate::coverage::chi_square_tail;
use std::collections::HashMap;

/// Readings at one place that differ as much as this less often than once in so many do not agree.
const RARE: f64 = 0.01;

impl PlaceRead {
    pub(super) fn of(gap: &GapObservation) -> Self {
        Self {
            name: gap.place(),
            x_mm: gap.x_mm,
            y_mm: gap.y_mm,
            gap_mm: gap.gap_mm,
            u_mm: gap.u_mm,
            dof: gap.dof.is_finite().then_some(gap.dof),
            readings: 1,
            differ_mm: None,
            redundancy: 0.0,
        }
    }
}

pub(super) fn near(place: &PlaceRead, gap: &GapObservation) -> bool {
    (place.x_mm - gap.x_mm).hypot(place.y_mm - gap.y_mm) <= SAME_PLACE_MM
}

/// The places, and for each reading its place. Readings are of one place that have one name, or,
/// without a name, one position.
pub(super) fn gathered(gaps: &[GapObservation]) -> (Vec<PlaceRead>, Vec<usize>) {
    let mut known: HashMap<(Option<&str>, u64, u64), usize> = HashMap::new();
    let mut rows: Vec<Vec<usize>> = Vec::new();
    let place_of = gaps
        .iter()
        .enumerate()
        .map(|(row, gap)| {
            let key = match &gap.station {
                Some(name) => (Some(name.as_str()), 0, 0),
                None => (None, gap.x_mm.to_bits(), gap.y_mm.to_bits()),
            };
            let at = *known.entry(key).or_insert(rows.len());
            if at == rows.len() {
                rows.push(Vec::new());
            }
            rows[at].push(row);
            at
        })
        .collect();
    let places = rows
        .iter()
        .map(|rows| together(&rows.iter().map(|&row| &gaps[row]).collect::<Vec<_>>()))
        .collect();
    (places, place_of)
}

/// The readings of one place as one: weighted mean, and whether they agree.
fn together(gaps: &[&GapObservation]) -> PlaceRead {
    let mut place = PlaceRead::of(gaps[0]);
    if gaps.len() < 2 {
        return place;
    }
    let weights: f64 = gaps.iter().map(|g| g.u_mm.powi(-2)).sum();
    place.readings = gaps.len();
    place.gap_mm = gaps.iter().map(|g| g.gap_mm * g.u_mm.powi(-2)).sum::<f64>() / weights;
    place.u_mm = weights.powf(-0.5);
    let fourth: f64 =
        gaps.iter().map(|g| (g.u_mm.powi(-2) / weights * g.u_mm).powi(4) / g.dof).sum();
    place.dof = (fourth > 0.0).then(|| place.u_mm.powi(4) / fourth);
    let chi_square: f64 = gaps.iter().map(|g| ((g.gap_mm - place.gap_mm) / g.u_mm).powi(2)).sum();
    let free = gaps.len() - 1;
    if chi_square_tail(chi_square, free) < RARE {
        let of = |pick: fn(f64, f64) -> f64, from| gaps.iter().map(|g| g.gap_mm).fold(from, pick);
        place.differ_mm = Some(of(f64::max, f64::NEG_INFINITY) - of(f64::min, f64::INFINITY));
        place.u_mm *= (chi_square / free as f64).sqrt().max(1.0);
        place.dof = Some(free as f64);
    }
    place
}
