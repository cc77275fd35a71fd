//! The emitter's screws.

use serde::{Deserialize, Serialize};

/// One of the emitter's three screws, in the image's frame (origin: middle of the image's top edge;
/// x right, y up).
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
