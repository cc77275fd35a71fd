//! A head's first start, walked through.

use crate::birth::{Check, Found};
use serde::Serialize;
use skimgauge_quantity::Sentence;

/// The walk.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BirthView {
    /// Its steps, in their order.
    pub steps: Vec<BirthStep>,
    /// The step to be made now; `None` once all are.
    pub now: Option<usize>,
    /// Readings gathered for it so far; `None` while nothing is gathered.
    pub gathered: Option<usize>,
    /// What was found so far, in the walk's order.
    pub checks: Vec<Check>,
    /// What has to be seen of the head meanwhile.
    pub sees: BirthSees,
}

/// What has to be seen of the head during a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum BirthSees {
    /// Level and lean.
    Tilt,
    /// The stand-off.
    StandOff,
    /// Nothing.
    Nothing,
}

/// A step of the walk.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BirthStep {
    /// Its name for programs.
    pub key: &'static str,
    /// Its name.
    pub name: Sentence,
    /// What was found; `None`: it is still to come.
    pub found: Option<Found>,
}
