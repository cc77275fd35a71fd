//! What comes too soon after the last is no new wish: a key that repeats while it is held, a
//! contact that bounces, a finger that presses again because nothing has moved yet.

use std::time::Duration;

/// Two presses are this far apart, or the second is let go. A keyboard begins to repeat after 0.25
/// to 0.66 s (common practice, no source), and repeats some thirty times a second.
pub(crate) const APART: Duration = Duration::from_millis(700);

/// Lets through what comes long enough after the last that came, let through or not: whatever is
/// held is let through once.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Gate {
    last: Option<Duration>,
}

impl Gate {
    /// What comes now does not count.
    pub(crate) fn shut(&mut self, now: Duration) {
        self.last = Some(now);
    }

    /// Something came. Whether it counts.
    pub(crate) fn pass(&mut self, now: Duration) -> bool {
        let passes = self.last.is_none_or(|last| now.saturating_sub(last) >= APART);
        self.last = Some(now);
        passes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_held_counts_once_however_long_it_is_held() {
        for first_after_ms in [250, 500, 660] {
            let mut gate = Gate::default();
            let at = |ms: u64| Duration::from_millis(10_000 + ms);
            assert!(gate.pass(at(0)));
            for repeat in 0..300 {
                assert!(!gate.pass(at(first_after_ms + 33 * repeat)));
            }
            assert!(gate.pass(at(first_after_ms + 33 * 299 + 700)));
        }
    }

    #[test]
    fn presses_a_second_apart_count_each() {
        let mut gate = Gate::default();
        assert!((0..10).all(|second| gate.pass(Duration::from_secs(second))));
        assert!(!gate.pass(Duration::from_millis(9_699)));
    }
}
