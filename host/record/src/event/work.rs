//! What was done and judged.

use serde::{Deserialize, Serialize};
use skimgauge_model::{Phase, Station, Verdict};
use skimgauge_quantity::{Mm, Turns};

use super::{Detail, Sayer, Struck, TurnFlag, Unasked};
use crate::chain::Hash;
use crate::section::Said;

/// The program advised to turn an adjuster.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurnAdvised {
    /// Name of the adjuster.
    pub adjuster: String,
    /// How far, clockwise positive.
    pub turns: Turns,
    /// Station whose live gap tells when to stop; absent where the turn is counted.
    pub station: Option<String>,
    /// Gap to come to there.
    #[serde(rename = "target_gap_mm")]
    pub target_gap: Option<Mm>,
    /// Which round, from 1.
    pub round: u32,
}

/// What a turn of an adjuster did.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurnObserved {
    /// Name of the adjuster.
    pub adjuster: String,
    /// The advice that was followed.
    pub advice: Option<Hash>,
    /// How far it was turned, if anyone counted, clockwise positive.
    pub turns: Option<Turns>,
    /// Station where the gap was watched; absent where the turn was counted.
    pub station: Option<String>,
    /// Gap there before.
    #[serde(rename = "gap_before_mm")]
    pub gap_before: Option<Mm>,
    /// Gap there after.
    #[serde(rename = "gap_after_mm")]
    pub gap_after: Option<Mm>,
    /// Gap that was predicted.
    #[serde(rename = "gap_predicted_mm")]
    pub gap_predicted: Option<Mm>,
    /// What was noticed.
    pub flags: Vec<TurnFlag>,
    /// By which way it was said that the turn is over; absent where nobody had to say it, and in
    /// records that did not keep it.
    pub by: Option<Sayer>,
}

/// Takes that were wrong are struck out, as a line in a field book is: they stay to be read, and
/// count no more.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StruckOut {
    /// The takes, each once.
    pub takes: Vec<Hash>,
    /// What shows that they are wrong.
    pub why: Struck,
    /// By which way the word for it came; absent where nobody had to say it.
    pub by: Option<Sayer>,
}

/// Something was moved that no event tells of: what was taken before stands for what was then, and
/// for nothing after.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Touched {
    /// How that is known.
    pub why: Unasked,
    /// By which way it was said; absent where nobody had to say it.
    pub by: Option<Sayer>,
}

/// Where on the board a verdict holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum JudgedAt {
    /// At these places only, by name: between them nothing was read.
    Places(Vec<String>),
    /// Everywhere on a board that was surveyed.
    Board,
}

/// What a person said of a step of the job was wrong: it stays to be read, and counts no more.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepUndone {
    /// Which step, by its word.
    pub step: String,
    /// What was said of it: sections `step` of this job, each once.
    pub said: Vec<Hash>,
    /// Why it is undone.
    pub why: String,
}

/// The whole was judged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Judged {
    /// The verdict.
    pub verdict: Verdict,
    /// Which state of the installation was judged.
    pub phase: Phase,
    /// The place that decided it.
    pub worst: Option<Station>,
    /// Gap there.
    #[serde(rename = "worst_gap_mm")]
    pub worst_gap: Option<Mm>,
    /// From the gap there to the nearer end of the band; negative beyond it.
    #[serde(rename = "margin_mm")]
    pub margin: Option<Mm>,
    /// Expanded uncertainty there at 95 %.
    #[serde(rename = "expanded_u_mm")]
    pub expanded_u: Option<Mm>,
    /// The rule in words.
    pub decision_rule: String,
    /// What would settle it, when it is unsure.
    pub would_settle: Option<Said>,
    /// Where it holds; absent in records that did not say.
    pub judged_at: Option<JudgedAt>,
    /// What it rests on.
    pub detail: Detail,
    /// Whether it rests on what was read of a simulated head.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub simulated: bool,
    /// The table of the board's shape that it was judged over, as a survey's `table_sha256`; absent
    /// of a board that was not surveyed, and in records that did not keep it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub survey_sha256: Option<Hash>,
}
