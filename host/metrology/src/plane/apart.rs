//! One place read twice in one round, and far apart.

use super::fit::CONTRADICTION_TAIL;
use super::gathered::gathered;
use super::observation::GapObservation;
use crate::coverage::chi_square_tail;

/// A place that was read twice, far apart.
#[derive(Debug, Clone, PartialEq)]
pub struct FarApart {
    /// The station's name, or the position in words.
    pub name: String,
    /// The lowest of the readings there and the highest, by their index.
    pub readings: [usize; 2],
    /// What those read, mm.
    pub gaps_mm: [f64; 2],
}

/// Places whose readings are so far apart that chance would have it less than once in a thousand:
/// one of them is wrong, or of another place.
pub fn far_apart(gaps: &[GapObservation]) -> Vec<FarApart> {
    let (places, place_of) = gathered(gaps);
    let apart = places.into_iter().enumerate().filter_map(|(at, place)| {
        let mut here: Vec<usize> = (0..gaps.len()).filter(|row| place_of[*row] == at).collect();
        here.sort_by(|a, b| gaps[*a].gap_mm.total_cmp(&gaps[*b].gap_mm));
        let (first, last) = (*here.first()?, *here.last()?);
        let weight = |row: &usize| gaps[*row].u_mm.powi(-2);
        let weights: f64 = here.iter().map(weight).sum();
        let mean = here.iter().map(|row| gaps[*row].gap_mm * weight(row)).sum::<f64>() / weights;
        let square = |row: &usize| (gaps[*row].gap_mm - mean).powi(2) * weight(row);
        let chi_square: f64 = here.iter().map(square).sum();
        let far =
            here.len() > 1 && chi_square_tail(chi_square, here.len() - 1) < CONTRADICTION_TAIL;
        far.then(|| FarApart {
            name: place.name,
            readings: [first, last],
            gaps_mm: [gaps[first].gap_mm, gaps[last].gap_mm],
        })
    });
    apart.collect()
}
