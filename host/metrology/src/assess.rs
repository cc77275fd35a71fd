//! From one round's readings to everything a person or a program is told: plane, verdict, turns.

use crate::adjuster::Adjuster;
use crate::band::Band;
use crate::coverage::{LEVEL, t_factor};
use crate::plane::Plane;
use crate::plane::board::{Board, ControlPoint};
use crate::plane::fit::{PlaneFit, UNKNOWNS, fit, quadratic};
use crate::plane::observation::Observations;
use crate::plane::refusal::PlaneError;
use crate::report::{
    ByHandReport, Feasibility, HoldReport, PlaneReport, PointReport, Report, SCHEMA, TurnReport, WorstReport,
};
use crate::station::Station;
use crate::trim::TrimError;
use crate::trim::influence::Influence;
use crate::trim::order::{Order, Turn, order};
use crate::trim::solve::{Hold, Setting, Spot, solve, travel};
use crate::verdict::{BoardVerdict, judge};
use thiserror::Error;

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// What was observed.
    pub observations: &'a Observations,
    /// The board under it.
    pub board: &'a Board,
    /// The emitter's screws, three.
    pub adjusters: &'a [Adjuster],
    /// What the gap may be, mm.
    pub band: Band,
    /// Where the gap must be in the band.
    pub points: &'a [ControlPoint],
    /// Stations where the live gap may be watched; the observed places where this is empty.
    pub live: &'a [Station],
    /// Gap below which the plane must not come to the board while screws are turned, mm.
    pub guard_mm: f64,
    /// Smallest turn a hand can make, turns; asks for a setting in whole steps of it as well.
    pub smallest_turn: Option<f64>,
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
    /// The best setting.
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
    let adjusters: &[Adjuster; 3] =
        question.adjusters.try_into().map_err(|_| AssessError::NotThree { given: question.adjusters.len() })?;
    let influence = Influence::of(adjusters)?;
    let fit = fit(question.observations, question.board)?;
    let verdict = judge(&fit, question.points, question.band);
    let spots: Vec<Spot> =
        verdict.points.iter().map(|j| Spot { x_mm: j.point.x_mm, y_mm: j.point.y_mm, gap_mm: j.gap.gap_mm }).collect();
    let setting = solve(&spots, &influence, &travel(adjusters), question.band, question.smallest_turn)?;
    let order = order(&spots, &influence, &setting.turns, question.guard_mm);
    let dials = dials(question, &fit, &influence, &order.turns);
    Ok(Assessment {
        margin_u_mm: margin_u(&fit, question.points, &setting),
        fit,
        verdict,
        influence,
        setting,
        order,
        dials,
    })
}

/// Standard uncertainty of the margin: it answers to the gaps at the few points that hold it, all together. Where no
/// travel is in the way, no change of the plane moves it, so neither does an error of the plane.
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
    (quadratic(&fit.single, &along) * widened + alone + shared * shared * fit.shared_variance).max(0.0).sqrt()
}

fn dials(question: &Question<'_>, fit: &PlaneFit, influence: &Influence, turns: &[Turn]) -> Vec<Dial> {
    let observed: Vec<Station>;
    let stations = if question.live.is_empty() {
        observed = question
            .observations
            .gaps
            .iter()
            .map(|g| Station { name: g.place(), x_mm: g.x_mm, y_mm: g.y_mm })
            .collect();
        &observed
    } else {
        question.live
    };
    let mut at = [0.0; 3];
    let mut last: Option<&Station> = None;
    let mut dials = Vec::with_capacity(turns.len());
    for turn in turns {
        at[turn.adjuster] += turn.turns;
        let Some(station) = live_station(stations, influence, turn.adjuster, last) else { break };
        last = Some(station);
        let here = fit.gap_at(&question.board.point(station.x_mm, station.y_mm)).gap_mm;
        let moved = influence.turned(Plane::from_array([0.0; 3]), &at).height_mm(station.x_mm, station.y_mm);
        dials.push(Dial { station: station.clone(), gap_mm: here + moved });
    }
    dials
}

/// Where an adjuster's turn shows most: there a reading says most about the turn. The station of the last turn is kept
/// where it shows as much, which saves moving the head.
pub fn live_station<'a>(
    stations: &'a [Station],
    influence: &Influence,
    adjuster: usize,
    last: Option<&'a Station>,
) -> Option<&'a Station> {
    let shows = |s: &Station| influence.effect(s.x_mm, s.y_mm)[adjuster.min(2)].abs();
    let best = stations.iter().max_by(|a, b| shows(a).total_cmp(&shows(b)))?;
    match last {
        Some(last) if shows(last) > 0.95 * shows(best) => Some(last),
        _ => Some(best),
    }
}

impl Assessment {
    /// Whether a setting exists, at 95 %.
    pub fn feasibility(&self) -> Feasibility {
        let expanded = t_factor(LEVEL, f64::INFINITY).map_or(f64::INFINITY, |k| k * self.margin_u_mm);
        let known = self.fit.agreement != crate::plane::fit::Agreement::Contradicts;
        match self.setting.margin_mm {
            m if m < -expanded => Feasibility::No,
            m if m >= expanded && known => Feasibility::Yes,
            _ => Feasibility::Unsure,
        }
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
                    verdict: j.verdict,
                })
                .collect(),
            verdict: self.verdict.verdict,
            limiting_point: self.verdict.limiting,
            remedy: self.verdict.remedy,
            feasible: self.setting.is_feasible(),
            feasibility: self.feasibility(),
            margin_mm: self.setting.margin_mm,
            margin_u_mm: self.margin_u_mm,
            holds: self.setting.holds.iter().map(|&(hold, weight)| hold_report(hold, weight, &name)).collect(),
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
            by_hand: self.setting.by_hand.map(|b| ByHandReport { turns: b.turns, margin_mm: b.margin_mm }),
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
