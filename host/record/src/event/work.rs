//! What was done, judged and worked out.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Phase, VerdictWord};
use crate::chain::Hash;

/// The program advised to turn an adjuster.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurnAdvised {
    /// Name of the adjuster.
    pub adjuster: String,
    /// How far, turns, clockwise positive.
    pub turns: f64,
    /// Station whose live gap tells when to stop.
    pub station: String,
    /// Gap to come to there, mm.
    pub target_gap_mm: f64,
    /// Which pass, from 1.
    pub round: u32,
}

/// What a turn of an adjuster did.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurnObserved {
    /// Name of the adjuster.
    pub adjuster: String,
    /// The advice that was followed.
    pub advice: Option<Hash>,
    /// How far it was turned, if anyone counted, turns, clockwise positive.
    pub turns: Option<f64>,
    /// Station where the gap was watched.
    pub station: String,
    /// Gap there before, mm.
    pub gap_before_mm: f64,
    /// Gap there after, mm.
    pub gap_after_mm: f64,
    /// Gap that was predicted, mm.
    pub gap_predicted_mm: Option<f64>,
    /// What was noticed: `turned the other way`, `slipped`.
    pub flags: Vec<String>,
}

/// A place on the board with a name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// As the person knows it: `bottom left`.
    pub name: String,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
}

/// Where on the board a verdict holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum JudgedAt {
    /// At these places only, by name: between them nobody looked.
    Places(Vec<String>),
    /// Everywhere on a board that was surveyed.
    Board,
}

/// The whole was judged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Judged {
    /// The verdict.
    pub verdict: VerdictWord,
    /// Which state of the installation was judged.
    pub phase: Phase,
    /// The point that decided it.
    pub worst: Option<Point>,
    /// Gap there, mm.
    pub worst_gap_mm: Option<f64>,
    /// From the gap there to the nearer end of the band, mm; negative beyond it.
    pub margin_mm: Option<f64>,
    /// Expanded uncertainty there at 95 %, mm.
    pub expanded_u_mm: Option<f64>,
    /// The rule in words.
    pub decision_rule: String,
    /// What would settle it, when it is unsure.
    pub would_settle: Option<String>,
    /// Where it holds; absent in records that did not say.
    pub judged_at: Option<JudgedAt>,
    /// Everything else about it: plane, covariance, each control point, level and lean.
    pub detail: Value,
}

/// Which work a section tells of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SectionName {
    /// The board's own shape.
    Survey,
    /// Where things go on the wall.
    SetOut,
    /// Anchors and what they carry.
    Fixings,
    /// How far the image is from its rectangle.
    Square,
    /// How well the instrument repeats.
    Prove,
}

/// The result of one piece of work beside the gaps, as its own part computes and reads it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// Which.
    pub section: SectionName,
    /// Version of the data's own form.
    pub data_version: u32,
    /// The data.
    pub data: Value,
}
