//! What was done: turns of the adjusters, notes and photos, and every take.

use std::collections::HashSet;

use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Body, Came, Difference, Phase};
use skimgauge_record::takes::CurrentTake;

use super::{Reading, phase_words, section};
use crate::document::{Block, Cell, Column, Figure, Picture, Section, Table};
use crate::plain;
use crate::units::turn;

/// Every turn, advised and observed.
pub(super) fn turns(reading: &Reading<'_>) -> Option<Section> {
    let units = reading.units;
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    let mut followed: Vec<Hash> = Vec::new();
    let advice_at = |hash: Option<Hash>| match &reading.history.event(hash?)?.body {
        Body::TurnAdvised(advice) => Some(advice),
        _ => None,
    };
    let gap = |mm: Option<f64>| Cell::number_if(mm, |mm| units.gap_number(mm));
    for event in &reading.history.events {
        let Body::TurnObserved(seen) = &event.body else { continue };
        followed.extend(seen.advice);
        let advice = advice_at(seen.advice);
        rows.push(vec![
            advice.map_or(Cell::None, |advice| Cell::text(advice.round.to_string())),
            Cell::text(plain::line(&seen.adjuster)),
            Cell::number_if(advice.map(|advice| advice.turns), turn),
            Cell::number_if(seen.turns, turn),
            Cell::text(plain::line(&seen.station)),
            gap(Some(seen.gap_before_mm)),
            gap(seen.gap_predicted_mm.or_else(|| advice.map(|advice| advice.target_gap_mm))),
            gap(Some(seen.gap_after_mm)),
            Cell::text(
                seen.flags.iter().map(|flag| plain::line(flag)).collect::<Vec<_>>().join("; "),
            ),
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
            Cell::number(advice.turns, turn),
            Cell::None,
            Cell::text(plain::line(&advice.station)),
            Cell::None,
            gap(Some(advice.target_gap_mm)),
            Cell::None,
            Cell::text("advised; not seen done"),
        ]);
    }
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
        caption: format!("Turns of the emitter\u{2019}s adjusters; gaps in {}", units.sign()),
        columns,
        rows,
    };
    section(
        "turns",
        "Adjusters turned",
        vec![
            Block::Text(
                "The emitter stands on three adjusters. Each was turned until the gap at one station came to where it was meant to be."
                    .to_owned(),
            ),
            Block::Table(table),
            Block::Small("Clockwise and anticlockwise as seen from the adjuster\u{2019}s head.".to_owned()),
        ],
    )
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

/// Images that every browser shows.
const SHOWN: [&str; 4] = ["image/jpeg", "image/png", "image/webp", "image/gif"];

/// Notes and what was attached.
pub(super) fn notes(reading: &Reading<'_>) -> Option<Section> {
    let mut blocks = Vec::new();
    let notes: Vec<String> = reading
        .history
        .events
        .iter()
        .filter_map(|event| {
            let text = match &event.body {
                Body::Note(note) => plain::sentence(&note.text),
                Body::JobRevised(revised) if !revised.said_same.is_empty() => {
                    said_same(&revised.said_same)
                }
                _ => return None,
            };
            Some(format!("{text} ({}, {})", plain::line(&event.who), plain::moment(event.at)))
        })
        .collect();
    if !notes.is_empty() {
        blocks.push(Block::List(notes));
    }
    let photos: Vec<Vec<Cell>> = reading
        .events(|body| match body {
            Body::PhotoAttached(photo) => Some(photo),
            _ => None,
        })
        .map(|(event, photo)| {
            vec![
                Cell::text(plain::line(&photo.name)),
                Cell::text(photo.caption.as_deref().map(plain::line).unwrap_or_default()),
                Cell::text(plain::day(event.at)),
                Cell::text(photo.sha256.short()),
            ]
        })
        .collect();
    if !photos.is_empty() {
        blocks.push(Block::Table(Table {
            caption: "Photos and files kept in the record".to_owned(),
            columns: vec![
                Column::text("File"),
                Column::text("Shows"),
                Column::text("Attached"),
                Column::text("Hash begins"),
            ],
            rows: photos,
        }));
    }
    let shown: Vec<Figure> = reading
        .events(|body| match body {
            Body::PhotoAttached(photo) => Some(photo),
            _ => None,
        })
        .filter_map(|(_, photo)| {
            let (_, bytes) = reading.photos.iter().find(|(sha256, _)| *sha256 == photo.sha256)?;
            let media_type = SHOWN.into_iter().find(|known| *known == photo.media_type)?;
            let name = plain::line(&photo.name);
            let caption = photo.caption.as_deref().map_or_else(|| name.clone(), plain::line);
            let picture = Picture::Photo { media_type, bytes: bytes.clone() };
            Some(Figure { picture, alt: format!("Photo: {caption}"), caption, wide: false })
        })
        .collect();
    if !shown.is_empty() {
        blocks.push(Block::Figures(shown));
    }
    section("notes", "Notes and photos", blocks)
}

/// In what another job file was of the same job, in the word of the person at work.
fn said_same(differs: &[Difference]) -> String {
    let said = |text: &Option<String>| text.as_deref().map_or("not said".to_owned(), plain::line);
    let list: Vec<String> = differs
        .iter()
        .map(|differs| {
            format!(
                "{} was {}, is {}",
                plain::line(&differs.what),
                said(&differs.was),
                said(&differs.is)
            )
        })
        .collect();
    format!("Another job file was said to be of this same job, though {}.", plain::list(&list))
}

/// What was saved from behind a break of a damaged record.
pub(super) fn saved(reading: &Reading<'_>) -> Option<Section> {
    let rows: Vec<Vec<Cell>> = reading
        .events(|body| match body {
            Body::Salvaged(saved) => Some(saved),
            _ => None,
        })
        .map(|(_, saved)| {
            vec![
                Cell::text(saved.seq.to_string()),
                Cell::text(plain::line(&saved.at)),
                Cell::text(plain::line(&saved.kind)),
                Cell::text(plain::line(&saved.who)),
            ]
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    let columns = vec![
        Column::text("Was entry"),
        Column::text("When"),
        Column::text("Kind"),
        Column::text("By"),
    ];
    let blocks = vec![
        Block::Text(
            "The record of this job was damaged, and was saved. These entries stood behind the damage. Each is as it was written, but \
             what it followed is lost, so that nobody can say whether it belongs here: none of them is counted on this page."
                .to_owned(),
        ),
        Block::Table(Table { caption: "Saved from behind the damage".to_owned(), columns, rows }),
    ];
    section("saved", "Saved from a damaged record", blocks)
}

/// Every take, also those that were replaced.
pub(super) fn every_take(reading: &Reading<'_>) -> Option<Section> {
    let units = reading.units;
    let hashes = |takes: &[CurrentTake<'_>]| {
        takes.iter().map(|current| current.event.hash).collect::<HashSet<_>>()
    };
    let (standing, left) =
        (hashes(&reading.takes), hashes(&reading.history.standing(Phase::AsLeft)));
    let takes = || reading.history.takes().map(|CurrentTake { event, take }| (event, take));
    let mut days: Vec<String> = takes().map(|(event, _)| plain::day(event.at)).collect();
    days.dedup();
    let one_day = days.len() == 1;
    let mut rows: Vec<Vec<Cell>> = takes()
        .map(|(event, take)| {
            let when = plain::moment(event.at);
            let time =
                when.split(", ").nth(1).and_then(|rest| rest.split(' ').next()).map(str::to_owned);
            let mut remarks: Vec<String> =
                take.flags.iter().map(|flag| plain::line(flag)).collect();
            if !standing.contains(&event.hash) {
                remarks.push("replaced or of an earlier round".to_owned());
            } else if take.phase != Phase::AsLeft && left.contains(&event.hash) {
                remarks.push("stands as left".to_owned());
            }
            if let Some(Came::Said { .. }) = take.came {
                remarks.push("the head was said to be here".to_owned());
            }
            vec![
                Cell::text(event.seq.to_string()),
                Cell::text(time.filter(|_| one_day).unwrap_or(when)),
                Cell::text(plain::line(&take.station)),
                Cell::text(format!("{}, round {}", phase_words(take.phase), take.round)),
                Cell::number(take.gap_mm, |mm| units.gap_number(mm)),
                Cell::number(take.u_gap_mm, |mm| units.fine_number(mm)),
                Cell::number_if(take.tilt_deg, |deg| crate::units::decimal(deg, 2)),
                Cell::number_if(take.temperature_c, |c| crate::units::decimal(c, 1)),
                if standing.contains(&event.hash) {
                    reading.told(take.phase, take.verdict)
                } else {
                    take.verdict
                }
                .map_or(Cell::None, Cell::Verdict),
                Cell::text(remarks.join("; ")),
            ]
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    let mut columns = vec![
        Column::text("No."),
        Column::text("When"),
        Column::text("Station"),
        Column::text("State"),
        Column::number(format!("Gap, {}", units.sign())),
        Column::number(format!("u, {}", units.sign())),
        Column::number("Tilt, \u{b0}"),
        Column::number("\u{b0}C"),
        Column::text("Verdict"),
        Column::text("Remarks"),
    ];
    drop_empty(&mut columns, &mut rows);
    let on = if one_day { format!(" on {}", days[0]) } else { String::new() };
    let caption = format!("{} in the order of the record{on}", plain::count(rows.len(), "take"));
    let blocks = vec![
        Block::Small(
            "u is the standard uncertainty of the single take, without what all takes share (the head\u{2019}s zero, the \
             temperature); that is counted in the verdict."
                .to_owned(),
        ),
        Block::Table(Table { caption, columns, rows }),
    ];
    section("takes", "Every take", blocks)
}
