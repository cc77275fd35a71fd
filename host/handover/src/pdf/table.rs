//! Tables on paper.

use skimgauge_drawing::mark;
use skimgauge_drawing::palette::{INK, RULE};

use super::blocks::{SMALL, mark_at};
use super::face::Weight;
use super::sheet::{SIDE, Set, Sheets};
use super::structure::Kind;
use crate::document::{Cell, Column, Table};

/// Tables with many columns take smaller letters.
const MANY_COLUMNS: usize = 7;

pub(super) fn table(sheets: &mut Sheets<'_>, table: &Table) {
    sheets.within(Kind::Table, |sheets| rows(sheets, table));
}

fn rows(sheets: &mut Sheets<'_>, table: &Table) {
    let size = if table.columns.len() > MANY_COLUMNS { 7.6 } else { 8.6 };
    let cell_set = Set::new(size, Weight::Regular, INK);
    let head_set = Set::new(size, Weight::Bold, INK);
    let widths = widths(sheets, table, cell_set, head_set);
    // Half a sheet of table stays together; more begins where it stands.
    let whole: f32 = table
        .rows
        .iter()
        .map(|cells| row_height(sheets, &widths, cells, cell_set) + 5.0)
        .sum::<f32>()
        + 40.0;
    sheets.need(if whole < sheets.full() / 2.0 { whole } else { 90.0 });
    sheets.within(Kind::Caption, |sheets| {
        sheets.paragraph(SIDE, sheets.room(), SMALL, &table.caption);
    });
    sheets.y += 2.0;
    let titles: Vec<Cell> =
        table.columns.iter().map(|column| Cell::Text(column.title.clone())).collect();
    row(sheets, &table.columns, &widths, &titles, head_set, true);
    for cells in &table.rows {
        let height = row_height(sheets, &widths, cells, cell_set);
        let sheet = sheets.sheets.len();
        sheets.need((height + 6.0).min(sheets.full()));
        if sheets.sheets.len() != sheet {
            sheets.again(|sheets| {
                row(sheets, &table.columns, &widths, &titles, head_set, true);
            });
        }
        row(sheets, &table.columns, &widths, cells, cell_set, false);
    }
    sheets.y += 8.0;
}

/// Between columns.
const BETWEEN: f32 = 9.0;

/// Room for a verdict's mark beside its word.
const MARK: f32 = 18.0;

/// Columns as wide as their widest cell where that fits; else columns of long texts give way, down
/// to their longest word.
fn widths(sheets: &Sheets<'_>, table: &Table, cell_set: Set, head_set: Set) -> Vec<f32> {
    let width = |text: &str, set: Set| sheets.faces.width(text, set.weight, set.size);
    let word =
        |text: &str, set: Set| text.split(' ').map(|word| width(word, set)).fold(0.0, f32::max);
    let mut natural = Vec::new();
    let mut least = Vec::new();
    for (at, column) in table.columns.iter().enumerate() {
        let cells = || table.rows.iter().filter_map(|row| row.get(at));
        let beside = |cell: &Cell| {
            if matches!(cell, Cell::Verdict(_) | Cell::Word(..)) { MARK } else { 0.0 }
        };
        let whole =
            cells().map(|cell| width(cell.shown(), cell_set) + beside(cell)).fold(0.0, f32::max);
        let words = cells()
            .map(|cell| match cell {
                Cell::Number { .. } => width(cell.shown(), cell_set),
                cell => word(cell.shown(), cell_set) + beside(cell),
            })
            .fold(0.0, f32::max);
        natural.push(whole.max(width(&column.title, head_set)) + 0.5);
        least.push(words.max(word(&column.title, head_set)) + 0.5);
    }
    let room = sheets.room() - BETWEEN * (table.columns.len().max(1) - 1) as f32;
    let (all, all_least): (f32, f32) = (natural.iter().sum(), least.iter().sum());
    if all <= room {
        let more = ((room - all) / natural.len().max(1) as f32).min(26.0);
        natural.iter().map(|width| width + more).collect()
    } else if all_least < room {
        let share = (room - all_least) / (all - all_least).max(0.1);
        natural
            .iter()
            .zip(&least)
            .map(|(natural, least)| least + (natural - least) * share)
            .collect()
    } else {
        least.iter().map(|least| least * room / all_least).collect()
    }
}

fn cell_lines(sheets: &Sheets<'_>, cell: &Cell, set: Set, width: f32) -> Vec<String> {
    let room = if matches!(cell, Cell::Verdict(_) | Cell::Word(..)) { width - MARK } else { width };
    sheets.faces.lines(cell.shown(), set.weight, set.size, room)
}

fn row_height(sheets: &Sheets<'_>, widths: &[f32], cells: &[Cell], set: Set) -> f32 {
    let lines = cells
        .iter()
        .zip(widths)
        .map(|(cell, width)| cell_lines(sheets, cell, set, *width).len())
        .max()
        .unwrap_or(1);
    lines as f32 * set.line()
}

fn row(
    sheets: &mut Sheets<'_>,
    columns: &[Column],
    widths: &[f32],
    cells: &[Cell],
    set: Set,
    head: bool,
) {
    sheets.within(Kind::Row, |sheets| cells_of(sheets, columns, widths, cells, set, head));
}

fn cells_of(
    sheets: &mut Sheets<'_>,
    columns: &[Column],
    widths: &[f32],
    cells: &[Cell],
    set: Set,
    head: bool,
) {
    let top = sheets.y + 2.0;
    let height = row_height(sheets, widths, cells, set);
    let mut x = SIDE;
    for ((column, width), cell) in columns.iter().zip(widths).zip(cells) {
        let set = match cell {
            Cell::Verdict(verdict) | Cell::Word(verdict, _) => {
                Set { colour: mark::colour(*verdict), ..set }
            }
            _ => set,
        };
        let lines = cell_lines(sheets, cell, set, *width);
        // Titles stand on the line under them.
        let down = if head { height - lines.len() as f32 * set.line() } else { 0.0 };
        let mut left = x;
        if let Cell::Verdict(verdict) | Cell::Word(verdict, _) = cell {
            mark_at(sheets, [x, top + 0.8], set.size + 1.0, *verdict);
            left += MARK;
        }
        sheets.within(if head { Kind::Column } else { Kind::Cell }, |sheets| {
            for (n, line) in lines.iter().enumerate() {
                let at = if column.number {
                    x + width - sheets.faces.width(line, set.weight, set.size)
                } else {
                    left
                };
                sheets.text_at([at, top + down + set.size + n as f32 * set.line()], set, line);
            }
        });
        x += width + BETWEEN;
    }
    sheets.y = top + height + 1.5;
    let length = x - BETWEEN - SIDE;
    if head {
        sheets.rule(SIDE, length, 1.1, INK);
    } else {
        sheets.rule(SIDE, length, 0.4, RULE);
    }
    sheets.y += 1.5;
}
