//! The touch proof: verdict, map of the marks, what was looked at.

use skimgauge_drawing::touch::{self, Off};
use skimgauge_model::Point;
use skimgauge_quantity::{Mm, say};
use skimgauge_record::section::{Touch, TouchMark, TouchPlace};

use super::super::Reading;
use super::{Facts, listed, table, told};
use crate::document::{Block, Cell, Column, Figure, Picture, VerdictCard};
use crate::plain;

pub(super) fn blocks(reading: &Reading<'_>, touch: &Touch) -> Vec<Block> {
    let mut blocks = vec![Block::Verdict(VerdictCard {
        heading: "Touch".to_owned(),
        verdict: touch.verdict,
        says: said(reading, touch),
        facts: Vec::new(),
    })];
    blocks.extend(map(reading, touch));
    blocks.extend(fitted(reading, touch));
    let parts = touch
        .parts
        .iter()
        .map(|part| vec![Cell::Verdict(part.verdict), Cell::text(reading.said(&part.says))]);
    blocks.extend(table(
        "What was looked at",
        vec![Column::text("Verdict"), Column::text("In words")],
        parts.collect(),
    ));
    blocks.extend(marks(reading, touch));
    blocks.extend(listed(reading, "To know", &touch.told));
    blocks
}

/// Why, what would settle it, where it comes from.
fn said(reading: &Reading<'_>, touch: &Touch) -> String {
    let rest = touch.settle.iter().chain(&touch.cause);
    let all = std::iter::once(&touch.because).chain(rest).map(|said| reading.said(said));
    all.filter(|text| !text.is_empty()).collect::<Vec<_>>().join(" ")
}

fn map(reading: &Reading<'_>, touch: &Touch) -> Option<Block> {
    let of_mark = |mark: &TouchMark| Off {
        name: mark.name.clone(),
        at: Point { x: mark.x, y: mark.y },
        right: mark.right,
        up: mark.up,
        verdict: None,
    };
    let of_place = |place: &TouchPlace| Off {
        name: place.name.clone(),
        at: Point { x: place.x, y: place.y },
        right: place.right,
        up: place.up,
        verdict: Some(place.verdict),
    };
    let tapped = touch.marks.iter().filter(|mark| mark.taps > 0).map(of_mark);
    let places: Vec<Off> = tapped.chain(touch.places.iter().map(of_place)).collect();
    let drawn = touch::Touch {
        image: touch.image,
        places: &places,
        strokes: &touch.strokes,
        limit: touch.limit,
    };
    let chart = touch::draw(&drawn, reading.style.units)?;
    Some(Block::Figures(vec![Figure {
        picture: Picture::Chart(chart.to_string()),
        caption: "Seen from the room: from each mark an arrow to where touch was seen (mean of its taps, \
                  dark); in the corners and the centre as fitted through all taps, with their verdicts. \
                  Grey: lines as the display saw them drawn."
            .to_owned(),
        alt: touch::in_words(&drawn, reading.style.units),
        wide: true,
    }]))
}

fn fitted(reading: &Reading<'_>, touch: &Touch) -> Option<Block> {
    let facts = Facts::new(reading).cell("Touched with", Cell::text(touch.tool.clone())).length(
        "Touch may stand off by",
        touch.limit,
        Mm::limit,
    );
    let Some(map) = touch.map else { return facts.block() };
    let both = say!(
        "{} right, {} up (u {})",
        map.right.value.gap().signed(),
        map.up.value.gap().signed(),
        map.right.u.uncertainty()
    );
    let slope = |name, found| {
        let slope = |slope: skimgauge_quantity::MmPerM| slope.figure();
        (name, found, slope)
    };
    let mut facts = facts.cell("Offset in the middle", told(reading, &both));
    for (name, found, show) in [
        slope("Scale across", map.scale_across),
        slope("Scale up and down", map.scale_down),
        slope("Turn", map.turn),
        slope("Shear", map.shear),
    ] {
        facts = facts.found(name, Some(found), |slope| slope.0, |s| show(s).signed(), show);
    }
    facts.length("Scatter of one tap", map.scatter, Mm::gap).block()
}

fn marks(reading: &Reading<'_>, touch: &Touch) -> Option<Block> {
    let rows = touch.marks.iter().map(|mark| {
        let off = |length: Mm| match mark.taps {
            0 => Cell::None,
            _ => reading.cell(length.0, length.gap().signed()),
        };
        let note = if mark.bent { "does not follow the other marks" } else { "" };
        vec![
            Cell::text(plain::line(&mark.name)),
            Cell::text(mark.taps.to_string()),
            Cell::text(mark.missed.to_string()),
            off(mark.right),
            off(mark.up),
            Cell::text(note),
        ]
    });
    let columns = vec![
        Column::text("Mark"),
        Column::number("Taps"),
        Column::number("Not seen"),
        Column::number("Right"),
        Column::number("Up"),
        Column::text("Noticed"),
    ];
    table(&format!("Mean of each mark\u{2019}s taps, {}", reading.sign()), columns, rows.collect())
}
