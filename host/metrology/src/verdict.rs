//! Within, outside, or too close to call.
//!
//! The decision rule of ISO 14253-1, with the interval taken two-sided at 95 %: a value passes only where its whole
//! interval lies inside the band, fails only where it lies outside, and is otherwise undecided. A value that is truly
//! outside is then called `within` in at most 2.5 % of cases (JCGM 106).

use crate::band::Band;
use crate::coverage::{FactorTable, LEVEL};
use crate::plane::board::ControlPoint;
use crate::plane::fit::{Agreement, PlaneFit, Prediction};
use serde::{Deserialize, Serialize};

/// What is known about a value against its band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Inside the band, uncertainty and all.
    Within,
    /// Outside the band, uncertainty and all.
    Outside,
    /// Too close to call.
    Unsure,
}

impl Verdict {
    /// Of one value with the half width of its 95 % interval, same unit as the band. Anything that is not a number, or a
    /// negative half width, is `Unsure`.
    pub fn of(value: f64, expanded: f64, band: Band) -> Self {
        if !value.is_finite() || expanded.is_nan() || expanded < 0.0 {
            Self::Unsure
        } else if value >= band.low + expanded && value <= band.high - expanded {
            Self::Within
        } else if value < band.low - expanded || value > band.high + expanded {
            Self::Outside
        } else {
            Self::Unsure
        }
    }

    /// Of many: `Outside` where any is, `Within` where all are. Of none: `Unsure`.
    pub fn of_all(verdicts: impl IntoIterator<Item = Self>) -> Self {
        let mut all = None;
        for verdict in verdicts {
            match verdict {
                Self::Outside => return Self::Outside,
                Self::Unsure => all = Some(Self::Unsure),
                Self::Within => all = all.or(Some(Self::Within)),
            }
        }
        all.unwrap_or(Self::Unsure)
    }

    /// The word in files and on the screen's machine side.
    pub fn word(self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Outside => "outside",
            Self::Unsure => "unsure",
        }
    }
}

/// What would turn `Unsure` into an answer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "by", rename_all = "kebab-case")]
pub enum Remedy {
    /// This many times as many takes as now would shrink the interval enough.
    MoreTakes {
        /// At least this many times, one or more.
        times: f64,
    },
    /// What all gaps share is too uncertain: however many takes, only a better zero helps.
    BetterZero,
    /// What is not known of the board's shape is too much: survey it, or take stations nearer to this point.
    SurveyBoard,
    /// The takes contradict one another: retake the one that fits worst.
    Retake,
    /// It lies on the limit: no measuring settles that, turning a screw does.
    Trim,
}

/// A control point judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JudgedPoint {
    /// Where.
    pub point: ControlPoint,
    /// The gap there.
    pub gap: Prediction,
    /// Half width of its 95 % interval, mm.
    pub expanded_mm: f64,
    /// The verdict there.
    pub verdict: Verdict,
}

impl JudgedPoint {
    /// How far inside the band the gap lies, mm; negative outside.
    pub fn inside_mm(&self, band: Band) -> f64 {
        (self.gap.gap_mm - band.low).min(band.high - self.gap.gap_mm)
    }
}

/// The verdict over the board.
#[derive(Debug, Clone, PartialEq)]
pub struct BoardVerdict {
    /// Over all points.
    pub verdict: Verdict,
    /// Each point, in the order given.
    pub points: Vec<JudgedPoint>,
    /// Index of the point that limits: the one whose interval reaches furthest toward, or past, a limit. `None` without
    /// points.
    pub limiting: Option<usize>,
    /// What would settle it, where it is unsure.
    pub remedy: Option<Remedy>,
}

/// More takes than this many times as many is not something to ask of anybody.
const MOST_TIMES: f64 = 10.0;

/// Judges every control point. A fit whose takes contradict one another is never `Within`, though it may be `Outside`:
/// its intervals are wide, and what lies beyond even those is out.
pub fn judge(fit: &PlaneFit, points: &[ControlPoint], band: Band) -> BoardVerdict {
    let mut factors = FactorTable::new(LEVEL);
    let contradicts = fit.agreement == Agreement::Contradicts;
    let judged: Vec<JudgedPoint> = points
        .iter()
        .map(|point| {
            let gap = fit.gap_at(point);
            let expanded_mm = factors.as_mut().map_or(f64::INFINITY, |f| f.factor(gap.dof)) * gap.u_mm;
            let verdict = match Verdict::of(gap.gap_mm, expanded_mm, band) {
                Verdict::Within if contradicts => Verdict::Unsure,
                verdict => verdict,
            };
            JudgedPoint { point: *point, gap, expanded_mm, verdict }
        })
        .collect();
    let verdict = Verdict::of_all(judged.iter().map(|j| j.verdict));
    let room = |j: &JudgedPoint| j.inside_mm(band) - j.expanded_mm;
    let limiting = (0..judged.len()).min_by(|&a, &b| room(&judged[a]).total_cmp(&room(&judged[b])));
    let remedy = limiting
        .filter(|_| verdict == Verdict::Unsure)
        .map(|at| if contradicts { Remedy::Retake } else { remedy(&judged[at], band) });
    BoardVerdict { verdict, points: judged, limiting, remedy }
}

/// What would settle one undecided point, from which share of its variance stands in the way.
fn remedy(judged: &JudgedPoint, band: Band) -> Remedy {
    let gap = &judged.gap;
    let needed_u = judged.inside_mm(band).abs() / (judged.expanded_mm / gap.u_mm);
    let needed = needed_u * needed_u;
    let square = |u: f64| u * u;
    let (takes, shared, board) = (square(gap.u_takes_mm), square(gap.u_shared_mm), square(gap.u_board_mm));
    let times = takes / (needed - shared - board);
    if needed > shared + board && times <= MOST_TIMES {
        return Remedy::MoreTakes { times: times.max(1.0) };
    }
    // A tenth of what is uncertain now: nearer to the limit than that, no better zero or survey reaches.
    if needed < 0.01 * square(gap.u_mm) {
        return Remedy::Trim;
    }
    match () {
        () if shared >= board && shared >= takes => Remedy::BetterZero,
        () if board >= takes => Remedy::SurveyBoard,
        () if needed > shared + board => Remedy::Trim,
        () if shared >= board => Remedy::BetterZero,
        () => Remedy::SurveyBoard,
    }
}
