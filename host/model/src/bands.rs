//! What the gap, the level and the lean of a job may be.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Band, Deg, Mm};

/// What may be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bands {
    /// Gap between touch plane and board face; both ends above zero, for the plane may never touch
    /// the board.
    #[serde(rename = "gap_mm")]
    pub gap: Band<Mm>,
    /// Roll in the board's plane against the image's top edge; `None`: not judged.
    #[serde(rename = "level_deg")]
    pub level: Option<Band<Deg>>,
    /// Tilt toward the board; `None`: not judged.
    #[serde(rename = "lean_deg")]
    pub lean: Option<Band<Deg>>,
}

impl Bands {
    /// Whether the emitter's tilt is judged, and so has to be taken.
    pub fn judge_tilt(&self) -> bool {
        !self.besides_gap().is_empty()
    }

    /// What is judged besides the gap, by name.
    pub fn besides_gap(&self) -> Vec<&'static str> {
        let bands = [("level", self.level), ("lean", self.lean)];
        bands.into_iter().filter(|(_, band)| band.is_some()).map(|(of, _)| of).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn in_json_bands_are_as_they_were() {
        let json = r#"{"gap_mm":{"low":1.0,"high":4.0},"level_deg":{"low":-0.2,"high":0.2},"lean_deg":null}"#;
        let bands: Bands = serde_json::from_str(json).unwrap();
        assert_eq!(bands.gap, Band { low: Mm(1.0), high: Mm(4.0) });
        assert!(bands.judge_tilt() && bands.lean.is_none());
        assert_eq!(bands.besides_gap(), ["level"]);
        assert_eq!(serde_json::to_string(&bands).unwrap(), json);
    }
}
