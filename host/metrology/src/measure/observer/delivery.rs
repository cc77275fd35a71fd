//! How readings come: whether they come at all, in time, and all of them.

use skimgauge_shared::sequence::Placed;
use std::collections::VecDeque;

/// Without a reading for so long the last one is stale, s: with what a screen or a line takes,
/// shown within 0.3 s.
pub(super) const STALE_S: f64 = 0.25;
/// An answer as quick as this tells how the head's clock stands to the host's, s.
const QUICK_S: f64 = 0.04;
/// So many lost at once are an interruption.
const BREAK: u32 = 20;

/// Follows the stream of readings.
#[derive(Debug, Clone)]
pub(super) struct Delivery {
    last_s: f64,
    last_at_s: f64,
    least_delay_s: Option<f64>,
    late: bool,
    lost: u64,
    recent: VecDeque<(f64, u32)>,
}

impl Default for Delivery {
    fn default() -> Self {
        Self {
            last_s: f64::NEG_INFINITY,
            last_at_s: 0.0,
            least_delay_s: None,
            late: false,
            lost: 0,
            recent: VecDeque::new(),
        }
    }
}

impl Delivery {
    /// The link was interrupted: nothing has come yet. What was lost stays counted.
    pub(super) fn interrupt(&mut self) {
        *self = Self { lost: self.lost, last_at_s: self.last_at_s, ..Self::default() };
    }

    /// A reading, placed in its stream, that arrived at `now_s`. Whether it continues what was
    /// before.
    pub(super) fn reading(&mut self, placed: Placed, now_s: f64) -> bool {
        let at_s = placed.position.at.seconds();
        self.lost += u64::from(placed.lost);
        self.recent.push_back((at_s, placed.lost));
        while self.recent.front().is_some_and(|&(t, _)| at_s - t > 1.0 || t > at_s) {
            self.recent.pop_front();
        }
        // The quickest arrival so far tells how the two clocks stand; it may age by 200 ppm, more
        // than crystals differ.
        let delay = now_s - at_s;
        let elapsed = (at_s - self.last_at_s).clamp(0.0, 10.0);
        let least = self.least_delay_s.map_or(delay, |least| delay.min(least + 2e-4 * elapsed));
        self.least_delay_s = Some(least);
        self.late = delay - least > STALE_S;
        let continues = placed.lost <= BREAK && at_s >= self.last_at_s;
        (self.last_s, self.last_at_s) = (now_s, at_s);
        continues
    }

    /// The head answered a question at `at_s` on its own clock, `took_s` after it was asked. A
    /// quick answer shows how the clocks stand now: a head whose clock stood still for a while,
    /// or a computer that slept, is not late for good.
    pub(super) fn answered(&mut self, at_s: f64, took_s: f64, now_s: f64) {
        if took_s <= QUICK_S {
            let delay = now_s - at_s - took_s;
            self.least_delay_s = self.least_delay_s.map(|least| least.max(delay));
        }
    }

    /// When the last reading was made, on the head's clock, s.
    pub(super) fn at_s(&self) -> f64 {
        self.last_at_s
    }

    /// When the last reading came, on the host's clock, s.
    pub(super) fn came_s(&self) -> f64 {
        self.last_s
    }

    /// Whether nothing came of late.
    pub(super) fn is_stale(&self, now_s: f64) -> bool {
        now_s - self.last_s > STALE_S
    }

    /// Whether what comes is old.
    pub(super) fn is_late(&self) -> bool {
        self.late
    }

    /// Whether more than one in ten is lost.
    pub(super) fn loses(&self) -> bool {
        let (lost, kept) =
            self.recent.iter().fold((0, 0), |(l, k), r| (l + u64::from(r.1), k + 1_u64));
        kept >= 5 && lost * 9 > kept
    }

    /// Readings lost since the head was greeted.
    pub(super) fn lost(&self) -> u64 {
        self.lost
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_shared::sequence::Position;
    use skimgauge_shared::units::Microseconds;

    fn placed(at_ms: u64, lost: u32) -> Placed {
        let position = Position { number: 0, at: Microseconds::from_millis(at_ms) };
        Placed { position, lost }
    }

    #[test]
    fn what_lies_in_a_queue_is_late_and_a_clock_that_stood_still_is_not_for_good() {
        let mut delivery = Delivery::default();
        assert!(delivery.is_stale(0.0));
        for k in 0..100 {
            delivery.reading(placed(10 * k, 0), 50.0 + 0.01 * k as f64);
        }
        assert!(!delivery.is_late() && !delivery.is_stale(51.2) && delivery.is_stale(51.3));
        delivery.reading(placed(1_000, 0), 51.4);
        assert!(delivery.is_late());
        // A quick answer shows that the clocks stand so now.
        delivery.answered(1.0, 0.01, 51.41);
        delivery.reading(placed(1_010, 0), 51.41);
        assert!(!delivery.is_late());
    }

    #[test]
    fn many_lost_at_once_or_a_clock_that_went_back_is_a_break() {
        let mut delivery = Delivery::default();
        assert!(delivery.reading(placed(10, 0), 1.0));
        assert!(delivery.reading(placed(20, 20), 1.0));
        assert!(!delivery.reading(placed(30, 21), 1.0));
        assert!(!delivery.reading(placed(20, 0), 1.0));
        assert_eq!(delivery.lost(), 41);
        delivery.interrupt();
        assert!(delivery.is_stale(1.0) && delivery.lost() == 41);
    }

    #[test]
    fn more_than_one_in_ten_is_said() {
        let mut delivery = Delivery::default();
        for k in 0..200 {
            delivery.reading(placed(10 * k, u32::from(k % 10 == 0)), 0.0);
        }
        assert!(!delivery.loses());
        for k in 200..300 {
            delivery.reading(placed(10 * k, u32::from(k % 5 == 0)), 0.0);
        }
        assert!(delivery.loses());
    }
}
