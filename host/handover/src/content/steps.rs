//! The steps of the job: what was done, by whom, what was left out and why; in short for the client, in
//! full in the appendix.

use skimgauge_record::event::{Body, Section as Recorded};
use skimgauge_record::section::StepSaid;
use skimgauge_steps::state::{self, By, Standing, State, is_all_left_out, leans_on_said};

use skimgauge_steps::{ClosedBy, Step};

use super::brief::Brief;
use super::{Reading, section};
use crate::document::{Block, Cell, Column, Section, Table};
use crate::plain;

/// Every step in a line, with who closed it and when. Nothing where the record does not hold.
pub(super) fn in_short(reading: &Reading<'_>, brief: Brief) -> Option<Section> {
    if !reading.sound() {
        return None;
    }
    let standings = &reading.standings;
    let mut persons: Vec<String> = Vec::new();
    for by in standings.iter().filter_map(|standing| standing.state.closer()) {
        let whom = whom(by);
        if !persons.contains(&whom) {
            persons.push(whom);
        }
    }
    let fits = brief.fits_persons(persons.len());
    let line = |Standing { step, state }: &Standing| {
        let person =
            state.closer().and_then(|by| persons.iter().position(|known| *known == whom(by)));
        let person =
            person.filter(|_| fits).map_or_else(String::new, |at| format!(" ({})", at + 1));
        let remark = remark(*step, state, standings).or_else(|| counted(said(reading, state)?));
        let remark = remark.map(|why| format!(": {}", brief.text(why)));
        let says = capital(step.says());
        (state.word().to_owned(), format!("{says}{}{person}", remark.unwrap_or_default()))
    };
    let mut blocks = vec![Block::Columns(standings.iter().map(line).collect())];
    let numbered: Vec<String> =
        persons.iter().enumerate().map(|(at, person)| format!("({}) {person}", at + 1)).collect();
    blocks.push(Block::Text(match (numbered.is_empty(), fits) {
        (true, _) => "Nobody has closed a step yet.".to_owned(),
        (false, true) => format!("Closed by {}.", numbered.join("; ")),
        (false, false) => {
            "Who closed each step, and when: see the appendix, \u{201c}The job, step by step\u{201d}.".to_owned()
        }
    }));
    section("steps-in-short", "The work, step by step", blocks)
}

/// What there is to say of how it stands.
fn remark(step: Step, state: &State, standings: &[Standing]) -> Option<String> {
    match state {
        State::Open { found: None } => None,
        State::Done(_) if step.closed_by() == ClosedBy::Person(None) => None,
        State::Done(_) => leans(step, standings),
        State::Said { .. } | State::Simulated(_) => {
            state.not_measured().map(|says| plain::line(&says))
        }
        State::Open { found: Some((_, found)) } => Some(plain::line(found)),
        State::Stale { by: Some(by), why, .. } => {
            Some(format!("{} ({})", plain::line(why), plain::day(by.at)))
        }
        State::Stale { by: None, why, .. } => Some(plain::line(why)),
        State::LeftOut { why, .. } => Some(plain::line(why)),
    }
}

/// What was measured may lean on what was only said.
fn leans(step: Step, standings: &[Standing]) -> Option<String> {
    let on: Vec<String> =
        leans_on_said(step, standings).into_iter().map(|on| on.word().to_owned()).collect();
    let were = if on.len() == 1 { "was" } else { "were" };
    (!on.is_empty())
        .then(|| format!("leans on {}, which {were} said and not measured", plain::list(&on)))
}

/// What is open of the steps themselves, for the list of open points.
pub(super) fn points(reading: &Reading<'_>) -> Vec<String> {
    if !reading.sound() {
        return Vec::new();
    }
    let of = |Standing { step, state }: &Standing| {
        let says = capital(step.says());
        match state {
            State::Open { found: Some((_, found)) } if *step == Step::Fixings => {
                Some(format!("{says}: {}.", plain::line(found)))
            }
            State::Stale { why, .. } => {
                Some(format!("{says}: to be done again, since {}.", plain::line(why)))
            }
            State::Said { .. } | State::Simulated(_) => {
                Some(format!("{says}: {}.", plain::line(&state.not_measured()?)))
            }
            State::LeftOut { why, .. } if *step < Step::Handover => {
                Some(format!("{says}: left out, {}.", plain::line(why).trim_end_matches('.')))
            }
            _ => None,
        }
    };
    reading.standings.iter().filter_map(of).collect()
}

/// Some steps of the work, counted and named.
pub(super) struct Counted {
    /// How many, as a clause.
    pub(super) count: String,
    names: Vec<String>,
}

impl Counted {
    /// How many, and which.
    pub(super) fn named(&self) -> String {
        match self.names.is_empty() {
            true => format!("{}.", self.count),
            false => format!("{}: {}.", self.count, self.names.join("; ")),
        }
    }
}

/// Which steps of the work are not done, or to be done again.
pub(super) fn not_done(reading: &Reading<'_>) -> Option<Counted> {
    if !reading.sound() {
        return None;
    }
    let of_the_work = reading.standings.iter().filter(|standing| standing.step < Step::Handover);
    let name = |Standing { step, state }: &Standing| match state {
        State::Open { .. } => Some(step.says().to_owned()),
        State::Stale { .. } => Some(format!("{} (to be done again)", step.says())),
        _ => None,
    };
    let names: Vec<String> = of_the_work.filter_map(name).collect();
    let count = match names.len() {
        0 => return None,
        1 => "1 step of the work is not done".to_owned(),
        open => format!("{open} steps of the work are not done"),
    };
    Some(Counted { count, names })
}

/// Which steps of the work were left out.
pub(super) fn left_out(reading: &Reading<'_>) -> Option<Counted> {
    if !reading.sound() {
        return None;
    }
    if is_all_left_out(&reading.standings) {
        let count = "Every step of the work was left out, and nothing of it was done".to_owned();
        return Some(Counted { count, names: Vec::new() });
    }
    let steps = state::left_out(&reading.standings);
    let names: Vec<String> = steps.into_iter().map(|step| step.says().to_owned()).collect();
    let count = match names.len() {
        0 => return None,
        1 => "1 step of the work was left out".to_owned(),
        steps => format!("{steps} steps of the work were left out"),
    };
    Some(Counted { count, names })
}

/// Who said a step done or left it out, and which.
pub(super) fn said_by(reading: &Reading<'_>) -> Vec<String> {
    let mut persons: Vec<(String, Vec<String>)> = Vec::new();
    for Standing { step, state } in reading.standings.iter().filter(|_| reading.sound()) {
        let (by, what) = match (state, said(reading, state)) {
            (State::LeftOut { by, .. }, _) => (Some(by), format!("{}: left out", step.says())),
            (_, Some(_)) => (state.by(), step.says().to_owned()),
            (_, None) => continue,
        };
        let Some(who) = by.map(|by| plain::line(&by.who)) else { continue };
        match persons.iter_mut().find(|(known, _)| *known == who) {
            Some((_, steps)) => steps.push(what),
            None => persons.push((who, vec![what])),
        }
    }
    persons.into_iter().map(|(who, steps)| format!("{who} ({})", steps.join("; "))).collect()
}

/// What the person said who closed it.
fn said<'a>(reading: &'a Reading<'_>, state: &State) -> Option<&'a StepSaid> {
    let (State::Done(by) | State::Said { by, .. } | State::Stale { done: by, .. }) = state else {
        return None;
    };
    let event = reading.history.events.iter().find(|event| event.seq == by.event)?;
    match &event.body {
        Body::Section(Recorded::Step(said)) => Some(said),
        _ => None,
    }
}

/// How much was gone through first, for a line.
fn counted(said: &StepSaid) -> Option<String> {
    let points = said.checked.len();
    (points > 0).then(|| format!("{} gone through first", plain::count(points, "point")))
}

/// What was gone through first, point by point, and what else was said, where that is not the remark
/// itself.
fn in_full(said: &StepSaid, state: &State) -> Option<String> {
    let points: Vec<String> = said.checked.iter().map(|point| plain::line(point)).collect();
    let gone = (!points.is_empty()).then(|| format!("Gone through first: {}.", points.join("; ")));
    let why = said.why.as_deref().filter(|_| !matches!(state, State::Said { .. }));
    let why = why.map(|why| plain::sentence(&plain::line(why)));
    let whole: Vec<String> = why.into_iter().chain(gone).collect();
    (!whole.is_empty()).then(|| whole.join(" "))
}

/// Every step, in the order of the work. Nothing where the record does not hold: what stands cannot
/// be told then.
pub(super) fn steps(reading: &Reading<'_>) -> Option<Section> {
    if !reading.sound() {
        return None;
    }
    let rows = reading.standings.iter().map(|standing| row(reading, standing)).collect();
    let table = Table {
        caption: "Each step of the work, who closed it, and why one was left out".to_owned(),
        columns: ["step", "stands", "by", "remark"].map(Column::text).to_vec(),
        rows,
    };
    section("steps", "The job, step by step", vec![Block::Table(table)])
}

fn row(reading: &Reading<'_>, Standing { step, state }: &Standing) -> Vec<Cell> {
    let remark = remark(*step, state, &reading.standings).map(|remark| plain::sentence(&remark));
    let remark =
        remark.into_iter().chain(said(reading, state).and_then(|said| in_full(said, state)));
    let remark = remark.collect::<Vec<_>>().join(" ");
    vec![
        Cell::text(capital(step.says())),
        Cell::text(state.word()),
        state.by().map_or(Cell::None, |by| Cell::text(whom(by))),
        if remark.is_empty() { Cell::None } else { Cell::text(remark) },
    ]
}

fn whom(by: &By) -> String {
    format!("{}, {}", plain::line(&by.who), plain::day(by.at))
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
