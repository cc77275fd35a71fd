//! What a value may be: from low to high.

use serde::{Deserialize, Serialize};

/// What a measured value may be, both ends included. Unit by context: mm for a gap, degrees for
/// level and lean.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// Lowest value that passes.
    pub low: f64,
    /// Highest value that passes.
    pub high: f64,
}

impl Band {
    /// The band, or `None` unless both ends are finite and `low < high`.
    pub fn new(low: f64, high: f64) -> Option<Self> {
        (low.is_finite() && high.is_finite() && low < high).then_some(Self { low, high })
    }

    /// High minus low.
    pub fn width(self) -> f64 {
        self.high - self.low
    }

    /// Halfway between low and high: what an adjuster aims for.
    pub fn middle(self) -> f64 {
        self.low + self.width() / 2.0
    }
}
