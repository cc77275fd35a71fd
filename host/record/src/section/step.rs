//! What a person says of a step of the job that no measurement closes, or that is left out.

use serde::{Deserialize, Serialize};

/// A step closed by a person's word. Who and when are the event's; the last of a step stands.
///
/// In JSON:
///
/// ```json
/// {"step": "hanging", "how": "done", "why": null, "checked": ["two people, the weight known"]}
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepSaid {
    /// Which, by its word; one that this program does not know came from a newer one.
    pub step: String,
    /// Done or left out.
    pub how: SaidHow,
    /// Why it is left out, or what else was said of it.
    pub why: Option<String>,
    /// What was gone through beforehand, point by point, where the step has such a list.
    pub checked: Vec<String>,
}

/// How a step was closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SaidHow {
    /// It is done.
    Done,
    /// It is not done on this job.
    LeftOut,
}
