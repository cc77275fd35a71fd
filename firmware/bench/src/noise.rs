//! Seeded chance: every random number in this crate comes from here, so that the same seed gives
//! the same room.

use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// A seeded, portable generator (PCG, `Pcg64Mcg`) with the distributions a room needs.
///
/// The integers are the same on every machine; normal deviates go through the platform's `ln` and
/// `cos` and may differ in the last bit between platforms.
#[derive(Debug, Clone)]
pub struct Noise {
    generator: Pcg64Mcg,
    spare: Option<f64>,
}

impl Noise {
    /// A generator for `seed`; `stream` keeps apart what one seed is used for (board, emitter,
    /// signals).
    pub fn new(seed: u64, stream: u64) -> Self {
        // Spread the stream number over all bits, so that neighbouring streams of one seed share
        // nothing.
        let mixed = seed ^ stream.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        Self { generator: Pcg64Mcg::seed_from_u64(mixed), spare: None }
    }

    /// The next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.generator.next_u64()
    }

    /// Uniform in `[0, 1)`, 53 bits.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform in `[low, high)`.
    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// Normal deviate of mean 0 and standard deviation `sigma` (Box and Muller, 1958).
    pub fn normal(&mut self, sigma: f64) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare * sigma;
        }
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        let angle = core::f64::consts::TAU * self.unit();
        self.spare = Some(radius * angle.sin());
        radius * angle.cos() * sigma
    }
}

/// Slow drift: an Ornstein-Uhlenbeck walk that wanders with standard deviation `sigma` and forgets
/// within `memory_s`.
#[derive(Debug, Clone)]
pub struct Drift {
    /// Standard deviation in the long run, in the unit of the drifting quantity.
    pub sigma: f64,
    /// Correlation time, s.
    pub memory_s: f64,
    value: f64,
    last_us: u64,
}

impl Drift {
    /// A drift that starts from a value drawn out of its long-run distribution.
    pub fn new(sigma: f64, memory_s: f64, noise: &mut Noise) -> Self {
        Self { sigma, memory_s, value: noise.normal(sigma), last_us: 0 }
    }

    /// The value at `at_us`; a time before the last one asked for gives the last value again.
    pub fn at(&mut self, at_us: u64, noise: &mut Noise) -> f64 {
        let elapsed_s = at_us.saturating_sub(self.last_us) as f64 * 1e-6;
        if elapsed_s > 0.0 {
            let kept = (-elapsed_s / self.memory_s).exp();
            self.value = self.value * kept + noise.normal(self.sigma) * (1.0 - kept * kept).sqrt();
            self.last_us = at_us;
        }
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::{Drift, Noise};

    /// First output of the generator for seed 0, from the documentation of crate `rand_pcg` 0.10
    /// ("Generation").
    #[test]
    fn generator_is_the_published_one() {
        use rand_core::{Rng, SeedableRng};
        assert_eq!(rand_pcg::Pcg64Mcg::seed_from_u64(0).next_u64(), 0x5603_f242_407d_eca2);
    }

    #[test]
    fn normal_deviates_have_the_moments_of_a_normal_distribution() {
        let mut noise = Noise::new(1, 0);
        let n = 200_000;
        let (mut sum, mut square, mut inside) = (0.0, 0.0, 0u32);
        for _ in 0..n {
            let x = noise.normal(2.0);
            sum += x;
            square += x * x;
            inside += u32::from(x.abs() < 2.0);
        }
        assert!((sum / f64::from(n)).abs() < 0.02);
        assert!((square / f64::from(n) - 4.0).abs() < 0.05);
        assert!((f64::from(inside) / f64::from(n) - 0.6827).abs() < 0.005);
    }

    #[test]
    fn drift_keeps_its_spread_and_forgets() {
        let mut noise = Noise::new(2, 0);
        let mut drift = Drift::new(3.0, 10.0, &mut noise);
        let values: Vec<f64> =
            (1..=20_000u64).map(|k| drift.at(k * 1_000_000, &mut noise)).collect();
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        let variance = mean(&values.iter().map(|v| v * v).collect::<Vec<_>>());
        let lagged = mean(&values.windows(11).map(|w| w[0] * w[10]).collect::<Vec<_>>());
        assert!((variance.sqrt() - 3.0).abs() < 0.4, "{variance}");
        assert!((lagged / variance - (-1.0f64).exp()).abs() < 0.1);
    }

    #[test]
    fn streams_of_one_seed_differ() {
        assert_ne!(Noise::new(7, 0).bits(), Noise::new(7, 1).bits());
        assert_eq!(Noise::new(7, 3).bits(), Noise::new(7, 3).bits());
    }
}
