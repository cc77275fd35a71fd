//! Allan deviation: how far averages of a signal differ from one average to the next, and so how
//! long averaging helps.
//!
//! After NIST Special Publication 1065 (Riley, 2008), with the signal itself in the place of
//! fractional frequency: white noise falls as one over the root of the averaging length, flicker
//! stays level, drift rises.

use std::collections::VecDeque;

/// Running sums of a signal: `x[k]` is the sum of its first `k` values, less their mean so that no
/// digits are lost.
fn phase(values: &[f64]) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    let mut sum = 0.0;
    std::iter::once(0.0)
        .chain(values.iter().map(|v| {
            sum += v - mean;
            sum
        }))
        .collect()
}

fn deviation(terms: impl Iterator<Item = f64>, m: usize) -> Option<f64> {
    let (count, sum) = terms.fold((0_usize, 0.0), |(n, s), d| (n + 1, s + d * d));
    (count > 0).then(|| (sum / (2.0 * count as f64)).sqrt() / m as f64)
}

/// Allan deviation of averages over `m` values, without overlap (SP 1065, 5.2.2). `None` with fewer
/// than `2 m` values.
pub fn adev(values: &[f64], m: usize) -> Option<f64> {
    if m == 0 || values.len() < 2 * m {
        return None;
    }
    let x = phase(values);
    deviation((0..=x.len() - 1 - 2 * m).step_by(m).map(|k| x[k + 2 * m] - 2.0 * x[k + m] + x[k]), m)
}

/// Overlapping Allan deviation of averages over `m` values (SP 1065, 5.2.4). `None` with fewer than
/// `2 m` values.
pub fn overlapping(values: &[f64], m: usize) -> Option<f64> {
    if m == 0 || values.len() < 2 * m {
        return None;
    }
    let x = phase(values);
    deviation((0..x.len() - 2 * m).map(|k| x[k + 2 * m] - 2.0 * x[k + m] + x[k]), m)
}

/// Modified Allan deviation (SP 1065, 5.2.5): tells white from flicker noise of the running sum.
/// `None` with fewer than `3 m - 1` values.
pub fn modified(values: &[f64], m: usize) -> Option<f64> {
    if m == 0 || values.len() + 1 < 3 * m {
        return None;
    }
    let x = phase(values);
    let term = |k: usize| x[k + 2 * m] - 2.0 * x[k + m] + x[k];
    let mut sum: f64 = (0..m).map(term).sum();
    let last = x.len() - 3 * m;
    let sums = (0..=last).map(|k| {
        let now = sum;
        if k < last {
            sum += term(k + m) - term(k);
        }
        now / m as f64
    });
    deviation(sums, m)
}

/// Equivalent degrees of freedom of the overlapping Allan variance of `values` values at `m`, where
/// the signal's noise is white (SP 1065, table 5, white FM; its `N` counts phase points). At least
/// 1.
pub fn degrees_of_freedom(values: usize, m: usize) -> f64 {
    let (n, m) = ((values + 1) as f64, m as f64);
    let edf =
        (3.0 * (n - 1.0) / (2.0 * m) - 2.0 * (n - 2.0) / n) * 4.0 * m * m / (4.0 * m * m + 5.0);
    edf.max(1.0)
}

/// Octaves that [`Running`] follows: averages over 1, 2, 4 ... 256 values.
pub const OCTAVES: usize = 9;

const LONGEST: usize = 1 << (OCTAVES - 1);

/// Overlapping Allan variances of a stream of integers, exact, one step a value, in memory that
/// does not grow. Old terms fade: each octave forgets half of what it has gathered once it holds
/// more than it may.
#[derive(Debug, Clone)]
pub struct Running {
    sums: VecDeque<i64>,
    gathered: [f64; OCTAVES],
    terms: [f64; OCTAVES],
    most_terms: f64,
}

impl Running {
    /// Nothing yet; each octave weighs about the last `most_terms` terms.
    pub fn new(most_terms: u32) -> Self {
        Self {
            sums: VecDeque::with_capacity(2 * LONGEST + 1),
            gathered: [0.0; OCTAVES],
            terms: [0.0; OCTAVES],
            most_terms: f64::from(most_terms.max(2)),
        }
    }

    /// The next value.
    pub fn push(&mut self, value: i32) {
        if self.sums.is_empty() {
            self.sums.push_back(0);
        }
        if self.sums.len() > 2 * LONGEST {
            self.sums.pop_front();
        }
        let newest = self.sums.back().copied().unwrap_or(0).wrapping_add(i64::from(value));
        self.sums.push_back(newest);
        let last = self.sums.len() - 1;
        for octave in 0..OCTAVES {
            let m = 1 << octave;
            if last < 2 * m {
                break;
            }
            // Differences are small though the sums grow without end: wrapping keeps them exact.
            let (middle, first) = (self.sums[last - m], self.sums[last - 2 * m]);
            let term = newest.wrapping_sub(middle).wrapping_sub(middle.wrapping_sub(first)) as f64;
            if self.terms[octave] >= self.most_terms {
                self.terms[octave] /= 2.0;
                self.gathered[octave] /= 2.0;
            }
            self.gathered[octave] += term * term;
            self.terms[octave] += 1.0;
        }
    }

    /// The signal was interrupted: what was gathered stays, but no difference reaches across the
    /// break.
    pub fn interrupt(&mut self) {
        self.sums.clear();
    }

    /// Overlapping Allan deviation of averages over `2^octave` values, if at least twice as many
    /// terms as that have come.
    pub fn deviation(&self, octave: usize) -> Option<f64> {
        let m = 1_u32.checked_shl(octave as u32)?;
        let terms = *self.terms.get(octave)?;
        (terms >= f64::from(2 * m))
            .then(|| (self.gathered[octave] / (2.0 * terms)).sqrt() / f64::from(m))
    }
}

/// How many values to average: the fewest that bring the deviation down to `target`, or as many as
/// averaging helps for (the next octave would win less than a tenth), whichever is less. Between
/// `least` and `most`; `most` where `deviation` (by octave) cannot tell.
pub fn window(
    deviation: impl Fn(usize) -> Option<f64>,
    target: f64,
    least: usize,
    most: usize,
) -> usize {
    let mut best: Option<(usize, f64)> = None;
    for octave in 0..OCTAVES {
        let m = 1_usize << octave;
        let Some(here) = deviation(octave) else { break };
        if here <= target {
            return m.clamp(least, most);
        }
        if let Some((longest, before)) = best
            && m > least
            && here > 0.9 * before
        {
            return longest.clamp(least, most);
        }
        best = Some((m, here));
    }
    // Still falling as far as it is known: on to where white noise would reach the target, one
    // octave at most.
    let wanted =
        |(m, here): (usize, f64)| (m as f64 * (here / target).powi(2)).min(2.0 * m as f64) as usize;
    best.map_or(most, |known| wanted(known).clamp(least, most))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_ramp_deviates_by_its_slope() {
        let ramp: Vec<f64> = (0..200).map(|k| 0.5 * f64::from(k)).collect();
        for m in [1, 4, 16] {
            // Means over m, m apart, differ by slope m.
            let want = 0.5 * m as f64 / 2f64.sqrt();
            assert!((overlapping(&ramp, m).unwrap() - want).abs() < 1e-9);
            assert!((adev(&ramp, m).unwrap() - want).abs() < 1e-9);
        }
    }

    #[test]
    fn too_few_values_give_nothing() {
        assert_eq!(overlapping(&[1.0, 2.0, 3.0], 2), None);
        assert_eq!(adev(&[], 1), None);
        assert_eq!(modified(&[1.0], 1), None);
        assert_eq!(overlapping(&[1.0], 0), None);
    }

    #[test]
    fn the_window_ends_where_averaging_stops_helping() {
        let white = |octave: usize| Some(20.0 / f64::from(1 << octave).sqrt());
        assert_eq!(window(white, 5.0, 10, 200), 16);
        assert_eq!(window(white, 5.0, 40, 200), 40);
        let flicker = |octave: usize| {
            Some(if octave < 5 { 20.0 / f64::from(1 << octave).sqrt() } else { 3.5 })
        };
        assert_eq!(window(flicker, 1.0, 10, 200), 32);
        assert_eq!(window(|_| None, 5.0, 40, 200), 200);
    }

    proptest! {
        #[test]
        fn the_running_form_is_the_batch_form(values in proptest::collection::vec(-30_000..30_000_i32, 600..1200)) {
            let mut running = Running::new(u32::MAX);
            values.iter().for_each(|&v| running.push(v));
            let floats: Vec<f64> = values.iter().map(|&v| f64::from(v)).collect();
            for octave in 0..8 {
                if let Some(got) = running.deviation(octave) {
                    let want = overlapping(&floats, 1 << octave).unwrap();
                    prop_assert!((got - want).abs() < 1e-9 * want.max(1.0), "{} {}", got, want);
                }
            }
        }
    }
}
