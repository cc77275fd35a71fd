//! How far the image is from its rectangle.

use skimgauge_quantity::{Deg, Mm, say};
use skimgauge_record::section::{Square, TapeChecked};

use super::super::Reading;
use super::{Facts, listed, table};
use crate::document::{Block, Cell, Column};
use crate::plain;

pub(super) fn blocks(reading: &Reading<'_>, square: &Square) -> Vec<Block> {
    let mut blocks = Vec::new();
    if square.lengths_are == Some(TapeChecked::Contradicting) {
        // Of corners and turns such lengths say nothing.
        if let Some(tape) = &square.tape {
            blocks.extend(listed(reading, "The tape", tape));
        }
        return blocks;
    }
    if let Some(both) = &square.corners_and_tape {
        let title = "Corners and tape";
        blocks.extend(listed(reading, title, std::slice::from_ref(&both.says)));
        if !both.agree {
            return blocks;
        }
    }
    if let Some(says) = &square.not_measured {
        blocks.extend(listed(reading, "What was measured", std::slice::from_ref(says)));
    }
    blocks.extend(corners(reading, square));
    blocks.extend(turnable(reading, square));
    blocks.extend(listed(reading, "Turn in this order", &square.turn_in_this_order));
    blocks.extend(listed(reading, "What no adjuster takes out", &square.remains));
    if let Some(says) = &square.beyond {
        blocks.extend(listed(reading, "More than may remain", std::slice::from_ref(says)));
    }
    if let Some(says) = &square.too_close {
        blocks.extend(listed(reading, "Too close to call", std::slice::from_ref(says)));
    }
    blocks.extend(bows(reading, square));
    blocks.extend(lengths(reading, square));
    if let Some(tape) = &square.tape {
        blocks.extend(listed(reading, "The tape", tape));
    }
    blocks.extend(listed(reading, "Take care", &square.cautions));
    blocks
}

fn corners(reading: &Reading<'_>, square: &Square) -> Option<Block> {
    let rows = square.corners.iter().map(|corner| {
        let off = |by: Mm| reading.cell(by.0, by.gap().signed());
        vec![
            Cell::text(plain::sentence(&corner.corner).trim_end_matches('.')),
            off(corner.right),
            off(corner.up),
            reading.cell(corner.angle.0, corner.angle.figure()),
        ]
    });
    let columns = vec![
        Column::text("Corner"),
        Column::number(format!("Too far right, {}", reading.sign())),
        Column::number(format!("Too far up, {}", reading.sign())),
        Column::number("Angle inside, \u{b0}"),
    ];
    // A tape alone does not tell where on the board they are, in older records too.
    let caption = match square.turnable.shift_right {
        Some(_) => "Corners, against where they should be",
        None => "Corners, against a true rectangle laid over them as well as it goes",
    };
    table(caption, columns, rows.collect())
}

fn turnable(reading: &Reading<'_>, square: &Square) -> Option<Block> {
    let turnable = &square.turnable;
    let mm = |by: Mm| by.0;
    let by = |by: Mm| by.gap().signed();
    Facts::new(reading)
        .found(
            "Turned, anticlockwise",
            turnable.rotation,
            |by| by.0,
            |by: Deg| by.fine().signed(),
            Deg::fine_uncertainty,
        )
        .found(
            "Top side less bottom side",
            Some(turnable.vertical_trapezoid),
            mm,
            by,
            Mm::uncertainty,
        )
        .found(
            "Right side less left side",
            Some(turnable.horizontal_trapezoid),
            mm,
            by,
            Mm::uncertainty,
        )
        .found("Width less the width wanted", Some(turnable.size), mm, by, Mm::uncertainty)
        .found("Shifted to the right", turnable.shift_right, mm, by, Mm::uncertainty)
        .found("Shifted up", turnable.shift_up, mm, by, Mm::uncertainty)
        .found(
            "Width beyond what its height asks for",
            Some(square.stretch),
            mm,
            by,
            Mm::uncertainty,
        )
        .found("Top to the right of square", Some(square.skew), mm, by, Mm::uncertainty)
        .block()
}

fn bows(reading: &Reading<'_>, square: &Square) -> Option<Block> {
    let facts = square.bows.iter().fold(Facts::new(reading), |facts, bow| {
        let name = format!("Bow of the {} side, outward", plain::line(&bow.side));
        let said = say!("{}", bow.outward.gap().signed());
        facts.cell(&name, Cell::number(bow.outward.0, |_| said.text(reading.style)))
    });
    facts.block()
}

fn lengths(reading: &Reading<'_>, square: &Square) -> Option<Block> {
    let rows = square.lengths.iter().map(|length| {
        vec![
            Cell::text(plain::sentence(&length.length).trim_end_matches('.')),
            reading.cell(length.fitted.0, length.fitted.tape()),
        ]
    });
    let columns =
        vec![Column::text("Length"), Column::number(format!("As fitted, {}", reading.sign()))];
    table("The image\u{2019}s six lengths", columns, rows.collect())
}
