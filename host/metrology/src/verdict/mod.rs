//! Within, outside, or too close to call.
//!
//! The decision rule of ISO 14253-1, with the interval taken two-sided at 95 %: a value passes only
//! where its whole interval lies inside the band, fails only where it lies outside, and is
//! otherwise undecided. A value that is truly outside is then called `within` in at most 2.5 % of
//! cases (JCGM 106).

pub mod whole;

use crate::coverage::{FactorTable, LEVEL};
use crate::plane::board::ControlPoint;
use crate::plane::consistency::{Odd, PlaceRead};
use crate::plane::fit::{PlaneFit, Prediction};
use serde::{Deserialize, Serialize};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Band, Mm, Quantity};

/// The verdict on a value with the half width of its 95 % interval. Of anything that is not a
/// number, or of a negative half width, it is `Unsure`.
pub fn decide<T: Quantity>(value: T, expanded: T, band: Band<T>) -> Verdict {
    let (value, expanded) = (value.value(), expanded.value());
    let (low, high) = (band.low.value(), band.high.value());
    if !value.is_finite() || expanded.is_nan() || expanded < 0.0 {
        Verdict::Unsure
    } else if value >= low + expanded && value <= high - expanded {
        Verdict::Within
    } else if value < low - expanded || value > high + expanded {
        Verdict::Outside
    } else {
        Verdict::Unsure
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
    /// What is not known of the board's shape is too much: survey it, or take stations nearer to
    /// this point.
    SurveyBoard,
    /// The takes contradict one another: read the odd one again.
    Retake,
    /// An error at one of the places would not show: take one more station, away from the line of
    /// the others.
    OneMoreStation,
    /// It lies so far from the stations read that their errors grow on the way: however many seats
    /// at those, a station at or near this point tells more.
    StationThere,
    /// A reading there is much less sure than readings are: one as sure as usual settles it.
    SurerReading,
    /// It lies on the limit: no measuring settles that, turning an adjuster does.
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
    /// The verdict there, by the plane.
    pub verdict: Verdict,
    /// Whether anybody looked there: a gap was read at the place, or the board was surveyed.
    pub looked_at: bool,
}

impl JudgedPoint {
    /// The verdict that may be said of it: no `within` where nobody looked.
    pub fn said(&self) -> Option<Verdict> {
        Some(self.verdict).filter(|verdict| self.looked_at || *verdict != Verdict::Within)
    }

    /// How far inside the band the gap lies, mm; negative outside.
    pub fn inside_mm(&self, band: Band<Mm>) -> f64 {
        band.inside(Mm(self.gap.gap_mm)).0
    }
}

/// A place read, judged by the readings there alone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JudgedPlace {
    /// The station's name, or the position in words.
    pub name: String,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// The gap read, mm.
    pub gap_mm: f64,
    /// Its standard uncertainty, mm: what all readings share is in it.
    pub u_mm: f64,
    /// Half width of its 95 % interval, mm.
    pub expanded_mm: f64,
    /// The verdict there.
    pub verdict: Verdict,
}

/// What a verdict of `within` speaks of. In JSON a list of names, or the word `board`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum JudgedAt {
    /// These places, where gaps were read; nothing was read between them.
    Places(Vec<String>),
    /// The board, which was surveyed.
    Board(WholeBoard),
}

/// The word for a board that was surveyed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum WholeBoard {
    /// The word.
    #[serde(rename = "board")]
    Board,
}

/// The verdict over the board.
#[derive(Debug, Clone, PartialEq)]
pub struct BoardVerdict {
    /// Over all points and places.
    pub verdict: Verdict,
    /// Each point, in the order given: where a gap is worked out.
    pub points: Vec<JudgedPoint>,
    /// Each place where gaps were read.
    pub places: Vec<JudgedPlace>,
    /// What a verdict of `within` speaks of.
    pub judged_at: JudgedAt,
    /// Index of the point that limits: the one whose interval reaches furthest toward, or past, a
    /// limit. `None` without points, where the readings contradict one another, and where a
    /// reading is outside and no point is.
    pub limiting: Option<usize>,
    /// What would settle it, where it is unsure.
    pub remedy: Option<Remedy>,
}

/// A usual take is as sure as this, standard uncertainty, mm.
const USUAL_U_MM: f64 = 0.06;

/// More takes than this many times as many is not something to ask of anybody.
const MOST_TIMES: f64 = 10.0;

/// A variance so many times that of one place's readings is brought there from far off.
const FAR: f64 = 2.0;

/// Nearer to the limit than a tenth of what is uncertain now, as a variance: no reading, no better
/// zero and no survey reaches.
const NEAREST: f64 = 0.01;

impl BoardVerdict {
    /// Nothing is `Within` any more: what was done before says otherwise.
    pub(crate) fn withhold_within(&mut self) {
        let withhold = |verdict: &mut Verdict| {
            if *verdict == Verdict::Within {
                *verdict = Verdict::Unsure;
            }
        };
        self.points.iter_mut().for_each(|point| withhold(&mut point.verdict));
        self.places.iter_mut().for_each(|place| withhold(&mut place.verdict));
        if self.verdict != Verdict::Outside {
            (self.verdict, self.remedy) = (Verdict::Unsure, Some(Remedy::Retake));
        }
    }

    /// The place that limits, of those read: as [`Self::limiting`] of the points.
    pub fn limiting_place(&self, band: Band<Mm>) -> Option<&JudgedPlace> {
        self.places.iter().min_by(|a, b| a.room_mm(band).total_cmp(&b.room_mm(band)))
    }
}

/// What may be said of a round's readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Promises {
    /// Whatever the numbers say.
    All,
    /// No `within`: an error at one of the places would not show.
    NoWithin,
    /// Only that a reading lies outside: the readings contradict one another, but they came back
    /// the same, so that it is the board that is not as assumed.
    ReadingsOutside,
    /// Nothing: the readings contradict one another, and one of them may be misread.
    Nothing,
}

impl Promises {
    fn of(fit: &PlaneFit) -> Self {
        match fit.contradiction() {
            Some(odd) if odd.came_back() => Self::ReadingsOutside,
            Some(_) => Self::Nothing,
            None if !fit.consistency.is_checked() => Self::NoWithin,
            None => Self::All,
        }
    }

    /// Of a verdict, what may be said; `read`: it is of the readings at a place, not worked out.
    fn allowed(self, verdict: Verdict, read: bool) -> Verdict {
        match (self, verdict) {
            (Self::All, verdict) => verdict,
            (Self::NoWithin, Verdict::Outside) => Verdict::Outside,
            (Self::ReadingsOutside, Verdict::Outside) if read => Verdict::Outside,
            _ => Verdict::Unsure,
        }
    }
}

/// Judges every control point and every place read. Where the readings contradict one another
/// nothing is said; where an error at one of the places would not show, there is no `within`.
///
/// `Within` wants both: each place read lies in the band by its own readings, and so does every
/// point by the plane. What it speaks of is [`BoardVerdict::judged_at`].
pub fn judge(fit: &PlaneFit, points: &[ControlPoint], band: Band<Mm>) -> BoardVerdict {
    judge_at(fit, points, band, LEVEL)
}

/// The same with intervals of another level of confidence.
fn judge_at(fit: &PlaneFit, points: &[ControlPoint], band: Band<Mm>, level: f64) -> BoardVerdict {
    let mut factors = FactorTable::new(level);
    let mut expanded =
        |u_mm: f64, dof: f64| factors.as_mut().map_or(f64::INFINITY, |f| f.factor(dof)) * u_mm;
    let promises = Promises::of(fit);
    let judged: Vec<JudgedPoint> = points
        .iter()
        .map(|point| {
            let gap = fit.gap_at(point);
            let expanded_mm = expanded(gap.u_mm, gap.dof);
            let verdict = promises.allowed(decide(Mm(gap.gap_mm), Mm(expanded_mm), band), false);
            let looked_at =
                fit.surveyed || fit.consistency.places.iter().any(|place| place.is_at(point));
            JudgedPoint { point: *point, gap, expanded_mm, verdict, looked_at }
        })
        .collect();
    // A board that nobody surveyed need not be as assumed, and then it is the board that does not
    // fit: how a seat scatters is told by seats, and a reading is as sure as it is at its own place.
    let by_the_board = promises == Promises::ReadingsOutside || !fit.surveyed;
    let widening = if by_the_board { 1.0 } else { fit.widening };
    let places: Vec<JudgedPlace> = fit
        .consistency
        .places
        .iter()
        .map(|place| {
            let dof = place.dof.unwrap_or(f64::INFINITY);
            let (u_mm, dof) = fit.with_shared(place.gap_mm, widening * place.u_mm, dof);
            let expanded_mm = expanded(u_mm, dof);
            let verdict = promises.allowed(decide(Mm(place.gap_mm), Mm(expanded_mm), band), true);
            JudgedPlace::of(place, u_mm, expanded_mm, verdict)
        })
        .collect();
    let judged_at = if fit.surveyed {
        JudgedAt::Board(WholeBoard::Board)
    } else {
        JudgedAt::Places(places.iter().map(|place| place.name.clone()).collect())
    };
    let verdict =
        Verdict::of_all(judged.iter().map(|j| j.verdict).chain(places.iter().map(|p| p.verdict)));
    let room = |j: &JudgedPoint| j.inside_mm(band) - j.expanded_mm;
    let limiting = (0..judged.len())
        .min_by(|&a, &b| room(&judged[a]).total_cmp(&room(&judged[b])))
        .filter(|_| fit.contradiction().is_none())
        .filter(|&at| verdict != Verdict::Outside || judged[at].verdict == Verdict::Outside);
    let remedy = (verdict == Verdict::Unsure).then(|| {
        match (promises, fit.contradiction().map(Odd::came_back)) {
            (_, Some(true)) => Some(Remedy::SurveyBoard),
            (_, Some(false)) => Some(Remedy::Retake),
            (Promises::NoWithin, _) => Some(Remedy::OneMoreStation),
            _ => {
                let undecided =
                    limiting.map(|at| &judged[at]).filter(|point| point.verdict != Verdict::Within);
                let worst = |a: &&JudgedPlace, b: &&JudgedPlace| {
                    a.room_mm(band).total_cmp(&b.room_mm(band))
                };
                let place = || {
                    places
                        .iter()
                        .min_by(worst)
                        .map(|place| place.remedy(fit.shared_at(place.gap_mm).0, band))
                };
                undecided.map(|point| remedy(point, typical_u_mm(fit), band)).or_else(place)
            }
        }
    });
    BoardVerdict { verdict, points: judged, places, judged_at, limiting, remedy: remedy.flatten() }
}

impl JudgedPlace {
    fn of(place: &PlaceRead, u_mm: f64, expanded_mm: f64, verdict: Verdict) -> Self {
        let PlaceRead { x_mm, y_mm, gap_mm, .. } = *place;
        Self { name: place.name.clone(), x_mm, y_mm, gap_mm, u_mm, expanded_mm, verdict }
    }

    /// How far inside the band the gap lies, mm; negative outside.
    pub fn inside_mm(&self, band: Band<Mm>) -> f64 {
        band.inside(Mm(self.gap_mm)).0
    }

    /// From the end of the interval to the limit that it is nearest to, mm; negative where it
    /// reaches past it.
    pub fn room_mm(&self, band: Band<Mm>) -> f64 {
        self.inside_mm(band) - self.expanded_mm
    }

    /// What would settle it here, where it is undecided.
    fn remedy(&self, shared_variance: f64, band: Band<Mm>) -> Remedy {
        let k = self.expanded_mm / self.u_mm;
        let needed = (self.inside_mm(band) / k).powi(2);
        let own = self.u_mm * self.u_mm - shared_variance;
        let times = own / (needed - shared_variance);
        match () {
            () if needed > shared_variance && times <= MOST_TIMES => {
                Remedy::MoreTakes { times: times.max(1.0) }
            }
            () if needed > shared_variance + USUAL_U_MM * USUAL_U_MM => Remedy::SurerReading,
            () if needed < NEAREST * self.u_mm * self.u_mm || own > shared_variance => Remedy::Trim,
            () => Remedy::BetterZero,
        }
    }
}

/// How sure one place is by its own readings, standard uncertainty, mm: the median of all.
fn typical_u_mm(fit: &PlaneFit) -> f64 {
    let mut each: Vec<f64> = fit.consistency.places.iter().map(|place| place.u_mm).collect();
    each.sort_by(f64::total_cmp);
    each.get(each.len() / 2).copied().unwrap_or(USUAL_U_MM)
}

/// What would settle one undecided point, from which share of its variance stands in the way.
fn remedy(judged: &JudgedPoint, place_u_mm: f64, band: Band<Mm>) -> Remedy {
    let gap = &judged.gap;
    let needed_u = judged.inside_mm(band).abs() / (judged.expanded_mm / gap.u_mm);
    let needed = needed_u * needed_u;
    let square = |u: f64| u * u;
    let (takes, shared, board) =
        (square(gap.u_takes_mm), square(gap.u_shared_mm), square(gap.u_board_mm));
    // Read at its own place it would be surer than the others make it.
    let far = takes > FAR * square(place_u_mm);
    if far && takes >= shared.max(board) && needed >= NEAREST * square(gap.u_mm) {
        return Remedy::StationThere;
    }
    let times = takes / (needed - shared - board);
    if needed > shared + board && times <= MOST_TIMES {
        return Remedy::MoreTakes { times: times.max(1.0) };
    }
    if takes > shared && takes > board && needed > shared + board + square(USUAL_U_MM) {
        return Remedy::SurerReading;
    }
    if needed < NEAREST * square(gap.u_mm) {
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
