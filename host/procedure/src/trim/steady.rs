//! When a live gap has come to rest.

use std::collections::VecDeque;
use std::time::Duration;

/// Looked at for so long.
const REST: Duration = Duration::from_millis(700);
/// Within this it is at rest, mm.
const REST_MM: f64 = 0.04;

/// The live gap of the last moments.
#[derive(Debug, Clone, Default)]
pub(crate) struct Steady {
    samples: VecDeque<(Duration, f64)>,
    since: Option<Duration>,
}

impl Steady {
    /// The gap now; `None` where there is no good one, and then it begins anew.
    pub(crate) fn push(&mut self, now: Duration, gap_mm: Option<f64>) {
        let Some(gap_mm) = gap_mm.filter(|gap| gap.is_finite()) else { return self.clear() };
        self.since.get_or_insert(now);
        self.samples.push_back((now, gap_mm));
        while self.samples.front().is_some_and(|(at, _)| now.saturating_sub(*at) > REST) {
            self.samples.pop_front();
        }
    }

    /// Begins anew.
    pub(crate) fn clear(&mut self) {
        self.samples.clear();
        self.since = None;
    }

    /// The last good gap, mm.
    pub(crate) fn last(&self) -> Option<f64> {
        self.samples.back().map(|(_, gap_mm)| *gap_mm)
    }

    /// The mean gap, mm, once it has been at rest for long enough.
    pub(crate) fn at_rest(&self, now: Duration) -> Option<f64> {
        if now.saturating_sub(self.since?) < REST || self.samples.len() < 3 {
            return None;
        }
        let gaps = || self.samples.iter().map(|(_, gap_mm)| *gap_mm);
        let span = gaps().fold(f64::NEG_INFINITY, f64::max) - gaps().fold(f64::INFINITY, f64::min);
        (span <= REST_MM).then(|| gaps().sum::<f64>() / self.samples.len() as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rest_needs_its_time_and_ends_with_a_move() {
        let mut steady = Steady::default();
        let at = |k: u64| Duration::from_millis(100 * k);
        for k in 0..7 {
            steady.push(at(k), Some(3.0));
            assert_eq!(steady.at_rest(at(k)), None);
        }
        for k in 7..12 {
            steady.push(at(k), Some(3.01));
        }
        assert!(steady.at_rest(at(11)).is_some());
        steady.push(at(12), Some(3.2));
        assert_eq!(steady.at_rest(at(12)), None);
        steady.push(at(13), None);
        assert_eq!(steady.last(), None);
    }
}
