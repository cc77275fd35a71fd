//! What was held level or plumb before the emitter hangs on it.

use serde::{Deserialize, Serialize};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Deg};

use crate::event::Head;

/// A bracket, a rail or an edge as it stands against gravity, judged. One event for each reading
/// that somebody accepted; the last of a thing and a line stands.
///
/// In JSON:
///
/// ```json
/// {
///   "of": "bracket", "line": "level", "value_deg": -0.04,
///   "known": {"expanded_deg": 0.03}, "target_deg": {"low": -0.1, "high": 0.1}, "verdict": "within",
///   "tool": {"head": {"serial": "SG-0007", "firmware": "0.1.0", "calibration_date": "2026-11-20", "calibration_sha256": null}}
/// }
/// ```
///
/// or, by a tool of the installer's own, `"known": {"resolution_deg": 0.05}` and `"tool": {"own":
/// "spirit level, 600 mm"}`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Levelled {
    /// What: `bracket`, `rail`, a plate's name.
    pub of: String,
    /// Against which line.
    pub line: Line,
    /// How far it is off that line. Level: above zero, its right end is up as the viewer sees it.
    /// Plumb: above zero, its upper end stands out of the wall, toward the viewer.
    #[serde(rename = "value_deg")]
    pub value: Deg,
    /// How well that is known.
    pub known: Known,
    /// What it may be.
    #[serde(rename = "target_deg")]
    pub target: Band<Deg>,
    /// Against that, with how well it is known counted: a resolution counts as half of it either
    /// way.
    pub verdict: Verdict,
    /// What it was measured with.
    pub tool: Tool,
}

/// A line that gravity gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Line {
    /// Along the wall.
    Level,
    /// Upright.
    Plumb,
}

impl Line {
    /// The word for people.
    pub fn shown(self) -> &'static str {
        match self {
            Self::Level => "level",
            Self::Plumb => "plumb",
        }
    }
}

/// How well an angle is known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Known {
    /// Half width of its 95 % interval.
    #[serde(rename = "expanded_deg")]
    Expanded(Deg),
    /// The smallest step that the tool shows; how good it is otherwise is its maker's word.
    #[serde(rename = "resolution_deg")]
    Resolution(Deg),
}

impl Known {
    /// How far the true angle may be off what was read, as far as it is said.
    pub fn give_or_take(self) -> Deg {
        match self {
            Self::Expanded(expanded) => expanded,
            Self::Resolution(step) => step / 2.0,
        }
    }
}

/// What an angle was measured with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tool {
    /// The head.
    Head(Head),
    /// A tool of the installer's own, as they call it.
    Own(String),
}
