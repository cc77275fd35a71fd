//! A surveyed height that no board has: a digit too many, another unit, a gap read beside the light.

use super::{Nearest, Off};

/// A place that differs from what the others say of it by more than this, mm, ...
const MOST_MM: f64 = 3.0;

/// ... and by more than so many of the standard deviations that the prior states, is no board's form.
const MOST_DEVIATIONS: f64 = 8.0;

/// Where there are many places, so many round it say what it should be.
const ROUND: usize = 6;

/// A place whose height cannot be right.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slip {
    /// `[x, y, height]`, mm, as surveyed.
    pub place: [f64; 3],
    /// By how much it differs from what the places round it say, mm.
    pub off_mm: f64,
}

/// The worst of those places that differ by too much.
pub(super) fn among(places: &[[f64; 3]], off: &[Off]) -> Option<Slip> {
    let too_far = |off: &Off| off.mm.abs() > MOST_MM && off.deviations.abs() > MOST_DEVIATIONS;
    let slips = places.iter().zip(off).filter(|(_, off)| too_far(off));
    let worst = slips.max_by(|a, b| a.1.deviations.abs().total_cmp(&b.1.deviations.abs()))?;
    Some(Slip { place: *worst.0, off_mm: worst.1.mm })
}

impl Nearest {
    /// Among many places one whose neighbours, by their middle value, differ from it by too much.
    pub(super) fn slip(&self, places: &[[f64; 3]]) -> Option<Slip> {
        let off_mm = |at: usize| {
            let [x_mm, y_mm, _] = places[at];
            let mut near = self.near(places, x_mm, y_mm);
            near.retain(|(_, other)| *other != at);
            near.sort_by(|a, b| a.0.total_cmp(&b.0));
            let mut round: Vec<f64> =
                near.iter().take(ROUND).map(|(_, other)| self.residual_mm[*other]).collect();
            round.sort_by(f64::total_cmp);
            round.get(round.len() / 2).map_or(0.0, |middle| self.residual_mm[at] - middle)
        };
        let worst = (0..places.len())
            .map(|at| (at, off_mm(at)))
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
        (worst.1.abs() > MOST_MM).then(|| Slip { place: places[worst.0], off_mm: worst.1 })
    }
}

#[cfg(test)]
mod tests {
    use crate::plane::prior::BoardPrior;
    use crate::plane::surface::Surface;

    fn surface(columns: usize, rows: usize, wrong: Option<(usize, f64)>) -> Surface {
        let at = |k: usize, of: usize| k as f64 / (of - 1) as f64;
        let places = (0..columns * rows).map(|k| {
            let (a, d) = (at(k % columns, columns), at(k / columns, rows));
            let bowed = 1.5 * (1.0 - (2.0 * a - 1.0).powi(2)) + 0.8 * (4.0 * d).sin();
            let slip = wrong.filter(|(which, _)| *which == k).map_or(0.0, |(_, mm)| mm);
            [(a - 0.5) * 2000.0, -d * 1200.0, 0.3 + bowed + slip]
        });
        Surface::new(places.collect(), 0.05, [2000.0, 1200.0], BoardPrior::Unknown).unwrap()
    }

    #[test]
    fn a_height_with_a_digit_too_many_is_named_and_a_bent_board_is_not() {
        for (columns, rows) in [(3, 3), (5, 4), (9, 6), (15, 10)] {
            assert_eq!(surface(columns, rows, None).slip(), None, "{columns} by {rows}");
            let lift = surface(columns, rows, Some((columns + 1, 1.2)));
            assert_eq!(lift.slip(), None, "{columns} by {rows}: as high as lifts get");
            if columns > 3 {
                let slip = surface(columns, rows, Some((columns + 1, 9.0))).slip().unwrap();
                assert!((slip.off_mm - 9.0).abs() < 1.5, "{slip:?}");
                assert!(slip.place[2] > 9.0, "{slip:?}");
            }
        }
    }
}
