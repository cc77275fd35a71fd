//! The verdict over the whole: gaps by the plane and by each reading, level and lean.

use serde::Serialize;
use skimgauge_metrology::plane::fit::PlaneFit;
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::plane::refusal::PlaneError;
use skimgauge_metrology::verdict::{BoardVerdict, JudgedAt, Verdict};

/// Level or lean: how the emitter stands against the board, judged. Each is computed here and
/// nowhere else.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TiltVerdict {
    /// How the emitter itself stands, against gravity, degrees.
    pub emitter_deg: f64,
    /// How the board stands, against gravity, degrees: its top edge for level, all stations for
    /// lean.
    pub board_deg: f64,
    /// The level or lean: the first less the second, degrees.
    pub value_deg: f64,
    /// Half width of its 95 % interval, degrees.
    pub expanded_deg: f64,
    /// Against its band.
    pub verdict: Verdict,
}

/// The verdict over everything.
#[derive(Debug, Clone)]
pub struct Whole {
    /// The word.
    pub verdict: Verdict,
    /// What was taken, as the plane saw it.
    pub observations: Observations,
    /// The station that is furthest out of the band, with its gap, mm, where one is out for sure.
    pub out: Option<(String, f64)>,
    /// The station that would check the others, where an error in one of them would not show.
    pub one_more: Option<String>,
    /// What a verdict of `within` speaks of.
    pub judged_at: JudgedAt,
    /// The plane and every control point, once the takes decide it.
    pub board: Result<(PlaneFit, BoardVerdict), Undecided>,
    /// Level, if it is judged.
    pub level: Option<Result<TiltVerdict, Undecided>>,
    /// Lean, if it is judged.
    pub lean: Option<Result<TiltVerdict, Undecided>>,
}

/// Why something is not judged yet.
#[derive(Debug, Clone, PartialEq)]
pub enum Undecided {
    /// These stations have no take.
    Missing(Vec<String>),
    /// The takes do not decide a plane.
    Plane(PlaneError),
}
