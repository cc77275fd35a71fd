//! From one round's readings to everything a person or a program is told: plane, verdict, turns.
use crate::coverage::{LEVEL, t_factor};
use crate::plane::Plane;
use crate::plane::board::{Board, ControlPoint};
use crate::plane::fit::{PlaneFit, UNKNOWNS, fit, quadratic};
use crate::plane::observation::Observations;
use crate::plane::refusal::PlaneError;
use crate::report::{
    ByHandReport, Feasibility, HoldReport, PlaneReport, PointReport, Report, SCHEMA, TurnReport,
    WorstReport,
};
use crate::trim::TrimError;
use crate::trim::influence::Influence;
use crate::trim::order::{Order, Turn, Watched, order};
use crate::trim::solve::{Hold, Setting, Spot, solve, travel};
use crate::verdict::{BoardVerdict, judge};
use skimgauge_model::{Adjuster, Point, Station};
use skimgauge_quantity::{Band, Mm};
use thiserror::Error;

/// Gaps at which the sheet stands inside the eye's window, mm.
pub const MEASURABLE: Band<Mm> = Band { low: Mm(0.4), high: Mm(10.5) };

/// A setting is promised from so many standard uncertainties of its margin on.
const SURE: f64 = 3.5;

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
    /// Gap below which the plane must not come to the board while adjusters are turned, mm.
    pub guard_mm: f64,
    /// Gaps that the head can measure, mm: a turn is watched where the gap stays among them.
    /// [`MEASURABLE`].
    pub measurable: Band<Mm>,
    /// Smallest turn a hand can make, turns; asks for a setting in whole steps of it as well.
    pub smallest_turn: Option<f64>,
    /// Stations that were read again from a new seat and came back the same, besides those that
    /// the observations hold twice.
    pub came_back: &'a [String],
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
    /// The verdict over the control points.
    pub verdict: BoardVerdict,
    /// What one turn of each adjuster does.
    pub influence: Influence,
    /// The best setting; without turns where the readings contradict one another.
    pub setting: Setting,
    /// Standard uncertainty of its margin, mm.
    pub margin_u_mm: f64,
    /// The order of its turns.
    pub order: Order,
    /// For each turn of `order`, where to watch it and what the gap there should come to.
    pub dials: Vec<Dial>,
}

/// Where to watch a turn.
#[derive(Debug, Clone, PartialEq)]
pub struct Dial {
    /// The station.
    pub station: Station,
    /// What the live gap there should come to, mm.
    pub gap_mm: f64,
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
    let influence = Influence::of(adjusters)?;
    let mut fit = fit(question.observations, question.board)?;
    fit.consistency.came_back(question.came_back);
    let verdict = judge(&fit, question.points, question.band);
    let spots: Vec<Spot> = verdict
        .points
        .iter()
        .map(|j| Spot { x_mm: j.point.x_mm, y_mm: j.point.y_mm, gap_mm: j.gap.gap_mm })
        .collect();
    let mut setting =
        solve(&spots, &influence, &travel(adjusters), question.band, question.smallest_turn)?;
    let live = live(question, &fit);
    let stations: Vec<Spot> = live.iter().map(|(_, spot)| *spot).collect();
    let watched = Watched { stations: &stations, measurable: question.measurable };
    if fit.contradiction().is_some() {
        // Nobody turns an adjuster on readings one of which is wrong.
        (setting.turns, setting.by_hand) = ([0.0; 3], None);
    }
    let order = order(&spots, &influence, &setting.turns, question.guard_mm, Some(watched));
    let dials = dials(&live, &influence, &order.turns, question.measurable);
    let along = margin_u(&fit, question.points, &setting);
    let margin_u_mm = along.max(bent_u(&fit, question, &spots, &influence, &setting)?);
    Ok(Assessment { margin_u_mm, fit, verdict, influence, setting, order, dials })
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
    let travel = travel(adjusters);
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

/// Stations where a turn may be watched, each with the gap there now.
fn live(question: &Question<'_>, fit: &PlaneFit) -> Vec<(Station, Spot)> {
    let now = |x_mm: f64, y_mm: f64| Spot {
        x_mm,
        y_mm,
        gap_mm: fit.gap_at(&question.board.point(x_mm, y_mm)).gap_mm,
    };
    if question.live.is_empty() {
        let gaps = question.observations.gaps.iter();
        gaps.map(|g| {
            (Station { name: g.place(), at: Point::mm(g.x_mm, g.y_mm) }, now(g.x_mm, g.y_mm))
        })
        .collect()
    } else {
        question.live.iter().map(|s| (s.clone(), now(s.at.x.0, s.at.y.0))).collect()
    }
}

fn dials(
    live: &[(Station, Spot)],
    influence: &Influence,
    turns: &[Turn],
    measurable: Band<Mm>,
) -> Vec<Dial> {
    let mut at = [0.0; 3];
    let mut last: Option<usize> = None;
    let mut dials = Vec::with_capacity(turns.len());
    for turn in turns {
        let before = at;
        at[turn.adjuster] += turn.turns;
        let gap_mm = |k: usize, turns: &[f64; 3]| {
            let spot = &live[k].1;
            spot.gap_mm
                + influence
                    .turned(Plane::from_array([0.0; 3]), turns)
                    .height_mm(spot.x_mm, spot.y_mm)
        };
        let ends = |k: usize| [gap_mm(k, &before), gap_mm(k, &at)];
        let Some(k) = live_station(
            live.len(),
            |k| (&live[k].0, ends(k)),
            influence,
            turn.adjuster,
            last,
            measurable,
        ) else {
            break;
        };
        last = Some(k);
        dials.push(Dial { station: live[k].0.clone(), gap_mm: gap_mm(k, &at) });
    }
    dials
}

/// Where to watch an adjuster's turn: of the stations at which the head can measure the gap before
/// it and after it, the one where it shows most, for there a reading says most about the turn. The
/// station of the last turn is kept where it shows as much, which saves moving the head. Where no
/// station serves at both ends, one whose gap is least out of range is given. `station` tells the
/// station of an index below `count` and the gaps there before and after the turn, mm.
pub fn live_station<'a>(
    count: usize,
    station: impl Fn(usize) -> (&'a Station, [f64; 2]),
    influence: &Influence,
    adjuster: usize,
    last: Option<usize>,
    measurable: Band<Mm>,
) -> Option<usize> {
    let beyond = |gap_mm: f64| measurable.beyond(Mm(gap_mm)).0.max(0.0);
    // How far out of range it comes, and how much the turn shows.
    let rated: Vec<(f64, f64)> = (0..count)
        .map(|k| {
            let (station, ends) = station(k);
            let shows = influence.effect(station.at.x.0, station.at.y.0)[adjuster.min(2)].abs();
            (ends.into_iter().map(beyond).fold(0.0, f64::max), shows)
        })
        .collect();
    let best = (0..count).min_by(|&a, &b| {
        rated[a].0.total_cmp(&rated[b].0).then(rated[b].1.total_cmp(&rated[a].1))
    })?;
    match last {
        Some(last) if rated[last].0 <= rated[best].0 && rated[last].1 > 0.95 * rated[best].1 => {
            Some(last)
        }
        _ => Some(best),
    }
}

impl Assessment {
    /// Whether a setting exists: `No` at 95 %, `Yes` only beyond three and a half standard
    /// uncertainties, because whoever is told so begins to turn. `Unsure` where the readings
    /// contradict one another.
    pub fn feasibility(&self) -> Feasibility {
        let expanded =
            t_factor(LEVEL, f64::INFINITY).map_or(f64::INFINITY, |k| k * self.margin_u_mm);
        match self.setting.margin_mm {
            _ if self.contradicts() => Feasibility::Unsure,
            m if m < -expanded => Feasibility::No,
            m if m >= SURE * self.margin_u_mm => Feasibility::Yes,
            _ => Feasibility::Unsure,
        }
    }

    /// Whether the readings contradict one another, so that nothing is promised.
    pub fn contradicts(&self) -> bool {
        self.fit.contradiction().is_some()
    }

    /// The answer for other programs.
    pub fn report(&self, question: &Question<'_>) -> Report {
        let plane = self.fit.plane;
        let name = |adjuster: usize| question.adjusters[adjuster].name.clone();
        Report {
            schema: SCHEMA,
            plane: PlaneReport {
                c_mm: plane.c_mm,
                p_mm_per_m: plane.p_mm_per_m,
                q_mm_per_m: plane.q_mm_per_m,
                covariance: self.fit.covariance(),
            },
            chi_square: self.fit.chi_square,
            dof: self.fit.dof,
            agreement: self.fit.agreement,
            widening: self.fit.widening,
            worst: self.fit.worst().and_then(|worst| {
                let gap = &question.observations.gaps[worst.index];
                Some(WorstReport {
                    station: gap.station.clone(),
                    x_mm: gap.x_mm,
                    y_mm: gap.y_mm,
                    residual_mm: worst.residual_mm,
                    normalized: worst.normalized?,
                })
            }),
            points: self
                .verdict
                .points
                .iter()
                .map(|j| PointReport {
                    x_mm: j.point.x_mm,
                    y_mm: j.point.y_mm,
                    gap_mm: j.gap.gap_mm,
                    u_mm: j.gap.u_mm,
                    expanded_mm: j.expanded_mm,
                    verdict: j.said(),
                    looked_at: j.looked_at,
                })
                .collect(),
            verdict: self.verdict.verdict,
            limiting_point: self.verdict.limiting,
            remedy: self.verdict.remedy,
            places: self.verdict.places.clone(),
            judged_at: self.verdict.judged_at.clone(),
            consistency: self.fit.consistency.clone(),
            checked: self.fit.consistency.is_checked(),
            feasible: self.setting.is_feasible() && !self.contradicts(),
            feasibility: self.feasibility(),
            margin_mm: (!self.contradicts()).then_some(self.setting.margin_mm),
            margin_u_mm: (!self.contradicts()).then_some(self.margin_u_mm),
            holds: match self.contradicts() {
                true => Vec::new(),
                false => self
                    .setting
                    .holds
                    .iter()
                    .map(|&(hold, weight)| hold_report(hold, weight, &name))
                    .collect(),
            },
            turns: self
                .order
                .turns
                .iter()
                .zip(&self.dials)
                .map(|(turn, dial)| TurnReport {
                    adjuster: name(turn.adjuster),
                    turns: turn.turns.abs(),
                    sense: if turn.turns > 0.0 { "clockwise" } else { "anticlockwise" }.into(),
                    dial_to_mm: dial.gap_mm,
                    at_station: dial.station.name.clone(),
                })
                .collect(),
            least_gap_mm: (!self.order.turns.is_empty()).then_some(self.order.least_gap_mm),
            clear: self.order.clear,
            seen: self.order.seen,
            by_hand: self
                .setting
                .by_hand
                .map(|b| ByHandReport { turns: b.turns, margin_mm: b.margin_mm }),
        }
    }
}

fn hold_report(hold: Hold, weight: f64, name: &dyn Fn(usize) -> String) -> HoldReport {
    let (by, point, adjuster) = match hold {
        Hold::Low { spot } => ("low", Some(spot), None),
        Hold::High { spot } => ("high", Some(spot), None),
        Hold::TravelClockwise { adjuster } | Hold::TravelAnticlockwise { adjuster } => {
            ("travel", None, Some(name(adjuster)))
        }
    };
    HoldReport { by: by.into(), point, adjuster, weight }
}
