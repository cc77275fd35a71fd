//! How a step stands, as a value.

use crate::step::Step;
use serde::Serialize;
use skimgauge_record::event::Body;
use skimgauge_record::{Event, When};

/// The event that brought a step to where it stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct By {
    /// Its place in the job, from 1.
    pub event: u32,
    /// Its kind, as the record has it.
    pub kind: String,
    /// When.
    pub at: When,
    /// The person.
    pub who: String,
}

impl By {
    pub(crate) fn of(event: &Event) -> Self {
        Self {
            event: event.seq,
            kind: event.body.kind().to_owned(),
            at: event.at,
            who: event.who.clone(),
        }
    }
}

/// How a step stands.
#[derive(Debug, Clone, PartialEq)]
pub enum State {
    /// Not done.
    Open {
        /// What was found when it was last tried, if it was.
        found: Option<(By, String)>,
    },
    /// Done, and nothing came that undoes it.
    Done(By),
    /// Done by somebody's word, where a measurement would have told.
    Said {
        /// By whom and when.
        by: By,
        /// What else was said: why nothing was measured.
        why: Option<String>,
    },
    /// Practised: what closed it was read of a simulated head.
    Simulated(By),
    /// Done, and undone by what came after.
    Stale {
        /// When it was done.
        done: By,
        /// What came after; absent where it is only the job file as it is now.
        by: Option<By>,
        /// Why that undoes it.
        why: String,
    },
    /// Not done on this job.
    LeftOut {
        /// By whom and when that was said.
        by: By,
        /// Why.
        why: String,
    },
}

impl State {
    /// Its word, in JSON and on screens.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Open { .. } => "open",
            Self::Done(_) => "done",
            Self::Said { .. } => "said",
            Self::Simulated(_) => "simulated",
            Self::Stale { .. } => "stale",
            Self::LeftOut { .. } => "left out",
        }
    }

    /// Whether it is still to be done.
    pub fn is_to_do(&self) -> bool {
        matches!(self, Self::Open { .. } | Self::Stale { .. })
    }

    /// Whether others may lean on it: it was done on this board, or is left out.
    fn holds(&self) -> bool {
        matches!(self, Self::Done(_) | Self::LeftOut { .. })
    }

    /// The event by which it was done, in whatever way, where nothing undid it.
    pub fn closed(&self) -> Option<&By> {
        match self {
            Self::Done(by) | Self::Said { by, .. } | Self::Simulated(by) => Some(by),
            Self::Open { .. } | Self::Stale { .. } | Self::LeftOut { .. } => None,
        }
    }

    /// The event that it stands by: what closed it last, or of an open one what was found.
    pub fn by(&self) -> Option<&By> {
        match self {
            Self::Open { found } => found.as_ref().map(|(by, _)| by),
            Self::Done(by)
            | Self::Said { by, .. }
            | Self::Simulated(by)
            | Self::LeftOut { by, .. }
            | Self::Stale { done: by, .. } => Some(by),
        }
    }

    /// The event that closed it, undone since or not: of an open one none did.
    pub fn closer(&self) -> Option<&By> {
        self.by().filter(|_| !matches!(self, Self::Open { .. }))
    }

    /// What is said plainly of a step that was closed without a measurement of this board.
    pub fn not_measured(&self) -> Option<String> {
        match self {
            Self::Said { by, why } => {
                let why = why.as_ref().map(|why| format!(": {why}")).unwrap_or_default();
                Some(format!("said done by {}, not measured{why}", by.who))
            }
            Self::Simulated(_) => Some("simulated: practice, nothing was measured".to_owned()),
            _ => None,
        }
    }
}

/// A step and how it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Which.
    pub step: Step,
    /// How it stands.
    pub state: State,
}

/// The first step that is to be done and can be: nothing is added to a closed job but signatures.
pub fn next(standings: &[Standing]) -> Option<&Standing> {
    let closed = closed(standings).is_some();
    let can_be = |standing: &&Standing| !closed || standing.step == Step::Signature;
    standings.iter().filter(can_be).find(|standing| standing.state.is_to_do())
}

/// The event that closed the job, where it is closed.
pub fn closed(standings: &[Standing]) -> Option<&By> {
    let handover = standings.iter().find(|standing| standing.step == Step::Handover)?;
    match &handover.state {
        State::Done(by) | State::Simulated(by) => Some(by),
        _ => None,
    }
}

/// What the job is closed without: the steps of the work that are to be done.
pub fn not_done(standings: &[Standing]) -> Vec<Step> {
    let of_the_work = standings.iter().filter(|s| s.step < Step::Handover && s.state.is_to_do());
    of_the_work.map(|standing| standing.step).collect()
}

/// The steps of the work that are left out.
pub fn left_out(standings: &[Standing]) -> Vec<Step> {
    let left_out = |s: &&Standing| matches!(s.state, State::LeftOut { .. });
    let of_the_work = standings.iter().filter(|s| s.step < Step::Handover);
    of_the_work.filter(left_out).map(|standing| standing.step).collect()
}

/// Whether the job was closed with something that somebody noted as left to do.
pub fn open_points(events: &[Event]) -> bool {
    events.iter().any(|event| match &event.body {
        Body::Closed(closed) => !closed.open_points.is_empty(),
        _ => false,
    })
}

/// How what a job was closed without begins, among its open points.
const NOT_DONE: &str = "steps not done: ";

/// How what was left out begins there.
const LEFT_OUT: &str = "steps left out: ";

/// How an open point begins that the steps themselves tell of; `None` of one that somebody noted.
pub fn of_the_steps(point: &str) -> Option<&'static str> {
    [NOT_DONE, LEFT_OUT].into_iter().find(|begins| point.starts_with(begins))
}

/// What the job is closed without, as open points.
pub fn without_as_points(standings: &[Standing]) -> Vec<String> {
    let point = |begins: &str, steps: Vec<Step>| {
        let words: Vec<&str> = steps.into_iter().map(Step::word).collect();
        (!words.is_empty()).then(|| format!("{begins}{}", words.join(", ")))
    };
    let points = [point(NOT_DONE, not_done(standings)), point(LEFT_OUT, left_out(standings))];
    points.into_iter().flatten().collect()
}

/// Whether every step of the work is left out: nothing of it was done.
pub fn is_all_left_out(standings: &[Standing]) -> bool {
    standings
        .iter()
        .filter(|standing| standing.step < Step::Handover)
        .all(|standing| matches!(standing.state, State::LeftOut { .. }))
}

/// Whether a step is to be done, or was only said or practised, that others lean on.
pub fn holds_others_up(standings: &[Standing]) -> bool {
    standings.iter().any(|standing| !standing.state.holds() && standing.step.is_leant_on())
}

/// Whether anything of the job was practised with a simulated head.
pub fn is_practice(standings: &[Standing]) -> bool {
    standings.iter().any(|standing| matches!(standing.state, State::Simulated(_)))
}

/// On which steps this one leans, over others too, that were said to be done where a measurement
/// would have told: what was measured after them leans on that.
pub fn leans_on_said(step: Step, standings: &[Standing]) -> Vec<Step> {
    let said = |standing: &&Standing| {
        matches!(standing.state, State::Said { .. }) && leans(step, standing.step)
    };
    standings.iter().filter(said).map(|standing| standing.step).collect()
}

fn leans(step: Step, on: Step) -> bool {
    step.leans_on().iter().any(|next| *next == on || leans(*next, on))
}
