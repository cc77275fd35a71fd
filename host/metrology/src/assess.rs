//! From one round's readings to everything a person or a program is told: plane, verdict, turns.

mod reported;
mod window;

pub use window::{EYE, MEASURABLE, NEAREST, SHEET_MM, TABLED, seen, watched};

use crate::coverage::{LEVEL, t_factor};
use crate::plane::between::Ground;
use crate::plane::board::{Board, ControlPoint};
use crate::plane::fit::{PlaneFit, UNKNOWNS, fit, quadratic};
use crate::plane::looking::Looking;
use crate::plane::observation::Observations;
use crate::plane::prior::Expected;
use crate::plane::refusal::PlaneError;
use crate::report::Feasibility;
use crate::trim::TrimError;
use crate::trim::feasible::{WholeSetting, whole_setting};
use crate::trim::influence::Influence;
use crate::trim::learn::{Hand, Tracker};
use crate::trim::person::Person;
use crate::trim::plan::{Listed, Task, listed};
use crate::trim::rounds::{GEOMETRY, Learner};
use crate::trim::solve::{Setting, Spot, solve, travel};
use crate::trim::survey::{Standing, survey_now};
use crate::verdict::whole::{WholeVerdict, judge_whole};
use crate::verdict::{BoardVerdict, judge};
use skimgauge_model::{Adjuster, Point, Station, Verdict};
use skimgauge_quantity::{Band, Mm};
use thiserror::Error;

/// A setting is promised from so many standard uncertainties of its margin on.
const SURE: f64 = 3.5;

/// A setting that gains less margin than this, mm, is not worth a hand on an adjuster.
pub const WORTH_MM: f64 = 0.02;

/// A change of the live gap at one seat, standard uncertainty, mm: two readings of it.
pub const LIVE_CHANGE_U_MM: f64 = 0.028;

/// Less than this, in turns, a hand cannot make. Common practice, no source.
pub const SMALLEST_TURN: f64 = 5.0 / 360.0;

/// How far inside the band the gaps should come to be judged within afterwards, mm: a board that
/// nobody surveyed may do more between the places read.
pub fn wanted_inside_mm(surveyed: bool) -> f64 {
    if surveyed { 0.2 } else { 1.0 }
}

/// How far from where it should be the worst point may come in the first round before another round
/// or a survey follows, mm: what is left of half the band once the gaps are to be judged within on a
/// board that nobody surveyed.
pub fn allowed_off_mm(band: Band<Mm>) -> f64 {
    const LEAST_MM: f64 = 0.1;
    (band.width().0 / 2.0 - wanted_inside_mm(false)).max(LEAST_MM)
}

/// The board where nobody reads it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unread {
    /// The image's width and height, mm.
    pub size_mm: [f64; 2],
    /// What is to be reckoned with there.
    pub expected: Expected,
    /// How many times this same setting is judged, this time included.
    pub looks: u32,
}

/// What was done before this round.
#[derive(Debug, Clone, Copy)]
pub struct Earlier<'a> {
    /// What was learnt, this round's takes among it.
    pub learner: &'a Learner,
    /// What was turned so far, clockwise by adjuster.
    pub made: [f64; 3],
}

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// What was observed.
    pub observations: &'a Observations,
    /// The board under it.
    pub board: &'a Board,
    /// The emitter's adjusters, three.
    pub adjusters: &'a [Adjuster],
    /// What the gap may be, mm.
    pub band: Band<Mm>,
    /// Where the gap must be in the band.
    pub points: &'a [ControlPoint],
    /// Stations where the live gap may be watched; the observed places where this is empty.
    pub live: &'a [Station],
    /// Gaps that the head can measure, mm: a turn is watched where the gap stays among them.
    /// [`MEASURABLE`].
    pub measurable: Band<Mm>,
    /// Smallest turn a hand can make, turns; asks for a setting in whole steps of it as well.
    pub smallest_turn: Option<f64>,
    /// Stations that were read again from a new seat and came back the same, besides those that
    /// the observations hold twice.
    pub came_back: &'a [String],
    /// The board between the places read; `None` where it is taken to be as the points say.
    pub unread: Option<Unread>,
    /// Seconds that things take.
    pub person: Person,
    /// Rounds before this one; `None` in the first.
    pub earlier: Option<Earlier<'a>>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum AssessError {
    /// No plane.
    #[error(transparent)]
    Plane(#[from] PlaneError),
    /// No setting.
    #[error(transparent)]
    Trim(#[from] TrimError),
    /// The emitter does not have three adjusters.
    #[error("the job names {given} adjusters; the emitter must stand on three")]
    NotThree {
        /// How many it names.
        given: usize,
    },
}

/// The whole answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// The plane.
    pub fit: PlaneFit,
    /// The verdict over the control points and the places read.
    pub verdict: BoardVerdict,
    /// The same over the whole board, with all that lies between; `None` where that was not asked.
    pub whole: Option<WholeVerdict>,
    /// What one turn of each adjuster does.
    pub influence: Influence,
    /// The best setting; without turns where the readings contradict one another.
    pub setting: Setting,
    /// Standard uncertainty of its margin, mm.
    pub margin_u_mm: f64,
    /// The board between the places read, which that was judged on.
    pub ground: Option<Ground>,
    /// Whether a setting exists for the whole board; `None` where that was not asked.
    pub whole_setting: Option<WholeSetting>,
    /// Stations where turns may be watched: the plan's are among these.
    pub stations: Vec<Station>,
    /// This round's turns; `None` where the readings contradict one another.
    pub plan: Option<Listed>,
}

/// Answers.
///
/// # Errors
/// [`AssessError`] where the readings do not decide a plane or the adjusters cannot move it.
pub fn assess(question: &Question<'_>) -> Result<Assessment, AssessError> {
    let adjusters: &[Adjuster; 3] = question
        .adjusters
        .try_into()
        .map_err(|_| AssessError::NotThree { given: question.adjusters.len() })?;
    let influence = match question.earlier {
        Some(earlier) => earlier.learner.influence(),
        None => Influence::of(adjusters)?,
    };
    let mut fit = fit(question.observations, question.board)?;
    fit.consistency.came_back(question.came_back);
    let whole = question.unread.map(|unread| {
        let places = fit.consistency.places.iter();
        let read: Vec<(f64, f64)> = places.map(|place| (place.x_mm, place.y_mm)).collect();
        let ground = Ground::new(question.board, unread.size_mm, unread.expected, &read);
        let whole = judge_whole(&fit, &ground, question.points, question.band, unread.looks);
        (ground, whole)
    });
    let verdict = match &whole {
        Some((_, whole)) => whole.at_places.clone(),
        None => judge(&fit, question.points, question.band),
    };
    let spots: Vec<Spot> = verdict
        .points
        .iter()
        .map(|j| Spot { x_mm: j.point.x_mm, y_mm: j.point.y_mm, gap_mm: j.gap.gap_mm })
        .collect();
    let left = left(question, adjusters);
    let mut setting = solve(&spots, &influence, &left, question.band, question.smallest_turn)?;
    let whole_setting = match &whole {
        Some((ground, whole)) => {
            Some(whole_setting(ground, &whole.between, &influence, &left, question.band)?)
        }
        None => None,
    };
    let stations = stations(question);
    let plan = if fit.contradiction().is_some() {
        // Nobody turns an adjuster on readings one of which is wrong.
        (setting.turns, setting.by_hand) = ([0.0; 3], None);
        None
    } else {
        Some(planned(question, adjusters, &fit, &influence, &stations)?)
    };
    let along = margin_u(&fit, question.points, &setting);
    let margin_u_mm = along.max(bent_u(&fit, question, &spots, &influence, &setting)?);
    let (ground, whole) = whole.unzip();
    Ok(Assessment {
        margin_u_mm,
        fit,
        verdict,
        whole,
        ground,
        influence,
        setting,
        whole_setting,
        stations,
        plan,
    })
}

/// Travel that is left.
fn left(question: &Question<'_>, adjusters: &[Adjuster; 3]) -> [(f64, f64); 3] {
    let (whole, made) = (travel(adjusters), question.earlier.map_or([0.0; 3], |e| e.made));
    [0, 1, 2].map(|i| ((whole[i].0 - made[i]).min(0.0), (whole[i].1 - made[i]).max(0.0)))
}

/// This round's turns.
fn planned(
    question: &Question<'_>,
    adjusters: &[Adjuster; 3],
    fit: &PlaneFit,
    influence: &Influence,
    stations: &[Station],
) -> Result<Listed, TrimError> {
    let anew = || {
        let hand = Hand::default();
        Tracker::new(fit, question.board, influence, adjusters, GEOMETRY, hand)
    };
    let known = question.earlier.and_then(|earlier| earlier.learner.tracker().cloned());
    let tracker = known.unwrap_or_else(anew);
    let task = Task {
        adjusters,
        points: question.points,
        band: question.band,
        stations,
        measurable: question.measurable,
        smallest_turn: question.smallest_turn.unwrap_or(SMALLEST_TURN),
        worth_mm: WORTH_MM,
        inside_mm: wanted_inside_mm(question.board.is_surveyed()),
        person: question.person,
        hand: Hand::default(),
        live_u_mm: LIVE_CHANGE_U_MM,
        next_round_s: Task::round_s(&question.person, stations.len()),
    };
    listed(&task, &tracker, &question.earlier.map_or([0.0; 3], |e| e.made), None)
}

/// Standard uncertainty of the margin as it answers to the gaps at the few points that hold it, all
/// together. Where no travel is in the way, no change of the plane moves it, so neither does an
/// error of the plane.
fn margin_u(fit: &PlaneFit, points: &[ControlPoint], setting: &Setting) -> f64 {
    let mut along = [0.0; UNKNOWNS];
    let (mut alone, mut shared) = (0.0, 0.0);
    for (spot, weight) in setting.margin_answers_to() {
        let point = &points[spot];
        let bearing = fit.bearings.at(point.x_mm, point.y_mm);
        let (share, own) = fit.answers(point);
        along.iter_mut().zip(bearing).for_each(|(a, b)| *a += weight * share * b);
        alone += weight * weight * own;
        shared += weight;
    }
    let widened = fit.widening * fit.widening;
    (quadratic(&fit.single, &along) * widened + alone + shared * shared * fit.shared_variance)
        .max(0.0)
        .sqrt()
}

/// The same from how the best margin itself falls when the board's unknown bow and twist are other
/// than fitted. A flat board has the largest margin there is, and any bend takes from it, which no
/// slope at the flat board shows.
fn bent_u(
    fit: &PlaneFit,
    question: &Question<'_>,
    spots: &[Spot],
    influence: &Influence,
    setting: &Setting,
) -> Result<f64, AssessError> {
    /// Looked at so many standard uncertainties to either side.
    const SIDE: f64 = 2.0;
    let adjusters: &[Adjuster; 3] = question
        .adjusters
        .try_into()
        .map_err(|_| AssessError::NotThree { given: question.adjusters.len() })?;
    let travel = left(question, adjusters);
    let mut variance = 0.0;
    for bend in fit.bends() {
        let mut drop_mm = 0.0f64;
        for side in [-SIDE, SIDE] {
            let bent: Vec<Spot> = spots
                .iter()
                .zip(question.points)
                .map(|(spot, point)| Spot {
                    gap_mm: spot.gap_mm + side * fit.bend_mm(&bend, point),
                    ..*spot
                })
                .collect();
            let margin_mm = solve(&bent, influence, &travel, question.band, None)?.margin_mm;
            drop_mm = drop_mm.max((setting.margin_mm - margin_mm) / SIDE);
        }
        variance += drop_mm * drop_mm;
    }
    Ok(variance.sqrt())
}

/// Stations where a turn may be watched; the places read where none are named.
fn stations(question: &Question<'_>) -> Vec<Station> {
    if !question.live.is_empty() {
        return question.live.to_vec();
    }
    let gaps = question.observations.gaps.iter();
    gaps.map(|g| Station { name: g.place(), at: Point::mm(g.x_mm, g.y_mm) }).collect()
}

impl Assessment {
    /// The verdict: over the whole board where that was asked, else at the points and places.
    pub fn word(&self) -> Verdict {
        self.whole.as_ref().map_or(self.verdict.verdict, |whole| whole.verdict)
    }

    /// Whether a setting exists: `No` at 95 %, `Yes` only beyond three and a half standard
    /// uncertainties, because whoever is told so begins to turn. Over the whole board where that
    /// was asked. `Unsure` where the readings contradict one another.
    pub fn feasibility(&self) -> Feasibility {
        let expanded =
            t_factor(LEVEL, f64::INFINITY).map_or(f64::INFINITY, |k| k * self.margin_u_mm);
        let at_points = match self.setting.margin_mm {
            _ if self.contradicts() => Feasibility::Unsure,
            m if m < -expanded => Feasibility::No,
            m if m >= SURE * self.margin_u_mm => Feasibility::Yes,
            _ => Feasibility::Unsure,
        };
        match (at_points, self.whole_setting.as_ref().map(|whole| whole.feasible)) {
            (Feasibility::Yes, Some(over_all)) => over_all,
            (at_points, _) => at_points,
        }
    }

    /// Whether the readings contradict one another, so that nothing is promised.
    pub fn contradicts(&self) -> bool {
        self.fit.contradiction().is_some()
    }

    /// The survey that is to be done now, before the next turns or for the verdict, once every station
    /// is read; each of its heights will have the standard uncertainty `u_mm`. [`survey_now`].
    pub fn survey(&self, question: &Question<'_>, u_mm: f64) -> Option<Looking> {
        let (ground, whole, best) =
            (self.ground.as_ref()?, self.whole.as_ref()?, self.whole_setting.as_ref()?);
        if self.contradicts() {
            return None;
        }
        let places = question.board.surveyed_places().iter();
        survey_now(&Standing {
            ground,
            whole,
            best,
            surveyed: &places.map(|p| (p[0], p[1])).collect::<Vec<_>>(),
            band: question.band,
            u_mm,
            person: question.person,
            round_s: Task::round_s(&question.person, self.stations.len()),
        })
    }
}
