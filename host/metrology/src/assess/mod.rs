//! From one round's readings to everything a person or a program is told: plane, verdict, turns.

mod answers;
mod reported;
mod window;

pub use window::{EYE, MEASURABLE, NEAREST, SHEET_MM, TABLED, seen, watched};

use crate::plane::board::{Board, ControlPoint};
use crate::plane::fit::{PlaneFit, UNKNOWNS, fit, quadratic};
use crate::plane::ground::Ground;
use crate::plane::observation::Observations;
use crate::plane::prior::Expected;
use crate::plane::refusal::PlaneError;
use crate::trim::TrimError;
use crate::trim::feasible::{WholeSetting, whole_setting};
use crate::trim::influence::Influence;
use crate::trim::learn::{Hand, Tracker};
use crate::trim::person::Person;
use crate::trim::plan::{Listed, Task, listed};
use crate::trim::promise::{Before, Promise};
use crate::trim::rounds::{GEOMETRY, Learner};
use crate::trim::solve::{Setting, Spot, solve, travel};
use crate::verdict::whole::{WholeVerdict, judge_whole};
use crate::verdict::{BoardVerdict, judge};
use skimgauge_model::{Adjuster, Point, Station, Verdict};
use skimgauge_quantity::{Band, Mm};
use thiserror::Error;

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
    /// Of those, by index, the ones where the head is held by hand: nothing is watched there.
    pub held: &'a [usize],
    /// Gaps that the head can measure, mm: a turn is watched where the gap stays among them.
    /// [`MEASURABLE`].
    pub measurable: Band<Mm>,
    /// Smallest turn a hand can make, turns: the turns are whole steps of it. `None`:
    /// [`SMALLEST_TURN`], and no steps.
    pub smallest_turn: Option<f64>,
    /// How the gap scatters from seat to seat, standard uncertainty, mm: the seat at which a turn is
    /// ended is another than that of the readings.
    pub seat_u_mm: f64,
    /// Stations that were read again from a new seat and came back the same, besides those that
    /// the observations hold twice.
    pub came_back: &'a [String],
    /// The board between the places read; `None` where it is taken to be as the points say.
    pub unread: Option<Unread>,
    /// Seconds that things take.
    pub person: Person,
    /// Rounds before this one; `None` in the first.
    pub earlier: Option<Earlier<'a>>,
    /// Those contradict themselves or these readings, or one place was read twice far apart: nothing
    /// is promised.
    pub contradicted: bool,
    /// The job judges more than the gap, of which these readings say nothing: the whole is not
    /// within.
    pub more_is_judged: bool,
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
    /// What those come to as they are told; without turns, how it stands. `None` without a plan.
    pub promise: Option<Promise>,
    /// How it stands, before any turn.
    pub stands: Promise,
    /// Earlier rounds contradict themselves, or these readings.
    pub contradicted: bool,
    /// The gap is within everywhere, and what is judged besides was not read: by that alone it is
    /// not within.
    pub gap_alone: bool,
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
    fit.consistency.held_to_seats(&question.observations.gaps, question.seat_u_mm);
    fit.consistency.came_back(question.came_back);
    let whole = question.unread.map(|unread| {
        let places = fit.consistency.places.iter();
        let read: Vec<(f64, f64)> = places.map(|place| (place.x_mm, place.y_mm)).collect();
        let ground = Ground::new(question.board, unread.size_mm, unread.expected, &read);
        let whole = judge_whole(&fit, &ground, question.points, question.band, unread.looks);
        (ground, whole)
    });
    let whole = whole.map(|(ground, mut whole)| {
        if question.contradicted {
            whole.withhold_within();
        }
        (ground, whole)
    });
    let mut verdict = match &whole {
        Some((_, whole)) => whole.at_places.clone(),
        None => judge(&fit, question.points, question.band),
    };
    if question.contradicted {
        verdict.withhold_within();
    }
    let of_gap = whole.as_ref().map_or(verdict.verdict, |(_, whole)| whole.verdict);
    let gap_alone = question.more_is_judged && of_gap == Verdict::Within;
    let spots: Vec<Spot> = verdict
        .points
        .iter()
        .map(|j| Spot { x_mm: j.point.x_mm, y_mm: j.point.y_mm, gap_mm: j.gap.gap_mm })
        .collect();
    let left = left(question, adjusters);
    let mut setting = solve(&spots, &influence, &left, question.band, None)?;
    let whole_setting = match &whole {
        Some((ground, whole)) => {
            Some(whole_setting(ground, &whole.between, &influence, &left, question.band)?)
        }
        None => None,
    };
    let stations = stations(question);
    let contradicted = question.contradicted;
    let tracker = tracker(question, adjusters, &fit, &influence);
    let before = Before {
        fit: &fit,
        judged: &verdict,
        between: whole.as_ref().map(|(_, whole)| &whole.between),
        tracker: &tracker,
        stations: &stations,
        band: question.band,
        live_u_mm: LIVE_CHANGE_U_MM,
        seat_u_mm: question.seat_u_mm,
    };
    let stands = before.promise(&[]);
    let plan = if fit.contradiction().is_some() || contradicted {
        // Nobody turns an adjuster on readings one of which is wrong.
        setting.turns = [0.0; 3];
        None
    } else {
        Some(planned(question, adjusters, &tracker, &stations)?)
    };
    let promise = plan.as_ref().map(|plan| before.promise(&plan.instructions));
    let along = margin_u(&fit, question.points, &setting);
    let margin_u_mm = along.max(bent_u(&fit, question, &spots, &influence, &setting)?);
    let (ground, whole) = whole.unzip();
    Ok(Assessment {
        margin_u_mm,
        promise,
        stands,
        contradicted,
        gap_alone,
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

/// What is known before this round's turns.
fn tracker(
    question: &Question<'_>,
    adjusters: &[Adjuster; 3],
    fit: &PlaneFit,
    influence: &Influence,
) -> Tracker {
    let anew = || {
        let hand = Hand::default();
        Tracker::new(fit, question.board, influence, adjusters, GEOMETRY, hand)
    };
    let known = question.earlier.and_then(|earlier| earlier.learner.tracker().cloned());
    known.unwrap_or_else(anew)
}

/// This round's turns.
fn planned(
    question: &Question<'_>,
    adjusters: &[Adjuster; 3],
    tracker: &Tracker,
    stations: &[Station],
) -> Result<Listed, TrimError> {
    let task = Task {
        adjusters,
        points: question.points,
        band: question.band,
        stations,
        held: question.held,
        measurable: question.measurable,
        smallest_turn: question.smallest_turn.unwrap_or(SMALLEST_TURN),
        step: question.smallest_turn.filter(|step| *step != SMALLEST_TURN),
        worth_mm: WORTH_MM,
        inside_mm: wanted_inside_mm(question.board.is_surveyed()),
        person: question.person,
        hand: Hand::default(),
        live_u_mm: LIVE_CHANGE_U_MM,
        seat_u_mm: question.seat_u_mm,
        reads_after_count: true,
        next_round_s: Task::round_s(&question.person, stations.len()),
    };
    listed(&task, tracker, &question.earlier.map_or([0.0; 3], |e| e.made))
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
