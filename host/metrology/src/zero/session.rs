//! What a zeroing has read so far: plain data, so that it can be put aside and taken up again.

use super::still::{RollPoint, Still};
use serde::{Deserialize, Serialize};

/// The light of the rig.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Light {
    /// Middle of the light over the plate, mm.
    pub height_mm: f64,
    /// Standard uncertainty, mm.
    pub u_mm: f64,
    /// Whether it is the emitter's own light where the head will measure: then the eye's scale
    /// found in it holds there.
    pub on_the_spot: bool,
}

/// A still stretch on a block.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BlockStill {
    /// Height of the block under the laser's spot; 0 for none, mm.
    pub block_mm: f64,
    /// Its standard uncertainty (a certificate's over its coverage factor), mm.
    pub block_u_mm: f64,
    /// What was read.
    pub still: Still,
}

/// The two positions of a reversal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// As it is used.
    pub first: Still,
    /// Turned end for end on the same seat.
    pub second: Still,
}

/// A step of a zeroing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// The eye in the dark.
    Dark,
    /// The slide rolled through the light.
    Roll,
    /// Still on blocks.
    Blocks,
    /// Turned end for end: level.
    Level,
    /// Turned end for end: lean.
    Lean,
}

impl Step {
    /// Its name on screen.
    pub fn name(self) -> &'static str {
        match self {
            Self::Dark => "dark",
            Self::Roll => "roll",
            Self::Blocks => "blocks",
            Self::Level => "level",
            Self::Lean => "lean",
        }
    }
}

/// What was read so far. Steps may be made in any order and again; what is missing keeps its former
/// constants.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Session {
    /// The head's serial number as it shows it.
    pub head: String,
    /// Whether the head has an eye.
    pub eye: bool,
    /// The rig's light; without one there is a scale but no zero.
    pub light: Option<Light>,
    /// How the feet seat, standard uncertainty, mm.
    pub seat_u_mm: f64,
    /// How the slide is set by sight (a head without an eye), standard uncertainty, mm.
    pub sight_u_mm: f64,
    /// Cells in the dark.
    pub dark: Option<Still>,
    /// Rolls through the light.
    pub rolls: Vec<Vec<RollPoint>>,
    /// Blocks.
    pub blocks: Vec<BlockStill>,
    /// Reversal of level.
    pub level: Option<Pair>,
    /// Reversal of lean.
    pub lean: Option<Pair>,
}

impl Session {
    /// Steps that have not been made yet, in the order in which they are best made.
    pub fn missing(&self) -> Vec<Step> {
        let mut missing = Vec::new();
        let mut add = |when: bool, step: Step| {
            if when {
                missing.push(step);
            }
        };
        add(self.eye && self.dark.is_none(), Step::Dark);
        add(self.eye && self.rolls.is_empty(), Step::Roll);
        add(self.blocks.len() < 3, Step::Blocks);
        add(self.level.is_none(), Step::Level);
        add(self.lean.is_none(), Step::Lean);
        missing
    }
}
