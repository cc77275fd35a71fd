//! A zeroing.

use serde::Serialize;
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
