//! What was done: turns of the adjusters, notes and photos, and every take.

mod notes;
mod takes;

use skimgauge_quantity::{Sentence, Turns, say};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Body, TurnFlag};

use super::{Reading, section};
use crate::document::{Block, Cell, Column, Section, Table};
use crate::plain;
pub(super) use notes::{notes, saved};
pub(super) use takes::every_take;

/// Every turn, advised and observed.
pub(super) fn turns(reading: &Reading<'_>) -> Option<Section> {
    let mut rows = turn_rows(reading);
    if rows.is_empty() {
        return None;
    }
    let mut columns = vec![
        Column::text("Round"),
        Column::text("Adjuster"),
        Column::text("Advised"),
        Column::text("Counted"),
        Column::text("Watched at"),
        Column::number("Before"),
        Column::number("Meant"),
        Column::number("After"),
        Column::text("Noticed"),
    ];
    drop_empty(&mut columns, &mut rows);
    let table = Table {
        caption: format!(
            "Turns of the emitter\u{2019}s adjusters; gaps in {}",
            reading.unit_word()
        ),
        columns,
        rows,
    };
    section(
        "turns",
        "Adjusters turned",
        vec![
            Block::Text(
                "The emitter stands on three adjusters. Each was turned until the gap at one station came to where it was meant to be, or by a count of turns."
                    .to_owned(),
            ),
            Block::Table(table),
            Block::Small("Clockwise and anticlockwise as seen from the adjuster\u{2019}s head.".to_owned()),
        ],
    )
}

/// A row for each turn that was seen, then one for each that was advised and not seen done.
fn turn_rows(reading: &Reading<'_>) -> Vec<Vec<Cell>> {
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    let mut followed: Vec<Hash> = Vec::new();
    let advice_at = |hash: Option<Hash>| match &reading.history.event(hash?)?.body {
        Body::TurnAdvised(advice) => Some(advice),
        _ => None,
    };
    let at = |station: Option<&str>| {
        station.map_or(Cell::None, |station| Cell::text(plain::line(station)))
    };
    let turn = |turns: Option<Turns>| {
        turns.map_or(Cell::None, |turns| {
            Cell::number(turns.0, |_| turned(turns).text(reading.style))
        })
    };
    for event in &reading.history.events {
        let Body::TurnObserved(seen) = &event.body else { continue };
        followed.extend(seen.advice);
        let advice = advice_at(seen.advice);
        let meant = seen.gap_predicted.or_else(|| advice.and_then(|advice| advice.target_gap));
        rows.push(vec![
            advice.map_or(Cell::None, |advice| Cell::text(advice.round.to_string())),
            Cell::text(plain::line(&seen.adjuster)),
            turn(advice.map(|advice| advice.turns)),
            turn(seen.turns),
            at(seen.station.as_deref()),
            reading.gap(seen.gap_before),
            reading.gap(meant),
            reading.gap(seen.gap_after),
            Cell::text(noticed(&seen.flags)),
        ]);
    }
    for event in &reading.history.events {
        let Body::TurnAdvised(advice) = &event.body else { continue };
        if followed.contains(&event.hash) {
            continue;
        }
        rows.push(vec![
            Cell::text(advice.round.to_string()),
            Cell::text(plain::line(&advice.adjuster)),
            turn(Some(advice.turns)),
            Cell::None,
            at(advice.station.as_deref()),
            Cell::None,
            reading.gap(advice.target_gap),
            Cell::None,
            Cell::text("advised; not seen done"),
        ]);
    }
    rows
}

/// A turn with its sense, as a number: this is for the record, not for a hand.
fn turned(turns: Turns) -> Sentence {
    match turns.rotation() {
        Some(rotation) => say!("{} {}", turns.abs().figure(), rotation.word()),
        None => say!("no turn"),
    }
}

fn noticed(flags: &[TurnFlag]) -> String {
    let words: Vec<String> = flags.iter().map(TurnFlag::word).map(plain::line).collect();
    words.join("; ")
}

/// A column in which nothing stands says nothing.
pub(super) fn drop_empty(columns: &mut Vec<Column>, rows: &mut [Vec<Cell>]) {
    for at in (0..columns.len()).rev() {
        if rows.iter().all(|row| row.get(at).is_none_or(|cell| *cell == Cell::None)) {
            columns.remove(at);
            for row in rows.iter_mut().filter(|row| at < row.len()) {
                row.remove(at);
            }
        }
    }
}
