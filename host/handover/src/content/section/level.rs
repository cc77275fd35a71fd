//! What was held level or plumb.

use skimgauge_quantity::{Deg, say};
use skimgauge_record::Event;
use skimgauge_record::section::{Known, Levelled, Line, Tool};

use super::super::Reading;
use super::{table, told};
use crate::document::{Block, Cell, Column};
use crate::plain;

/// Each thing and line by what was read of it last.
pub(super) fn blocks(reading: &Reading<'_>, levelled: &[(&Event, &Levelled)]) -> Vec<Block> {
    let rows = levelled.iter().map(|(event, level)| row(reading, event, level)).collect();
    let columns = vec![
        Column::text("What"),
        Column::text("against"),
        Column::number("Off by"),
        Column::text("which is"),
        Column::text("Known to"),
        Column::text("May be"),
        Column::text("Verdict"),
        Column::text("With"),
        Column::text("On"),
    ];
    table("Level and plumb", columns, rows).into_iter().collect()
}

fn row(reading: &Reading<'_>, event: &Event, level: &Levelled) -> Vec<Cell> {
    let known = match level.known {
        Known::Expanded(expanded) => say!("\u{b1} {} (95\u{a0}%)", expanded.figure()),
        Known::Resolution(step) => say!("steps of {}", step.figure()),
    };
    let target = level.target.low.figure().to(level.target.high.figure());
    vec![
        Cell::text(plain::line(&level.of)),
        Cell::text(level.line.shown()),
        reading.fact(level.value.0, level.value.abs().figure()),
        Cell::text(way(level)),
        told(reading, &known),
        Cell::text(target.text(reading.style)),
        Cell::Verdict(level.verdict),
        Cell::text(tool(&level.tool)),
        Cell::text(plain::day(event.at)),
    ]
}

/// So little shows as nothing.
const NOTHING: Deg = Deg(0.005);

fn way(level: &Levelled) -> &'static str {
    match (level.line, level.value) {
        (_, value) if value.abs() < NOTHING => "",
        (Line::Level, value) if value > Deg::ZERO => "right end up",
        (Line::Level, _) => "left end up",
        (Line::Plumb, value) if value > Deg::ZERO => "upper end out",
        (Line::Plumb, _) => "upper end in",
    }
}

fn tool(tool: &Tool) -> String {
    match tool {
        Tool::Head(head) => format!("head {}", plain::line(&head.serial)),
        Tool::Own(name) => plain::line(name),
    }
}
