//! Slow change over the last minute: drift of the gap on one seat, and the head's temperature.
//!
//! Warm-up is known by what it does, not by a clock: the gap creeps while temperature does.

use std::collections::VecDeque;

/// Blocks kept, a second each.
const KEPT: usize = 60;
/// Fewest blocks that a slope is taken from.
const LEAST: usize = 15;

/// Means over whole seconds.
#[derive(Debug, Clone, Default)]
pub(super) struct Trend {
    blocks: VecDeque<(f64, f64)>,
    second: f64,
    sum: f64,
    count: f64,
}

impl Trend {
    pub(super) fn push(&mut self, at_s: f64, value: f64) {
        let second = at_s.floor();
        if second != self.second {
            if self.count > 0.0 {
                if self.blocks.len() == KEPT {
                    self.blocks.pop_front();
                }
                self.blocks.push_back((self.second, self.sum / self.count));
            }
            (self.second, self.sum, self.count) = (second, 0.0, 0.0);
        }
        self.sum += value;
        self.count += 1.0;
    }

    pub(super) fn clear(&mut self) {
        *self = Self::default();
    }

    /// Change a minute and its standard uncertainty, from a straight line through the blocks;
    /// `None` with fewer than fifteen.
    pub(super) fn per_minute(&self) -> Option<(f64, f64)> {
        if self.blocks.len() < LEAST {
            return None;
        }
        let n = self.blocks.len() as f64;
        let (t, v) = self.blocks.iter().fold((0.0, 0.0), |(t, v), b| (t + b.0 / n, v + b.1 / n));
        let (tt, tv, vv) = self.blocks.iter().fold((0.0, 0.0, 0.0), |(tt, tv, vv), b| {
            let (dt, dv) = (b.0 - t, b.1 - v);
            (tt + dt * dt, tv + dt * dv, vv + dv * dv)
        });
        if tt <= 0.0 {
            return None;
        }
        let slope = tv / tt;
        let left = ((vv - slope * tv) / (n - 2.0)).max(0.0);
        Some((slope * 60.0, (left / tt).sqrt() * 60.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_creep_is_measured_and_a_short_stretch_is_not() {
        let mut trend = Trend::default();
        for k in 0..4000 {
            let t = f64::from(k) * 0.01;
            if k == 1200 {
                assert_eq!(trend.per_minute(), None);
            }
            trend.push(t, 3.0 + 0.05 * t / 60.0 + 0.001 * f64::from(k % 7));
        }
        let (slope, u) = trend.per_minute().unwrap();
        assert!((slope - 0.05).abs() < 0.002 && u < 0.002, "{slope} {u}");
    }
}
