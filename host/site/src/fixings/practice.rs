//! Rules of common practice, without source, and the cautions that go with every answer.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Name, Sentence, say};

/// Which plate of a bracket.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PlateRole {
    /// The plate that carries the arm.
    Centre,
    /// A plate beside it that steadies.
    Side,
    /// Any other plate.
    Other,
}

/// What the wall is made of, as far as known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Wall {
    /// Concrete.
    Concrete,
    /// Solid brick or stone.
    SolidMasonry,
    /// Hollow or perforated block or brick, aerated block.
    HollowMasonry,
    /// Timber or steel studs behind boarding.
    Stud,
    /// Boarding alone, crumbling plaster, or anything nobody is sure about.
    WeakOrUnknown,
}

impl Wall {
    /// Whether practice asks for more anchors than the least number.
    pub fn is_weak(self) -> bool {
        matches!(self, Wall::HollowMasonry | Wall::Stud | Wall::WeakOrUnknown)
    }
}

/// Least number of anchors by common practice, no source: four in a centre plate, two in a side
/// plate.
pub fn least_anchors(role: PlateRole) -> usize {
    match role {
        PlateRole::Centre => 4,
        PlateRole::Side | PlateRole::Other => 2,
    }
}

/// What practice says about this plate; empty if nothing.
pub fn remarks(plate: &str, role: PlateRole, wall: Wall, count: usize) -> Vec<Sentence> {
    let plate = Name(plate);
    let least = least_anchors(role);
    let mut remarks = Vec::new();
    if count < least {
        remarks.push(say!(
            "{plate} has {}; common practice (no source) is at least {least} here",
            skimgauge_quantity::count(count, "anchor")
        ));
    }
    if wall.is_weak() && count <= least {
        remarks.push(say!(
            "{plate}: the wall counts as weak; common practice (no source) is more than {least} anchors here, or fixing through to what carries"
        ));
    }
    remarks
}

/// Printed with every answer about fixings.
pub const CAUTIONS: [&str; 6] = [
    "These figures say how a stiff plate shares a load among anchors. They do not say that any wall carries it.",
    "The anchor maker's instructions, the bracket maker's instructions and local codes come first; where people pass below, ask a licensed engineer.",
    "Allowed loads are those entered from the anchor's approval; they hold only for its base material, depth, edge distance and spacing, and for holes drilled and cleaned as it says.",
    "Look for cables, pipes and reinforcement before drilling. Mains work is for licensed people.",
    "Do not lift the unit alone from a ladder. Keep people from below until every anchor is set and, where asked, proof-loaded.",
    "Prying, vibration, creep and earthquake are not in these figures.",
];
