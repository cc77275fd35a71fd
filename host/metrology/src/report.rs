//! The answer as other programs read it: one JSON object, versioned.

use crate::plane::consistency::Consistency;
use crate::plane::unseen::Unseen;
use crate::trim::promise::Promise;
use crate::verdict::whole::WholeVerdict;
use crate::verdict::{JudgedAt, JudgedPlace, Remedy};
use serde::{Deserialize, Serialize};
use skimgauge_model::Verdict;

/// Version of the layout below. It changes when a field changes its meaning or goes; a new field
/// does not change it.
pub const SCHEMA: u32 = 2;

/// Everything computed from one round's readings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// [`SCHEMA`].
    pub schema: u32,
    /// The touch plane over the board.
    pub plane: PlaneReport,
    /// Sum of squared residuals over their uncertainties.
    pub chi_square: f64,
    /// Its degrees of freedom; zero says that the fit is exact and proves nothing about itself.
    pub dof: usize,
    /// How well the readings agree: `untested`, `agrees`, `strained`, `contradicts`.
    pub agreement: crate::plane::fit::Agreement,
    /// What every uncertainty from the takes was widened by, because they agree worse than they
    /// should; 1 where they do.
    pub widening: f64,
    /// The reading that fits worst; null where none can be judged.
    pub worst: Option<WorstReport>,
    /// Each control point: the gap worked out there, judged.
    pub points: Vec<PointReport>,
    /// Each place read, judged by the readings there alone.
    pub places: Vec<JudgedPlace>,
    /// Over all points and places, and all that lies between them: `within`, `outside`, `unsure`.
    /// Always `unsure` where the readings contradict one another, and never `within` where an error
    /// at one of the places would not show.
    pub verdict: Verdict,
    /// Between the places read; null where the board is taken to be as the points say.
    pub between: Option<BetweenReport>,
    /// What a verdict of `within` speaks of: the names of the places read, or `board` once it is
    /// surveyed.
    pub judged_at: JudgedAt,
    /// The places read with the share of an error there that would show; and where they contradict
    /// one another, which are the odd ones (`explains`: `one`, `any` of them, `none` alone;
    /// `came_back`: read again it was the same).
    pub consistency: Consistency,
    /// Whether an error at any one place would show.
    pub checked: bool,
    /// The point that limits the verdict: index into `points`.
    pub limiting_point: Option<usize>,
    /// What would settle an `unsure`.
    pub remedy: Option<Remedy>,
    /// Whether, as best known, a setting exists that brings every point into the band; false too
    /// where the readings contradict one another and nothing is known.
    pub feasible: bool,
    /// The same with its uncertainty: `no` holds at 95 %, `yes` beyond 3.5 standard uncertainties.
    pub feasibility: Feasibility,
    /// Least distance to an end of the band over all points with the best setting, mm; negative
    /// where no setting can pass, and then by how much; null where the readings contradict one
    /// another.
    pub margin_mm: Option<f64>,
    /// Standard uncertainty of `margin_mm`, mm. It comes from the board's shape alone: wherever
    /// the plane is now, the adjusters can take it where it should be.
    pub margin_u_mm: Option<f64>,
    /// What holds the margin down, the heaviest first.
    pub holds: Vec<HoldReport>,
    /// This round's turns in their order, at most one for each adjuster, each as it is told.
    pub turns: Vec<TurnReport>,
    /// How far inside the band the worst of `points`, `places` and all that is judged between them
    /// stands once `turns` are made as told; null without turns, and where nothing is promised.
    #[serde(default)]
    pub promise: Option<Promise>,
    /// Least gap after any of the turns, mm; null without turns. Light that meets the board on the
    /// way harms nothing.
    pub least_gap_mm: Option<f64>,
    /// Whether the light keeps off the board all the way.
    pub clear: bool,
    /// Whether every turn is ended by a reading.
    pub seen: bool,
    /// What the turns take a person, seconds; null where there is no plan.
    pub seconds: Option<f64>,
    /// The chance that the takes after them are judged within; null where there is no plan.
    pub chance: Option<f64>,
    /// The same turns in the order of the job's adjusters, clockwise positive, where whole steps of
    /// what a hand can make were asked for; null where nothing is turned.
    pub by_hand: Option<ByHandReport>,
}

/// `G(x, y) = c + p x + q y - w(x, y)`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PlaneReport {
    /// Gap at the middle of the image's top edge over a flat board, mm.
    pub c_mm: f64,
    /// Slope to the right, mm per metre.
    pub p_mm_per_m: f64,
    /// Slope upward, mm per metre.
    pub q_mm_per_m: f64,
    /// Of the three in this order, in their units: what all gaps share, and the widening, are in
    /// it.
    pub covariance: [[f64; 3]; 3],
}

/// The reading that fits worst.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WorstReport {
    /// Its station's name; null for a place without one.
    pub station: Option<String>,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// Observed less fitted gap, mm.
    pub residual_mm: f64,
    /// The same in its own standard uncertainty.
    pub normalized: f64,
}

/// A control point, judged.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PointReport {
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// The gap, mm.
    pub gap_mm: f64,
    /// Its standard uncertainty, mm.
    pub u_mm: f64,
    /// Half width of its 95 % interval, mm.
    pub expanded_mm: f64,
    /// `within`, `outside`, `unsure`; null in place of a `within` where nobody looked.
    pub verdict: Option<Verdict>,
    /// Whether anybody looked there: a gap was read at the place, or the board was surveyed.
    pub looked_at: bool,
}

/// Whether a setting exists, with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Feasibility {
    /// It does.
    Yes,
    /// None does.
    No,
    /// The board's shape is not known well enough to say, or the readings contradict one another.
    Unsure,
}

/// What holds the margin down.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HoldReport {
    /// `low` or `high` (this point would come too near to that end of the band), `travel` (this
    /// adjuster's adjuster ends).
    pub by: String,
    /// Index into `points`, for `low` and `high`.
    pub point: Option<usize>,
    /// The adjuster's name, for `travel`.
    pub adjuster: Option<String>,
    /// By how much the margin grows when this gives way by 1 mm, or by one turn.
    pub weight: f64,
}

/// One turn of one adjuster.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurnReport {
    /// The adjuster's name.
    pub adjuster: String,
    /// How many turns; zero or more.
    pub turns: f64,
    /// `clockwise` or `anticlockwise`, as seen from the adjuster's head.
    pub sense: String,
    /// What the live gap at `at_station` should come to, mm; null where the turn is counted, since
    /// the light leaves the head's window on the way or the turn hardly shows.
    pub dial_to_mm: Option<f64>,
    /// Where to watch it; null where it is counted.
    pub at_station: Option<String>,
    /// Of the first turn: what the gap there should be before anything is turned, mm. As much more
    /// or less as it is, every `dial_to_mm` at this station is to be, for as long as the head stays;
    /// null elsewhere.
    #[serde(default)]
    pub dial_from_mm: Option<f64>,
    /// Whether `dial_to_mm` lies outside the band, and is meant.
    pub outside_band: bool,
    /// Of the last turn, where it is counted: once it is made the head sees the light here; null
    /// elsewhere.
    #[serde(default)]
    pub then_at_station: Option<String>,
    /// What the gap should come to there, mm: by the count first, then by this.
    #[serde(default)]
    pub then_to_mm: Option<f64>,
}

/// What may lie between the places read.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BetweenReport {
    /// `within` where the chance is small enough.
    pub verdict: Verdict,
    /// Bound on the chance that the gap is out of the band somewhere.
    pub chance: f64,
    /// Where it is likeliest out: right of the image's middle, above its top edge, mm.
    pub worst_mm: Option<[f64; 2]>,
    /// The dent or bump that nobody would have seen and that would matter; null where somebody looked
    /// the board over, and where none would.
    #[serde(default)]
    pub unseen: Option<Unseen>,
}

impl BetweenReport {
    pub(crate) fn of(whole: &WholeVerdict) -> Self {
        let between = &whole.between;
        Self {
            verdict: between.verdict,
            chance: between.chance,
            worst_mm: between.worst_place().map(|place| [place.x_mm, place.y_mm]),
            unseen: whole.unseen,
        }
    }
}

/// A setting in whole steps.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ByHandReport {
    /// Clockwise turns by adjuster, in the job's order; negative is anticlockwise.
    pub turns: [f64; 3],
    /// How far inside the band the worst of `points` and `places` stands with them, mm; negative
    /// outside.
    pub margin_mm: f64,
    /// No less than this, at 95 %, mm.
    #[serde(default)]
    pub low_mm: f64,
    /// No more than this, mm.
    #[serde(default)]
    pub high_mm: f64,
}
