//! What several tests of simulated boards begin with.
#![allow(dead_code, reason = "each test takes what it needs")]

use rand_distr::{Distribution, Normal, StandardNormal, Uniform};
use rand_pcg::Pcg64;
use skimgauge_model::{Adjuster, Point, Sense};
use skimgauge_quantity::{Mm, Turns};

/// Three adjusters 200 mm by 60 mm apart, 0.5 mm a turn, with so much travel either way.
pub(crate) fn screws(travel_turns: f64) -> [Adjuster; 3] {
    [("left", -100.0, 60.0), ("right", 100.0, 60.0), ("upper", 0.0, 120.0)].map(
        |(name, x_mm, y_mm)| Adjuster {
            name: name.into(),
            at: Point::mm(x_mm, y_mm),
            pitch: Mm(0.5),
            clockwise: Sense::Out,
            travel_clockwise: Turns(travel_turns),
            travel_anticlockwise: Turns(travel_turns),
        },
    )
}

/// Seeded chance.
pub(crate) struct Dice(pub Pcg64);

impl Dice {
    /// Normal, of standard deviation `u`.
    pub(crate) fn normal(&mut self, u: f64) -> f64 {
        let z: f64 = StandardNormal.sample(&mut self.0);
        u * z
    }

    /// Even between the two.
    pub(crate) fn uniform(&mut self, low: f64, high: f64) -> f64 {
        Uniform::new(low, high).unwrap().sample(&mut self.0)
    }

    /// Mean of `n` readings of standard deviation `sd`, and the standard uncertainty that they
    /// themselves show.
    pub(crate) fn mean_of(&mut self, n: usize, sd: f64) -> (f64, f64) {
        let noise = Normal::new(0.0, sd).unwrap();
        let readings: Vec<f64> = (0..n).map(|_| noise.sample(&mut self.0)).collect();
        let mean = readings.iter().sum::<f64>() / n as f64;
        let variance = readings.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1) as f64;
        (mean, (variance / n as f64).sqrt())
    }
}
