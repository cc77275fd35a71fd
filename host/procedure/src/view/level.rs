//! The head as a level.

use super::Reading;
use serde::Serialize;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Deg, MmPerM, Sentence};

/// The head as a level: level and lean of the live view are the angles.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LevelView {
    /// What is levelled or plumbed now.
    pub thing: String,
    /// Against which line.
    pub line: Line,
    /// The same angles as slopes.
    pub level_slope: Reading<MmPerM>,
    /// The same angles as slopes.
    pub lean_slope: Reading<MmPerM>,
    /// What they may be: the target.
    pub target: Option<Band<Deg>>,
    /// The live level against the target.
    pub level_verdict: Option<Verdict>,
    /// The live lean against the target.
    pub lean_verdict: Option<Verdict>,
    /// A first reading is marked, and waits for the head to be turned end for end.
    pub marked: bool,
    /// What was found last, turned end for end.
    pub found: Option<LevelFound>,
    /// Everything kept in this run, in its order.
    pub kept: Vec<LevelFound>,
}

/// An angle with the head's own offset taken out, judged.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LevelFound {
    /// What was levelled.
    pub thing: String,
    /// Against which line.
    pub line: Line,
    /// How far it may be off that line; `None`: not judged.
    pub target: Option<Band<Deg>>,
    /// Turn in the plane of the head's back.
    pub level: AxisFound,
    /// Toward or from it.
    pub lean: AxisFound,
    /// In words.
    pub says: Sentence,
}

impl LevelFound {
    /// What was found of the line that it was held against.
    pub fn axis(&self) -> AxisFound {
        match self.line {
            Line::Level => self.level,
            Line::Plumb => self.lean,
        }
    }
}

/// A line that gravity gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Line {
    /// Along the wall: the head's level counts.
    Level,
    /// Upright: the head's lean counts, which wants the other face of the same plate.
    Plumb,
}

/// One axis.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AxisFound {
    /// The angle.
    pub tilt: Deg,
    /// The head's own offset.
    pub offset: Deg,
    /// Standard uncertainty of either.
    pub u: Deg,
    /// Half width of its 95 % interval.
    pub expanded: Deg,
    /// Against the target, on the line that counts; else `None`.
    pub verdict: Option<Verdict>,
}
