//! What was done: turns of the adjusters, notes and photos, and every take.

mod notes;
mod takes;

use skimgauge_quantity::{Sentence, Turns, say};
use skimgauge_record::Event;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Body, TurnAdvised, TurnObserved};

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

/// A row for each turn that was seen and for each that was advised and not seen done, in their order.
fn turn_rows(reading: &Reading<'_>) -> Vec<Vec<Cell>> {
    let unfinished = unfinished(reading);
    let row = |event: &Event| match &event.body {
        Body::TurnObserved(seen) => Some(seen_row(reading, seen)),
        Body::TurnAdvised(advice) if unfinished.contains(&event.hash) => {
            Some(unfinished_row(reading, advice))
        }
        _ => None,
    };
    reading.history.events.iter().filter_map(row).collect()
}

/// What was advised and not seen done.
pub(super) fn unfinished(reading: &Reading<'_>) -> Vec<Hash> {
    let events = &reading.history.events;
    let followed = |hash: Hash| {
        events.iter().any(|event| match &event.body {
            Body::TurnObserved(seen) => seen.advice == Some(hash),
            _ => false,
        })
    };
    let advised = events.iter().filter(|event| matches!(event.body, Body::TurnAdvised(_)));
    advised.map(|event| event.hash).filter(|hash| !followed(*hash)).collect()
}

fn seen_row(reading: &Reading<'_>, seen: &TurnObserved) -> Vec<Cell> {
    let advice = advice_of(reading, seen);
    let meant = seen.gap_predicted.or_else(|| advice.and_then(|advice| advice.target_gap));
    let noticed: Vec<String> =
        seen.noticed().iter().map(|one| plain::line(&one.text(reading.style))).collect();
    vec![
        advice.map_or(Cell::None, |advice| Cell::text(advice.round.to_string())),
        Cell::text(plain::line(&seen.adjuster)),
        amount(reading, advice.map(|advice| advice.turns)),
        amount(reading, seen.turns),
        at(seen.station.as_deref()),
        reading.gap(seen.gap_before),
        reading.gap(meant),
        reading.gap(seen.gap_after),
        Cell::text(noticed.join("; ")),
    ]
}

fn unfinished_row(reading: &Reading<'_>, advice: &TurnAdvised) -> Vec<Cell> {
    vec![
        Cell::text(advice.round.to_string()),
        Cell::text(plain::line(&advice.adjuster)),
        amount(reading, Some(advice.turns)),
        Cell::None,
        at(advice.station.as_deref()),
        Cell::None,
        reading.gap(advice.target_gap),
        Cell::None,
        Cell::text("advised; not seen done"),
    ]
}

/// The advice that a turn followed.
pub(super) fn advice_of<'a>(
    reading: &'a Reading<'_>,
    seen: &TurnObserved,
) -> Option<&'a TurnAdvised> {
    match &reading.history.event(seen.advice?)?.body {
        Body::TurnAdvised(advice) => Some(advice),
        _ => None,
    }
}

fn at(station: Option<&str>) -> Cell {
    station.map_or(Cell::None, |station| Cell::text(plain::line(station)))
}

fn amount(reading: &Reading<'_>, turns: Option<Turns>) -> Cell {
    turns.map_or(Cell::None, |turns| Cell::number(turns.0, |_| turned(turns).text(reading.style)))
}

/// A turn with its sense, as a number: this is for the record, not for a hand.
fn turned(turns: Turns) -> Sentence {
    match turns.rotation() {
        Some(rotation) => say!("{} {}", turns.abs().figure(), rotation.word()),
        None => say!("no turn"),
    }
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
