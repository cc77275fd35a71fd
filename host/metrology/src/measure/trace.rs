//! The last readings, and the statistics that judging needs of them.

use std::collections::VecDeque;

/// Readings kept: ten seconds and more, longer than the longest window.
const KEPT: usize = 1024;

/// A reading that has a gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    /// Head's clock, s.
    pub at_s: f64,
    pub gap_um: i32,
    pub stand_off_um: i32,
    /// The sheet's middle in the head's frame.
    pub middle_um: i32,
    /// Nothing speaks against that middle.
    pub sure: bool,
    /// Level and lean, microdegrees.
    pub tilt_udeg: Option<[i32; 2]>,
}

/// The readings of one stretch without interruption.
#[derive(Debug, Clone, Default)]
pub(super) struct Trace {
    points: VecDeque<Point>,
}

/// Mean, scatter and movement of one channel over a window, in the channel's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Summary {
    pub mean: f64,
    /// Standard deviation about the straight line through the window.
    pub scatter: f64,
    /// Root of half the mean square of the steps from one value to the next: the scatter of white
    /// noise alone.
    pub white: f64,
    /// Means of the three thirds.
    pub thirds: [f64; 3],
    /// Second half's mean less first half's.
    pub rise: f64,
    pub count: usize,
}

impl Trace {
    pub(super) fn clear(&mut self) {
        self.points.clear();
    }

    pub(super) fn push(&mut self, point: Point) {
        if self.points.len() == KEPT {
            self.points.pop_front();
        }
        self.points.push_back(point);
    }

    pub(super) fn len(&self) -> usize {
        self.points.len()
    }

    pub(super) fn last(&self) -> Option<&Point> {
        self.points.back()
    }

    /// The newest `count` points, oldest first.
    pub(super) fn newest(
        &self,
        count: usize,
    ) -> impl ExactSizeIterator<Item = &Point> + DoubleEndedIterator + Clone {
        self.points.range(self.points.len().saturating_sub(count)..)
    }

    /// Readings a second over the newest `count`; `None` with fewer than two.
    pub(super) fn rate_hz(&self, count: usize) -> Option<f64> {
        let newest = self.newest(count);
        let steps = newest.len().checked_sub(1)? as f64;
        let span_s = self.last()?.at_s - self.newest(count).next()?.at_s;
        (span_s > 0.0).then(|| steps / span_s)
    }

    /// Mean of the points from `from` back to before `to` (counted from the newest, zero being the
    /// newest).
    pub(super) fn mean_back(
        &self,
        from: usize,
        to: usize,
        channel: impl Fn(&Point) -> f64,
    ) -> Option<f64> {
        if to <= from || self.points.len() < to {
            return None;
        }
        let end = self.points.len() - from;
        let sum: f64 = self.points.range(self.points.len() - to..end).map(channel).sum();
        Some(sum / (to - from) as f64)
    }

    /// Summary of the newest `count` points; `None` with fewer than six, or fewer than `count`.
    pub(super) fn summary(&self, count: usize, channel: impl Fn(&Point) -> f64) -> Option<Summary> {
        if count < 6 || self.points.len() < count {
            return None;
        }
        let n = count as f64;
        let origin = channel(self.newest(count).next()?);
        let middle = (n - 1.0) / 2.0;
        let (mut sum, mut moment, mut square, mut steps, mut last) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let mut thirds = [(0.0, 0.0); 3];
        let mut halves = [(0.0, 0.0); 2];
        for (k, point) in self.newest(count).enumerate() {
            let v = channel(point) - origin;
            sum += v;
            square += v * v;
            moment += (k as f64 - middle) * v;
            if k > 0 {
                steps += (v - last) * (v - last);
            }
            last = v;
            for part in [&mut thirds[3 * k / count], &mut halves[2 * k / count]] {
                part.0 += v;
                part.1 += 1.0;
            }
        }
        let spread = n * (n * n - 1.0) / 12.0;
        let about_line = (square - sum * sum / n - moment * moment / spread).max(0.0);
        let mean_of = |(sum, n): (f64, f64)| origin + sum / n;
        Some(Summary {
            mean: origin + sum / n,
            scatter: (about_line / (n - 2.0)).sqrt(),
            white: (steps / (2.0 * (n - 1.0))).sqrt(),
            thirds: thirds.map(mean_of),
            rise: mean_of(halves[1]) - mean_of(halves[0]),
            count,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(values: impl IntoIterator<Item = i32>) -> Trace {
        let mut trace = Trace::default();
        for (k, gap_um) in values.into_iter().enumerate() {
            let at_s = k as f64 * 0.01;
            let rest =
                Point { middle_um: 0, stand_off_um: 0, sure: true, tilt_udeg: None, at_s, gap_um };
            trace.push(rest);
        }
        trace
    }

    #[test]
    fn a_line_has_no_scatter_and_rises_by_half_its_span() {
        let s = trace((0..60).map(|k| 100 + 3 * k)).summary(60, |p| f64::from(p.gap_um)).unwrap();
        assert!(
            s.scatter < 1e-6 && (s.rise - 90.0).abs() < 1e-9 && (s.mean - 188.5).abs() < 1e-9,
            "{s:?}"
        );
        assert!((s.thirds[2] - s.thirds[0] - 120.0).abs() < 1e-9);
    }

    #[test]
    fn memory_is_bounded_and_the_newest_are_kept() {
        let trace = trace(0..5000);
        assert_eq!(trace.len(), KEPT);
        assert_eq!(trace.newest(3).map(|p| p.gap_um).collect::<Vec<_>>(), [4997, 4998, 4999]);
        assert_eq!(trace.mean_back(1, 3, |p| f64::from(p.gap_um)), Some(4997.5));
        assert!((trace.rate_hz(100).unwrap() - 100.0).abs() < 1e-6);
    }

    #[test]
    fn too_few_points_have_no_summary() {
        assert_eq!(trace(0..5).summary(5, |p| f64::from(p.gap_um)), None);
        assert_eq!(trace(0..20).summary(30, |p| f64::from(p.gap_um)), None);
        assert_eq!(trace(0..1).rate_hz(10), None);
    }
}
