//! The steps of the job: what was done, by whom, what was left out and why.

use skimgauge_steps::standing::{By, Standing, State, standings};

use super::{Reading, section};
use crate::document::{Block, Cell, Column, Section, Table};
use crate::plain;

/// Every step, in the order of the work. Nothing where the record does not hold: what stands cannot
/// be told then.
pub(super) fn steps(reading: &Reading<'_>) -> Option<Section> {
    if !reading.sound() {
        return None;
    }
    let standings = standings(&reading.history.events);
    let rows = standings.iter().map(row).collect();
    let table = Table {
        caption: "Each step of the work, who closed it, and why one was left out".to_owned(),
        columns: ["step", "stands", "by", "remark"].map(Column::text).to_vec(),
        rows,
    };
    section("steps", "The job, step by step", vec![Block::Table(table)])
}

fn row(Standing { step, state }: &Standing) -> Vec<Cell> {
    let (by, remark) = match state {
        State::Open { found: None } => (None, None),
        State::Open { found: Some((by, found)) } => (Some(by), Some(plain::sentence(found))),
        State::Done(by) => (Some(by), None),
        State::Stale { done, by, why } => {
            (Some(done), Some(plain::sentence(&format!("{why} ({})", plain::day(by.at)))))
        }
        State::LeftOut { by, why } => (Some(by), Some(plain::sentence(why))),
    };
    vec![
        Cell::text(capital(step.says())),
        Cell::text(state.word()),
        by.map_or(Cell::None, |by| Cell::text(whom(by))),
        remark.map_or(Cell::None, Cell::text),
    ]
}

fn whom(by: &By) -> String {
    format!("{}, {}", plain::line(&by.who), plain::day(by.at))
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
