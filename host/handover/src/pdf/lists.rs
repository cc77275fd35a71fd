//! Points, names with values, and what stands in columns, on paper.

use skimgauge_drawing::palette::{BEAM, INK, RULE, SOFT};

use super::blocks::BOLD;
use super::face::Weight;
use super::sheet::{BODY, Mark, SIDE, Set, Sheets};
use super::structure::Kind;
use crate::document::Cell;

/// Lines in two columns, down the first and then down the second: a word, and of what.
pub(super) fn columns(sheets: &mut Sheets<'_>, lines: &[(String, String)]) {
    const WORD: f32 = 42.0;
    const GAP: f32 = 16.0;
    let width = (sheets.room() - GAP) / 2.0;
    let line_of = |sheets: &mut Sheets<'_>, x: f32, (word, of): &(String, String)| {
        sheets.within(Kind::Row, |sheets| {
            let top = sheets.y;
            sheets.within(Kind::RowTitle, |sheets| sheets.paragraph(x, WORD, BOLD, word));
            sheets.y = top;
            sheets.within(Kind::Cell, |sheets| sheets.paragraph(x + WORD, width - WORD, BODY, of));
        });
        sheets.y += 0.8;
    };
    let halves = lines.split_at(lines.len().div_ceil(2));
    let column = |sheets: &mut Sheets<'_>, at: usize, lines: &[(String, String)]| {
        let x = SIDE + at as f32 * (width + GAP);
        lines.iter().for_each(|line| line_of(sheets, x, line));
    };
    let [left, right] =
        [halves.0, halves.1].map(|half| sheets.height_of(|trial| column(trial, 0, half)));
    sheets.need(left.max(right).min(sheets.full()));
    let top = sheets.y;
    sheets.within(Kind::Table, |sheets| {
        column(sheets, 0, halves.0);
        sheets.y = top;
        column(sheets, 1, halves.1);
    });
    sheets.y = top + left.max(right) + 3.0;
}

/// Points, one under the other.
pub(super) fn list(sheets: &mut Sheets<'_>, points: &[String], boxes: bool) {
    let room = sheets.between(sheets.room().min(470.0), sheets.room());
    for point in points {
        let height =
            sheets.height_of(|trial| trial.paragraph(SIDE + 16.0, room - 16.0, BODY, point));
        sheets.need(height.min(sheets.full()));
        let y = sheets.y;
        if boxes {
            for (at, size) in [
                ([1.0, 1.6], [8.6, 1.0]),
                ([1.0, 9.2], [8.6, 1.0]),
                ([1.0, 1.6], [1.0, 8.6]),
                ([8.6, 1.6], [1.0, 8.6]),
            ] {
                sheets.push(Mark::Box { at: [SIDE + at[0], y + at[1]], size, colour: INK });
            }
        } else {
            sheets.push(Mark::Box { at: [SIDE + 3.0, y + 4.8], size: [4.5, 2.0], colour: BEAM });
        }
        sheets.within(Kind::Item, |sheets| {
            sheets.paragraph(SIDE + 16.0, room - 16.0, BODY, point);
        });
        sheets.y += sheets.between(3.0, 2.0);
    }
    sheets.y += sheets.between(4.0, 2.0);
}

/// Names and values, two beside each other.
pub(super) fn facts(sheets: &mut Sheets<'_>, x: f32, room: f32, facts: &[(String, Cell)]) {
    sheets.within(Kind::Table, |sheets| fact_rows(sheets, x, room, facts));
}

fn fact_rows(sheets: &mut Sheets<'_>, x: f32, room: f32, facts: &[(String, Cell)]) {
    let name_set = sheets.readable(Set::new(8.5, Weight::Regular, SOFT));
    let value_set = sheets.readable(Set::new(8.8, Weight::Regular, INK));
    let gap = 18.0;
    let half = (room - gap) / 2.0;
    let names = (half * 0.42).min(110.0);
    for pair in facts.chunks(2) {
        let height = pair
            .iter()
            .map(|(name, cell)| {
                let lines = |text: &str, set: Set, room: f32| {
                    sheets.faces.lines(text, set.weight, set.size, room).len() as f32 * set.line()
                };
                lines(name, name_set, names - 8.0).max(lines(cell.shown(), value_set, half - names))
            })
            .fold(0.0, f32::max);
        sheets.need((height + 6.0).min(sheets.full()));
        let top = sheets.y;
        for (n, (name, cell)) in pair.iter().enumerate() {
            let left = x + n as f32 * (half + gap);
            sheets.within(Kind::Row, |sheets| {
                sheets.y = top;
                sheets.within(Kind::RowTitle, |sheets| {
                    sheets.paragraph(left, names - 8.0, name_set, name);
                });
                sheets.y = top;
                sheets.within(Kind::Cell, |sheets| {
                    sheets.paragraph(left + names, half - names, value_set, cell.shown());
                });
            });
            sheets.push(Mark::Box {
                at: [left, top + height + 2.0],
                size: [half, 0.4],
                colour: RULE,
            });
        }
        sheets.y = top + height + 5.0;
    }
}
