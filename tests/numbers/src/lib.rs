//! Numbers by chance for tests: from a seed, the same on every machine. What a room needs is
//! `skimgauge_bench::noise`.

/// SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", 2014).
#[derive(Debug, Clone)]
pub struct Numbers(pub u64);

impl Numbers {
    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Below `end`; 0 where there is nothing below it.
    pub fn below(&mut self, end: usize) -> usize {
        (self.bits() % (end.max(1) as u64)) as usize
    }

    /// Uniform in `[0, 1)`, 53 bits.
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in `[low, high)`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Of a normal distribution of mean 0 and this standard deviation (Box and Muller, 1958).
    pub fn normal(&mut self, sigma: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        sigma * radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::Numbers;

    /// The first numbers of seed 1234567 as Vigna's reference code (`splitmix64.c`) prints them:
    /// from memory.
    #[test]
    fn the_numbers_are_those_of_the_reference() {
        let mut numbers = Numbers(1_234_567);
        let known = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821,
        ];
        assert_eq!(known.map(|_| numbers.bits()), known);
    }

    #[test]
    fn they_spread_as_they_are_said_to() {
        let mut numbers = Numbers(7);
        let drawn: Vec<f64> = (0..20_000).map(|_| numbers.normal(2.0)).collect();
        let mean = drawn.iter().sum::<f64>() / drawn.len() as f64;
        let square = drawn.iter().map(|one| (one - mean).powi(2)).sum::<f64>();
        let sigma = (square / drawn.len() as f64).sqrt();
        assert!(mean.abs() < 0.05 && (sigma - 2.0).abs() < 0.05, "{mean} {sigma}");
        assert!((0..1_000).all(|_| numbers.below(6) < 6) && numbers.below(0) == 0);
    }
}
