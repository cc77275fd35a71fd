//! The live number: as new as the readings are, and still while they are.
//!
//! It is the mean of as many of the newest readings as say the same. Where the newest part of a
//! stretch stands apart from the part before it by more than noise explains, the part before is of
//! the past and left out: a change that can be seen in the last digits is shown after two or three
//! readings, whatever window a take asks for. The number is drawn along by its mean as by a gear with
//! play: while nothing changes but the noise it stands, and the last digit does not flicker.

use super::super::trace::{Point, Trace};

/// So many of the newest readings are held against those before.
const NEWEST: usize = 3;
/// Two parts are apart from so many standard deviations of their difference on.
const APART: f64 = 4.5;
/// The play is so many of the mean's standard deviations to either side ...
const PLAY: f64 = 3.0;
/// ... and no more than this, mm: less than the last digit.
const PLAY_MOST_MM: f64 = 0.009;

/// The number that stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stands {
    /// mm.
    pub gap_mm: f64,
    /// Readings that it is a mean of.
    pub count: usize,
    /// How far it stands from their mean, mm.
    pub off_mm: f64,
}

/// Follows the readings of a stretch.
#[derive(Debug, Clone, Default)]
pub(super) struct Steady {
    stands: Option<Stands>,
}

impl Steady {
    /// The stretch ends.
    pub(super) fn clear(&mut self) {
        self.stands = None;
    }

    /// The trace has a new reading, where one scatters by `noise_mm`; no more than `most` of them
    /// count, and no fewer than `least`.
    pub(super) fn follow(&mut self, trace: &Trace, least: usize, most: usize, noise_mm: f64) {
        let count = together(trace, least.max(NEWEST), most, noise_mm);
        let Some(mean_mm) = trace.mean_back(0, count, gap_mm) else { return };
        let play_mm = (PLAY * noise_mm / (count as f64).sqrt()).min(PLAY_MOST_MM);
        let gap_mm = self
            .stands
            .map_or(mean_mm, |stands| stands.gap_mm.clamp(mean_mm - play_mm, mean_mm + play_mm));
        self.stands = Some(Stands { gap_mm, count, off_mm: (gap_mm - mean_mm).abs() });
    }

    /// What stands there.
    pub(super) fn stands(&self) -> Option<Stands> {
        self.stands
    }
}

fn gap_mm(point: &Point) -> f64 {
    f64::from(point.gap_um) * 1e-3
}

/// How many of the newest readings say the same.
fn together(trace: &Trace, least: usize, most: usize, noise_mm: f64) -> usize {
    let most = most.max(least).min(trace.len());
    let mut count = least.min(most);
    loop {
        let wider = (2 * count).min(most);
        let older = trace.mean_back(count, wider, gap_mm);
        let (Some(newer), Some(older)) = (trace.mean_back(0, count, gap_mm), older) else {
            return count;
        };
        let spread = (1.0 / count as f64 + 1.0 / (wider - count) as f64).sqrt();
        if (newer - older).abs() > APART * noise_mm * spread {
            return count;
        }
        count = wider;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_quantity::{Mm, Style};

    const HZ: f64 = 90.0;
    /// A take's window of a quiet head, and the longest there is.
    const WINDOWS: [usize; 2] = [36, 180];
    /// One reading's scatter, mm: as a head has it, and in a bright room (the numerical trial of
    /// one scan's middle over 1 V of room light).
    const NOISES_MM: [f64; 2] = [0.008, 0.021];

    /// White noise of this standard deviation: the sum of twelve uniform numbers, from a seed.
    fn noise(seed: u64, sigma_mm: f64) -> impl FnMut() -> f64 {
        let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
        let mut uniform = move || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        move || sigma_mm * ((0..12).map(|_| uniform()).sum::<f64>() - 6.0)
    }

    /// What stands there after each reading of a gap that is so.
    fn shown(
        seed: u64,
        sigma_mm: f64,
        most: usize,
        readings: usize,
        gap: impl Fn(usize) -> f64,
    ) -> Vec<f64> {
        let (mut trace, mut steady) = (Trace::default(), Steady::default());
        let mut noise = noise(seed, sigma_mm);
        (0..readings)
            .map(|k| {
                trace.push(Point {
                    at_s: k as f64 / HZ,
                    gap_um: ((gap(k) + noise()) * 1e3).round() as i32,
                    stand_off_um: 0,
                    middle_um: 0,
                    sure: true,
                    tilt_udeg: None,
                });
                steady.follow(&trace, 0, most, sigma_mm);
                steady.stands().unwrap().gap_mm
            })
            .collect()
    }

    /// Light that steps at a reading: the number is there after so many readings.
    #[test]
    fn a_step_is_shown_within_a_few_readings_whatever_the_window() {
        const AT: usize = 400;
        for most in WINDOWS {
            for sigma_mm in NOISES_MM {
                // In standard deviations of one reading, and how many readings it may take.
                for (step, readings) in [(60.0, 3), (10.0, 3), (5.0, 6), (3.0, 14)] {
                    for seed in 0..50 {
                        let step_mm = step * sigma_mm;
                        let shown = shown(seed, sigma_mm, most, AT + 60, |k| {
                            if k < AT { 2.5 } else { 2.5 + step_mm }
                        });
                        let late = shown[AT + readings - 1..]
                            .iter()
                            .map(|mm| (mm - 2.5 - step_mm).abs())
                            .fold(0.0, f64::max);
                        let allowed = 3.5 * sigma_mm / 3f64.sqrt() + PLAY_MOST_MM;
                        assert!(late < allowed, "{most} {sigma_mm} {step} {seed}: off by {late}");
                    }
                }
            }
        }
    }

    /// A gap that an adjuster moves on and on: the number is behind by no more than this.
    #[test]
    fn a_gap_that_moves_on_is_never_far_ahead_of_the_number() {
        for most in WINDOWS {
            for speed_mm_s in [0.05, 0.2, 1.0, 5.0] {
                for seed in 0..20 {
                    let gap = |k: usize| 2.5 + speed_mm_s * k.saturating_sub(200) as f64 / HZ;
                    let shown = shown(seed, 0.008, most, 400, gap);
                    for (k, mm) in shown.iter().enumerate().skip(200) {
                        let behind_mm = (mm - gap(k)).abs();
                        let allowed = 0.035_f64.max(0.06 * speed_mm_s);
                        assert!(behind_mm < allowed, "{most} {speed_mm_s} {seed} {k}: {behind_mm}");
                    }
                }
            }
        }
    }

    /// The last digit of a gap that stands still, in mm and in inches, wherever between two digits
    /// it stands: over a minute, in the middle and at the worst.
    #[test]
    fn the_last_digit_of_a_gap_that_stands_still_stands_still() {
        for sigma_mm in NOISES_MM {
            // As a take's window would be: a mean of 0.004 mm.
            let most = ((sigma_mm / 0.004_f64).powi(2) as usize).max(36);
            for style in [Style::default(), Style::typed(skimgauge_quantity::Units::Inch)] {
                let mut changes: Vec<usize> = (0..200)
                    .map(|seed| {
                        let still_mm = 2.5 + 0.01 * f64::from(seed as u32) / 200.0;
                        let shown = shown(seed, sigma_mm, most, 60 * 90, |_| still_mm);
                        // The first second finds its number.
                        let texts: Vec<String> =
                            shown[90..].iter().map(|mm| Mm(*mm).gap().number(style)).collect();
                        texts.windows(2).filter(|two| two[0] != two[1]).count()
                    })
                    .collect();
                changes.sort_unstable();
                let (half, worst) = (changes[100], changes[199]);
                assert!(half <= 4 && worst <= 20, "{sigma_mm} mm: {half} {worst} {changes:?}");
            }
        }
    }
}
