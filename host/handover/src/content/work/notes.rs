//! Notes, what was attached, and what was saved from a damaged record.

use skimgauge_record::event::{Body, Difference};

use super::super::{Reading, section};
use crate::document::{Block, Cell, Column, Figure, Picture, Section, Table};
use crate::plain;

/// Images that every browser shows.
const SHOWN: [&str; 4] = ["image/jpeg", "image/png", "image/webp", "image/gif"];

/// Notes and what was attached.
pub(in crate::content) fn notes(reading: &Reading<'_>) -> Option<Section> {
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
    blocks.extend(attached(reading));
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

/// What was attached, by name and hash.
fn attached(reading: &Reading<'_>) -> Option<Block> {
    let photos: Vec<Vec<Cell>> = reading
        .events(|body| match body {
            Body::PhotoAttached(photo) => Some(photo),
            _ => None,
        })
        .map(|(event, photo)| {
            vec![
                Cell::text(plain::line(&photo.name)),
                photo
                    .caption
                    .as_deref()
                    .map_or(Cell::None, |caption| Cell::text(plain::line(caption))),
                Cell::text(plain::day(event.at)),
                Cell::text(photo.sha256.short()),
            ]
        })
        .collect();
    (!photos.is_empty()).then(|| {
        Block::Table(Table {
            caption: "Photos and files kept in the record".to_owned(),
            columns: vec![
                Column::text("File"),
                Column::text("Shows"),
                Column::text("Attached"),
                Column::text("Hash begins"),
            ],
            rows: photos,
        })
    })
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
pub(in crate::content) fn saved(reading: &Reading<'_>) -> Option<Section> {
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
