//! The emitter's adjusters.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Rotation, Turns};

use crate::place::Point;

/// One of the emitter's three adjusters.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(from = "WrittenAdjuster")]
pub struct Adjuster {
    /// Where it sits, as the user says it: `left`, `right`, `upper`.
    pub name: String,
    /// Where it sits, in the image's frame.
    #[serde(flatten)]
    pub at: Point,
    /// Advance of one whole turn. Positive.
    #[serde(rename = "pitch_mm")]
    pub pitch: Mm,
    /// Which way the emitter goes when it turns clockwise, as seen from its head.
    pub clockwise: Sense,
    /// Turns left before it bottoms, counted clockwise.
    #[serde(rename = "travel_clockwise_turns")]
    pub travel_clockwise: Turns,
    /// Turns left before it runs out, counted anticlockwise.
    #[serde(rename = "travel_anticlockwise_turns")]
    pub travel_anticlockwise: Turns,
}

/// As it stands in JSON; why it is read so is said at [`Station`](crate::Station)'s.
#[derive(Deserialize)]
struct WrittenAdjuster {
    name: String,
    x_mm: Mm,
    y_mm: Mm,
    pitch_mm: Mm,
    clockwise: Sense,
    travel_clockwise_turns: Turns,
    travel_anticlockwise_turns: Turns,
}

impl From<WrittenAdjuster> for Adjuster {
    fn from(written: WrittenAdjuster) -> Self {
        Self {
            name: written.name,
            at: Point { x: written.x_mm, y: written.y_mm },
            pitch: written.pitch_mm,
            clockwise: written.clockwise,
            travel_clockwise: written.travel_clockwise_turns,
            travel_anticlockwise: written.travel_anticlockwise_turns,
        }
    }
}

/// Which way the emitter moves at an adjuster, along the board's normal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sense {
    /// Away from the wall: the gap grows.
    Out,
    /// Toward the wall: the gap shrinks.
    In,
}

impl Adjuster {
    /// Turns left this way, as a positive number.
    pub fn travel(&self, rotation: Rotation) -> Turns {
        match rotation {
            Rotation::Clockwise => self.travel_clockwise,
            Rotation::Anticlockwise => self.travel_anticlockwise,
        }
    }
}

impl Sense {
    /// The other one.
    #[must_use]
    pub fn reversed(self) -> Self {
        match self {
            Self::Out => Self::In,
            Self::In => Self::Out,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn in_json_an_adjuster_is_as_it_was() {
        let json = r#"{"name":"upper","x_mm":0.0,"y_mm":140.0,"pitch_mm":0.5,"clockwise":"out","travel_clockwise_turns":6.0,"travel_anticlockwise_turns":5.5}"#;
        let adjuster: Adjuster = serde_json::from_str(json).unwrap();
        assert_eq!(
            (adjuster.pitch, adjuster.clockwise, adjuster.at.y),
            (Mm(0.5), Sense::Out, Mm(140.0))
        );
        assert_eq!(adjuster.travel(Rotation::Anticlockwise), Turns(5.5));
        assert_eq!(serde_json::to_string(&adjuster).unwrap(), json);
        assert_eq!(Sense::Out.reversed().reversed(), Sense::Out);
    }
}
