//! How much the gap scatters from seat to seat: as stated, and as repeated seats show.
//!
//! A head clipped on again at the same place does not read the same. How much it differs is stated
//! for every head, and each job shows it: `zero` seats the head several times on the gauge, and a
//! station taken twice is a pair. Both together give the scatter that is used, with its degrees of
//! freedom; where they contradict one another, that is said, and the seats are believed.
//!
//! The degrees of freedom carry that the scatter may be larger than the two together have it. To hold
//! it at no less than stated besides would count that twice: intervals then hold 97 % where 95 % is
//! said.

use crate::coverage::chi_square_tail;

/// Seats disagree with the statement where chance alone makes them differ as much less often than
/// this.
const RARE: f64 = 0.05;

/// What is stated of the scatter from seat to seat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StatedSeat {
    /// Standard deviation, mm. Above zero.
    pub u_mm: f64,
    /// Weighs as much as so many degrees of freedom of observed seats.
    pub dof: f64,
}

/// The scatter from seat to seat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seating {
    /// Standard deviation to be used for one seat, mm.
    pub u_mm: f64,
    /// Degrees of freedom of it.
    pub dof: f64,
    /// Standard deviation that the repeated seats show, mm; `None` without any.
    pub shown_mm: Option<f64>,
    /// The repeated seats scatter more than stated, by more than chance explains.
    pub is_worse: bool,
}

impl Seating {
    /// From what is stated and groups of readings, each of one place from several seats: the seats of
    /// `zero` on the gauge, a station taken again. Readings that are not numbers are left out.
    pub fn of(stated: StatedSeat, seats: &[&[f64]]) -> Self {
        let (mut sum, mut free) = (0.0, 0.0);
        for group in seats {
            let usable: Vec<f64> = group.iter().copied().filter(|g| g.is_finite()).collect();
            if usable.len() < 2 {
                continue;
            }
            let mean = usable.iter().sum::<f64>() / usable.len() as f64;
            sum += usable.iter().map(|g| (g - mean) * (g - mean)).sum::<f64>();
            free += usable.len() as f64 - 1.0;
        }
        if free < 1.0 {
            return Self { u_mm: stated.u_mm, dof: stated.dof, shown_mm: None, is_worse: false };
        }
        let stated2 = stated.u_mm * stated.u_mm;
        let is_worse = chi_square_tail(sum / stated2, free as usize) < RARE;
        // Where they contradict the statement, the seats alone are believed.
        let weight = if is_worse { 0.0 } else { stated.dof };
        let dof = weight + free;
        let u2 = (weight * stated2 + sum) / dof;
        Self { u_mm: u2.sqrt(), dof, shown_mm: Some((sum / free).sqrt()), is_worse }
    }
}
