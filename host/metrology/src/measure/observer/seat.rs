//! How the head stands: its tilt, whether it rests, and whether it stands as the board does.

use super::super::limits::BoardTilt;
use super::same::Same;
use std::collections::VecDeque;

/// Tilts kept: more than the longest mean.
const KEPT: usize = 128;
/// For a level so many readings at rest are enough: half a second.
const LEVEL: usize = 45;
/// A tilt whose two halves differ by less than this is at rest, degrees: five times their own
/// scatter.
const REST_DEG: f64 = 0.012;
/// The inclinometer's filter lets neighbours hang together: this many readings count as one.
const CORRELATED: f64 = 8.0;
/// The inclinometer's step, degrees: 90 / 2^14.
const STEP_DEG: f64 = 90.0 / 16_384.0;
/// From so many takes on their middle tells how the board stands, to within what its own shape
/// turns a head, degrees: a board that bows by 1 mm over 1.3 m turns it by 0.17 at either edge.
const BOARD_TAKES: usize = 3;
const BOARD_SHAPE_DEG: f64 = 0.6;
/// Takes remembered.
const MOST_TAKES: usize = 64;

/// A mean tilt, degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stands {
    /// Level and lean.
    pub deg: [f64; 2],
    /// Standard uncertainty of either, without that of the head's own offsets.
    pub own_u_deg: f64,
}

/// Follows the head's tilt.
#[derive(Debug, Clone, Default)]
pub(super) struct Seat {
    /// Microdegrees, the newest last.
    tilts: VecDeque<[i32; 2]>,
    same: Same<[i32; 2]>,
    taken: Vec<[f64; 2]>,
}

impl Seat {
    /// The next reading's level and lean, microdegrees, if it has any.
    pub(super) fn reading(&mut self, tilt_udeg: Option<[i32; 2]>, at_s: f64) {
        self.same.follow(tilt_udeg, at_s);
        match tilt_udeg {
            Some(tilt) => {
                if self.tilts.len() == KEPT {
                    self.tilts.pop_front();
                }
                self.tilts.push_back(tilt);
            }
            None => self.tilts.clear(),
        }
    }

    /// What was read before says nothing of what comes.
    pub(super) fn interrupt(&mut self) {
        self.tilts.clear();
        self.same = Same::default();
    }

    /// The head moved: only its newest tilts are of where it stands now.
    pub(super) fn moved(&mut self, newest: usize) {
        let old = self.tilts.len().saturating_sub(newest);
        self.tilts.drain(..old);
    }

    /// Something was taken while it stood so, degrees.
    pub(super) fn taken(&mut self, deg: [f64; 2]) {
        if self.taken.len() == MOST_TAKES {
            self.taken.remove(0);
        }
        self.taken.push(deg);
    }

    /// Whether the inclinometer stands still as no living one does.
    pub(super) fn is_frozen(&self, at_s: f64) -> bool {
        self.same.is_frozen(at_s)
    }

    /// Mean of the last `count` tilts, degrees; `None` if there are fewer.
    pub(super) fn mean_deg(&self, count: usize) -> Option<[f64; 2]> {
        let newest = || self.tilts.iter().rev().take(count);
        let mean =
            |axis: usize| newest().map(|t| f64::from(t[axis])).sum::<f64>() / count as f64 * 1e-6;
        (count > 0 && self.tilts.len() >= count).then(|| [mean(0), mean(1)])
    }

    /// How a head stands that is being shaken, degrees, over a second or so: weights that fall to
    /// either side leave hardly anything of what swings to and fro.
    pub(super) fn swings_about_deg(&self) -> Option<[f64; 2]> {
        const HALF: usize = 50;
        if self.tilts.len() < 2 * HALF {
            return None;
        }
        let weight = |k: usize| (HALF as f64 - (k as f64 - (HALF as f64 - 0.5)).abs()) * 1e-6;
        let mean = |axis: usize| {
            let newest = self.tilts.iter().rev().take(2 * HALF).enumerate();
            newest.map(|(k, t)| weight(k) * f64::from(t[axis])).sum::<f64>() / (HALF * HALF) as f64
        };
        Some([mean(0), mean(1)])
    }

    /// Whether the head did not turn over its last `count` tilts.
    fn rests_over(&self, count: usize) -> bool {
        let half = count / 2;
        let mean = |axis: usize, from: usize| {
            let newest = self.tilts.iter().rev().skip(from).take(half);
            newest.map(|t| f64::from(t[axis]) * 1e-6).sum::<f64>() / half as f64
        };
        (0..2).all(|axis| (mean(axis, 0) - mean(axis, half)).abs() < REST_DEG)
    }

    /// Whether the tilt has been at rest for the last half second, wherever the head stands.
    pub(super) fn rests(&self) -> bool {
        self.tilts.len() >= LEVEL && self.rests_over(LEVEL)
    }

    /// Level and lean over the last readings: over as many as nothing has turned in, a second at
    /// most.
    pub(super) fn stands(&self) -> Option<Stands> {
        const STRETCHES: [usize; 3] = [100, 50, 20];
        let still = STRETCHES
            .into_iter()
            .find(|&count| count <= self.tilts.len() && self.rests_over(count));
        let count = self.tilts.len().min(still.unwrap_or(20));
        if count < 3 {
            return None;
        }
        let n = count as f64;
        let newest = || self.tilts.iter().rev().take(count);
        let deg = self.mean_deg(count)?;
        let variance = [0, 1].map(|axis| {
            newest().map(|t| (f64::from(t[axis]) * 1e-6 - deg[axis]).powi(2)).sum::<f64>()
                / (n - 1.0)
        });
        let scatter = variance[0].max(variance[1]) * (CORRELATED / n).min(1.0);
        Some(Stands { deg, own_u_deg: (scatter + STEP_DEG * STEP_DEG / 12.0).sqrt() })
    }

    /// Whether a head that stands so is not seated, on a board that is said to stand as `stated`.
    pub(super) fn is_off(&self, deg: [f64; 2], stated: BoardTilt) -> bool {
        let board = self.board(stated);
        let off = [deg[0] - board.level_deg, deg[1] - board.lean_deg];
        off.iter().any(|d| d.abs() > board.tolerance_deg)
    }

    /// How the board stands: as it is said to, until enough takes have shown it better.
    fn board(&self, stated: BoardTilt) -> BoardTilt {
        if self.taken.len() < BOARD_TAKES {
            return stated;
        }
        let median = |axis: usize| {
            let mut tilts: Vec<f64> = self.taken.iter().map(|t| t[axis]).collect();
            tilts.sort_by(f64::total_cmp);
            tilts[tilts.len() / 2]
        };
        let tolerance_deg = stated.tolerance_deg.min(BOARD_SHAPE_DEG);
        BoardTilt { level_deg: median(0), lean_deg: median(1), tolerance_deg }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seat(tilts: impl IntoIterator<Item = [i32; 2]>) -> Seat {
        let mut seat = Seat::default();
        for (k, tilt) in tilts.into_iter().enumerate() {
            seat.reading(Some(tilt), k as f64 * 0.011);
        }
        seat
    }

    /// The last step of a living inclinometer.
    fn step(k: i32) -> i32 {
        5_493 * (k % 2)
    }

    #[test]
    fn rest_is_half_a_second_without_a_turn() {
        assert!(!seat((0..44).map(|k| [step(k), 0])).rests());
        assert!(seat((0..45).map(|k| [step(k), 0])).rests());
        assert!(!seat((0..45).map(|k| [1_000 * k, 0])).rests());
        let mut turned = seat((0..60).map(|k| [step(k), 0]));
        turned.moved(3);
        assert!(!turned.rests() && turned.mean_deg(4).is_none());
    }

    #[test]
    fn a_longer_rest_is_surer_and_a_turn_leaves_only_what_came_after_it() {
        let long = seat((0..100).map(|k| [step(k), -step(k)])).stands().unwrap();
        assert!(long.own_u_deg < 0.003, "{long:?}");
        assert!((long.deg[0] - 0.0027).abs() < 0.001, "{long:?}");
        let turned = seat((0..100).map(|k| [step(k) + if k < 70 { 0 } else { 500_000 }, 0]));
        assert!((turned.stands().unwrap().deg[0] - 0.5).abs() < 0.01);
    }

    #[test]
    fn a_head_that_swings_stands_where_it_swings_about() {
        for hz in [7.3, 11.0, 17.2, 23.0, 31.7] {
            let swing = |k: i32| 6e6 * (std::f64::consts::TAU * hz * f64::from(k) / 90.0).sin();
            let seat = seat((0..120).map(|k| [200_000 + swing(k) as i32, 0]));
            let [level_deg, _] = seat.swings_about_deg().unwrap();
            assert!((level_deg - 0.2).abs() < 0.03, "{hz} Hz: {level_deg}");
        }
    }

    #[test]
    fn three_takes_show_how_the_board_stands() {
        let mut seat = Seat::default();
        let stated = BoardTilt::default();
        assert!(!seat.is_off([2.5, 0.0], stated) && seat.is_off([0.0, 3.1], stated));
        for deg in [[1.0, 0.1], [1.1, 0.0], [0.9, -0.1]] {
            seat.taken(deg);
        }
        assert!(seat.is_off([0.3, 0.0], stated) && !seat.is_off([1.5, 0.5], stated));
    }

    #[test]
    fn the_same_tilt_for_a_quarter_of_a_second_is_frozen() {
        let seat = seat((0..30).map(|_| [7, 9]));
        assert!(seat.is_frozen(0.32) && !seat.is_frozen(0.2));
    }
}
