//! How a hand turns that reads the gap.

use serde_json::Value;
use std::time::Instant;

/// Turned so far before the gap is looked at, turns.
const TWIST: f64 = 0.25;

/// One adjuster, turned until the gap is where it should be.
pub(super) struct Turning {
    pub(super) adjuster: String,
    told: f64,
    pub(super) to_mm: Option<f64>,
    pub(super) made: f64,
    pub(super) looked: Option<Instant>,
    /// The gap before the first turn.
    from_mm: Option<f64>,
}

impl Turning {
    pub(super) fn of(adjuster: &str, advice: &Value) -> Self {
        Self {
            adjuster: adjuster.to_owned(),
            told: advice["turns"].as_f64().unwrap(),
            to_mm: advice["dial_to_mm"].as_f64(),
            made: 0.0,
            looked: None,
            from_mm: None,
        }
    }

    /// How far to turn now; `None`: it is made.
    pub(super) fn next(&mut self, gap_mm: Option<f64>) -> Option<f64> {
        const NEAR_MM: f64 = 0.02;
        let (Some(to_mm), Some(gap_mm)) = (self.to_mm, gap_mm) else {
            let left = self.told - self.made;
            return (left.abs() > 0.005).then_some(left);
        };
        let from_mm = *self.from_mm.get_or_insert(gap_mm);
        if (gap_mm - to_mm).abs() < NEAR_MM {
            return None;
        }
        // What it did so far tells how far it is; at first what was told does.
        let moved_mm = gap_mm - from_mm;
        let left = match self.made.abs() > 0.1 && moved_mm.abs() > 0.05 {
            true => (to_mm - gap_mm) * self.made / moved_mm,
            false => self.told * (to_mm - gap_mm) / (to_mm - from_mm),
        };
        Some(left.clamp(-TWIST, TWIST))
    }
}
