//! The emitter's screws.

use serde::{Deserialize, Serialize};

/// One of the emitter's three screws, in the image's frame (origin: middle of the image's top edge; x right, y up).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Adjuster {
    /// Where it sits, as the user says it: `left`, `right`, `upper`.
    pub name: String,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// Advance of one whole turn, mm. Positive.
    pub pitch_mm: f64,
    /// Which way the emitter goes when the screw turns clockwise, as seen from its head.
    pub clockwise: Sense,
    /// Turns left before the screw bottoms, counted clockwise.
    pub travel_clockwise_turns: f64,
    /// Turns left before the screw runs out, counted anticlockwise.
    pub travel_anticlockwise_turns: f64,
}

/// Which way the emitter moves at a screw, along the board's normal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sense {
    /// Away from the wall: the gap grows.
    Out,
    /// Toward the wall: the gap shrinks.
    In,
}

/// Coarse pitch of a metric thread, mm, by its nominal diameter, mm, from M2.5 to M12; `None` for a diameter that is not
/// among them. After ISO 261.
pub fn coarse_pitch_mm(diameter_mm: f64) -> Option<f64> {
    const PITCHES: [(f64, f64); 8] =
        [(2.5, 0.45), (3.0, 0.5), (4.0, 0.7), (5.0, 0.8), (6.0, 1.0), (8.0, 1.25), (10.0, 1.5), (12.0, 1.75)];
    PITCHES.iter().find(|(d, _)| *d == diameter_mm).map(|(_, pitch)| *pitch)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Advance for one degree, micrometres, worked out from the published pitches: M3 1.3889, M8 3.4722, M12 4.8611.
    #[test]
    fn coarse_pitches_advance_by_the_degree_as_published() {
        for (diameter_mm, um) in [(3.0, 1.3889), (8.0, 3.4722), (12.0, 4.8611)] {
            let pitch_mm = coarse_pitch_mm(diameter_mm).unwrap();
            assert!((1000.0 * pitch_mm / 360.0 - um).abs() < 5e-5);
        }
        assert_eq!(coarse_pitch_mm(7.1), None);
    }
}
