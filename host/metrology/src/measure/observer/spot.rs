//! The laser's spot: dirty or glossy patches, and a sensor that no longer moves.

use super::same::Same;
use std::collections::VecDeque;

/// A bad spot comes and goes: it is said for so long, s.
const ERRATIC_SAID_S: f64 = 2.0;
/// The stand-off scatters like a bad spot from so many times its own scatter on, and from this on,
/// mm.
const ERRATIC_RATIO: f64 = 5.0;
const ERRATIC_MM: f64 = 0.08;
/// So many losses of the spot within a second are a bad one.
const LOSSES: usize = 3;
/// A stand-off that stays within so little while a spot is judged comes from a sensor that no
/// longer moves: what is left is the converter's own noise, where a live sensor's is ten times
/// that.
const STILL_UM: i32 = 2;
/// And is said for so long after, s.
const STILL_SAID_S: f64 = 0.5;
/// A spot is judged over so long, s.
const JUDGED_S: f64 = 0.2;

/// Follows the stand-off beside the light.
#[derive(Debug, Clone, Default)]
pub(super) struct Spot {
    /// Stand-off and the sheet's middle, micrometres.
    recent: VecDeque<[i32; 2]>,
    same: Same<i32>,
    /// The stand-off's own scatter, mm.
    quiet_mm: Option<f64>,
    /// When it last stood still as no living sensor's does.
    still_at_s: Option<f64>,
    erratic_at_s: Option<f64>,
    lost_at_s: VecDeque<f64>,
}

impl Spot {
    /// The next reading's stand-off, if it has one.
    pub(super) fn reading(&mut self, stand_off_um: Option<i32>, at_s: f64) {
        self.same.follow(stand_off_um, at_s);
        while self.lost_at_s.front().is_some_and(|&t| at_s - t > 1.0 || t > at_s) {
            self.lost_at_s.pop_front();
        }
    }

    /// The spot was lost on a board where it had been.
    pub(super) fn lost(&mut self, at_s: f64) {
        self.lost_at_s.push_back(at_s);
    }

    /// What comes does not continue what was.
    pub(super) fn interrupt(&mut self) {
        self.recent.clear();
        self.still_at_s = None;
    }

    /// The link was interrupted.
    pub(super) fn forget(&mut self) {
        *self = Self { quiet_mm: self.quiet_mm, ..Self::default() };
    }

    /// A reading with stand-off and middle, at so many a second. A bad spot shows in the stand-off
    /// alone; all else that moves also moves the light in the eye.
    pub(super) fn follow(
        &mut self,
        [stand_off_um, middle_um]: [i32; 2],
        at_s: f64,
        rate_hz: f64,
        settled: bool,
    ) {
        let count = ((JUDGED_S * rate_hz) as usize).clamp(8, 100);
        while self.recent.len() >= count {
            self.recent.pop_front();
        }
        self.recent.push_back([stand_off_um, middle_um]);
        // The rate is measured, and wavers by a reading.
        if self.recent.len() + 2 < count {
            self.still_at_s = None;
            return;
        }
        let [stand_off_mm, middle_mm] = [self.white_mm(0), self.white_mm(1)];
        if stand_off_mm > ERRATIC_MM.max(ERRATIC_RATIO * self.quiet_mm.unwrap_or(0.0))
            && middle_mm < 0.5 * stand_off_mm
        {
            self.erratic_at_s = Some(at_s);
        }
        let (low, high) =
            self.recent.iter().fold((i32::MAX, i32::MIN), |(l, h), s| (l.min(s[0]), h.max(s[0])));
        let most_um = if self.is_still(at_s) { 2 * STILL_UM } else { STILL_UM };
        if self.recent.len() >= 16 && high - low <= most_um {
            self.still_at_s = Some(at_s);
        }
        if settled {
            let before = self.quiet_mm.unwrap_or(stand_off_mm);
            self.quiet_mm = Some((0.99 * before * before + 0.01 * stand_off_mm.powi(2)).sqrt());
        }
    }

    /// Root mean square step over root two, without the two largest: a single move of the head is
    /// two steps at most.
    fn white_mm(&self, channel: usize) -> f64 {
        let steps = self
            .recent
            .iter()
            .zip(self.recent.iter().skip(1))
            .map(|(a, b)| f64::from(b[channel] - a[channel]));
        let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
        for square in steps.map(|s| s * s) {
            sum += square;
            if square > first {
                (first, second) = (square, first);
            } else if square > second {
                second = square;
            }
        }
        ((sum - first - second).max(0.0) / (2.0 * (self.recent.len() - 3) as f64)).sqrt() * 1e-3
    }

    /// Whether it stands still, or did a moment ago: the converter's own noise may stir it once in
    /// a while.
    fn is_still(&self, at_s: f64) -> bool {
        self.still_at_s.is_some_and(|t| at_s - t < STILL_SAID_S)
    }

    /// Whether the sensor no longer moves.
    pub(super) fn is_frozen(&self, at_s: f64) -> bool {
        self.is_still(at_s) || self.same.is_frozen(at_s)
    }

    /// Whether the spot is on a bad patch.
    pub(super) fn is_erratic(&self, at_s: f64) -> bool {
        self.erratic_at_s.is_some_and(|t| at_s - t < ERRATIC_SAID_S)
            || self.lost_at_s.len() >= LOSSES
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HZ: f64 = 90.0;

    /// So many readings of these, in turn.
    fn run(spot: &mut Spot, count: i32, of: impl Fn(i32) -> [i32; 2]) -> f64 {
        for k in 0..count {
            let at_s = f64::from(k) / HZ;
            spot.reading(Some(of(k)[0]), at_s);
            spot.follow(of(k), at_s, HZ, true);
        }
        f64::from(count - 1) / HZ
    }

    fn noise(k: i32) -> i32 {
        (k * k * 7 + k * 13) % 41 - 20
    }

    #[test]
    fn a_stand_off_that_jumps_alone_is_a_bad_spot() {
        let mut spot = Spot::default();
        let at_s = run(&mut spot, 60, |k| [25_000 + 20 * noise(k), -22_000 + noise(k)]);
        assert!(spot.is_erratic(at_s));
        // With the light it is the head that shakes.
        let mut spot = Spot::default();
        let at_s = run(&mut spot, 60, |k| [25_000 + 20 * noise(k), -22_000 - 20 * noise(k)]);
        assert!(!spot.is_erratic(at_s));
    }

    #[test]
    fn three_losses_in_a_second_are_a_bad_spot() {
        let mut spot = Spot::default();
        let at_s = run(&mut spot, 60, |k| [25_000 + noise(k), -22_000 + noise(k)]);
        for loss in 0..3 {
            assert!(!spot.is_erratic(at_s), "{loss}");
            spot.lost(at_s);
        }
        assert!(spot.is_erratic(at_s));
        spot.reading(Some(1), at_s + 1.1);
        assert!(!spot.is_erratic(at_s + 1.1));
    }

    #[test]
    fn the_converters_own_noise_is_no_living_sensor() {
        let mut spot = Spot::default();
        let at_s = run(&mut spot, 40, |k| [25_000 + k % 3 % 2, -22_000 + noise(k)]);
        assert!(spot.is_frozen(at_s));
        let mut spot = Spot::default();
        let at_s = run(&mut spot, 40, |k| [25_000 + noise(k), -22_000 + noise(k)]);
        assert!(!spot.is_frozen(at_s));
    }
}
