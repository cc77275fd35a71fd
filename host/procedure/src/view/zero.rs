//! A zeroing.

use serde::Serialize;
use skimgauge_metrology::zero::Outcome;
use skimgauge_quantity::Sentence;

/// A zeroing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZeroView {
    /// Its steps, in their order.
    pub steps: Vec<StepView>,
    /// The step to be made now; `None` once all are.
    pub now: Option<usize>,
    /// Readings gathered for it so far; `None` while nothing is gathered.
    pub gathered: Option<usize>,
    /// What the last step came to.
    pub came_to: Option<Sentence>,
    /// What has to be seen of the head meanwhile.
    pub sees: Sees,
    /// What the eye sees now, where a step sets light up.
    pub eye: Option<Sentence>,
    /// What it comes to, before it is written to the head.
    pub found: Option<Box<Outcome>>,
}

/// What has to be seen of the head while a step is set up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sees {
    /// Where the light stands in the eye, and the stand-off.
    Eye,
    /// Level and lean.
    Tilt,
    /// Nothing.
    Nothing,
}

/// A step of a zeroing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepView {
    /// Its name.
    pub name: Sentence,
    /// It is made.
    pub done: bool,
    /// It was left out.
    pub skipped: bool,
}
