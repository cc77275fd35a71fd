//! The header: which column is where, under whichever name a person or a spreadsheet gave it.

use crate::error::{Problem, TableError, shortened};

/// One column that a table may have.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Column {
    /// As it is written in full.
    pub(crate) name: &'static str,
    /// What it holds, without its unit.
    pub(crate) quantity: &'static str,
    /// The largest number in it, mm; `None` for texts.
    pub(crate) largest: Option<f64>,
    /// Whether the table is nothing without it.
    pub(crate) required: bool,
}

impl Column {
    /// A column of texts.
    pub(crate) const fn text(name: &'static str, required: bool) -> Self {
        Self { name, quantity: name, largest: None, required }
    }

    /// A column of numbers.
    pub(crate) const fn number(
        name: &'static str,
        quantity: &'static str,
        largest: f64,
        required: bool,
    ) -> Self {
        Self { name, quantity, largest: Some(largest), required }
    }
}

/// A kind of table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kind {
    /// The whole header.
    pub(crate) header: &'static str,
    /// What may be left out, for messages.
    pub(crate) may_be_left_out: &'static str,
    /// What its rows are.
    pub(crate) what: &'static str,
    /// Its columns.
    pub(crate) columns: &'static [Column],
}

/// Where each column of a [`Kind`] is, from zero.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Places {
    /// For each of the kind's columns.
    pub(crate) of: Vec<Option<usize>>,
    /// How many columns the header names.
    pub(crate) count: usize,
}

/// How a cell of the header was understood.
enum Understood {
    Column(usize),
    OtherUnit(usize),
    Unknown,
}

fn understand(cell: &str, kind: &Kind) -> Understood {
    let lower = cell.to_lowercase();
    let mut words = lower
        .split(|c: char| c.is_whitespace() || "_-()[]".contains(c))
        .filter(|word| !word.is_empty());
    let quantity = words.next().unwrap_or("");
    let Some(at) = kind.columns.iter().position(|column| column.quantity == quantity) else {
        return Understood::Unknown;
    };
    let unit: Vec<&str> = words.collect();
    match (unit.as_slice(), kind.columns[at].largest) {
        ([], _) | (["mm" | "millimetres" | "millimeters"], Some(_)) => Understood::Column(at),
        ([_], Some(_)) => Understood::OtherUnit(at),
        _ => Understood::Unknown,
    }
}

/// How many cells of a header are columns of this kind: for telling what parts them.
pub(crate) fn known(cells: &[String], kind: &Kind) -> usize {
    cells
        .iter()
        .filter(|cell| !matches!(understand(cell.trim(), kind), Understood::Unknown))
        .count()
}

/// Where each column is.
pub(crate) fn places(cells: &[String], line: usize, kind: &Kind) -> Result<Places, TableError> {
    let cells: Vec<&str> = cells.iter().map(|cell| cell.trim()).collect();
    let mut of: Vec<Option<usize>> = vec![None; kind.columns.len()];
    let mut unknown = None;
    for (number, cell) in cells.iter().enumerate().filter(|(_, cell)| !cell.is_empty()) {
        let found = || shortened(cell);
        match understand(cell, kind) {
            Understood::Column(at) if of[at].is_some() => {
                return Err(Problem::ColumnTwice { found: found() }.at(line).column(number + 1));
            }
            Understood::Column(at) => of[at] = Some(number),
            Understood::OtherUnit(at) => {
                return Err(Problem::Unit { found: found(), wanted: kind.columns[at].name }
                    .at(line)
                    .column(number + 1)
                    .suggest("convert to millimetres first"));
            }
            Understood::Unknown => unknown = unknown.or(Some((number, *cell))),
        }
    }
    if let Some((number, cell)) = unknown {
        let error = Problem::Column { found: shortened(cell) }.at(line).column(number + 1);
        if let Some(near) = nearest(cell, kind, &of) {
            return Err(error.suggest(format!("did you mean \"{near}\"?")));
        }
        if !lacks_one(&of, kind) {
            return Err(error.suggest(format!("leave it out; the columns are {}", kind.header)));
        }
    }
    if lacks_one(&of, kind) {
        let found = shortened(&cells.join(","));
        let (header, may_be_left_out) = (kind.header, kind.may_be_left_out);
        return Err(Problem::Header { found, header, may_be_left_out }.at(line));
    }
    let count = cells.iter().rposition(|cell| !cell.is_empty()).map_or(0, |last| last + 1);
    Ok(Places { of, count })
}

fn lacks_one(of: &[Option<usize>], kind: &Kind) -> bool {
    kind.columns.iter().zip(of).any(|(column, at)| column.required && at.is_none())
}

/// The column, not found elsewhere, that a mistyped name most likely stands for.
fn nearest(cell: &str, kind: &Kind, of: &[Option<usize>]) -> Option<&'static str> {
    // Comparing takes time by length squared, and no column is that long.
    if cell.len() > 40 {
        return None;
    }
    let cell = cell.to_lowercase();
    kind.columns
        .iter()
        .zip(of)
        .filter(|(_, at)| at.is_none())
        .map(|(column, _)| {
            let distance = |name: &str| (strsim::osa_distance(&cell, name), 1 + name.len() / 6);
            let (whole, bare) = (distance(column.name), distance(column.quantity));
            (if whole.0 <= bare.0 { whole } else { bare }, column.name)
        })
        .filter(|((distance, most), name)| distance <= most && name.len() > 1 && cell.len() > 1)
        .min_by_key(|((distance, _), _)| *distance)
        .map(|(_, name)| name)
}
