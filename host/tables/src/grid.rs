//! From text to rows of cells: what parts the values, which lines count, quotes by the CSV library.

use crate::MOST_ROWS;
use crate::decimals::{Cell, Decimal, Evidence, is_formula_error, number};
use crate::encoding;
use crate::error::{Problem, TableError, shortened};
use crate::header::{Kind, Places, known, places};

/// What may part values.
const SEPARATORS: [char; 3] = [',', ';', '\t'];

/// A table whose header is understood.
#[derive(Debug)]
pub(crate) struct Grid {
    kind: &'static Kind,
    places: Places,
    decimal: Decimal,
    separator: char,
    /// The rows that count, quotes set right, one a line.
    rows: String,
    /// For each of them its line in the text, from one.
    lines: Vec<usize>,
}

/// One row.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row<'a> {
    grid: &'a Grid,
    cells: &'a csv::StringRecord,
    /// Line in the text, from one.
    pub(crate) line: usize,
}

impl Grid {
    /// Reads the bytes of a table.
    pub(crate) fn read(bytes: &[u8], kind: &'static Kind) -> Result<Self, TableError> {
        let text = encoding::text(bytes)?;
        let mut lines = text
            .lines()
            .enumerate()
            .map(|(index, line)| (index + 1, line))
            .filter(|(_, line)| counts(line));
        let mut header = lines.next();
        let mut said = None;
        if let Some((_, line)) = header
            && let Some(separator) =
                line.trim().strip_prefix("sep=").and_then(|rest| rest.chars().next())
        {
            said = SEPARATORS.contains(&separator).then_some(separator);
            header = lines.next();
        }
        let Some((line, header)) = header else {
            return Err(Problem::Empty { header: kind.header }.at(1));
        };
        let (separator, cells) = parted(header, line, said, kind)?;
        let places = places(&cells, line, kind)?;
        let (mut rows, mut row_lines) = (String::with_capacity(text.len()), Vec::new());
        let mut last = line;
        for (line, row) in lines {
            last = line;
            tidy(row, separator, &mut rows).map_err(|()| Problem::Quote.at(line))?;
            rows.push('\n');
            row_lines.push(line);
            if row_lines.len() > MOST_ROWS {
                return Err(Problem::TooLong { most: MOST_ROWS, unit: "rows" }.at(line));
            }
        }
        let mut grid =
            Self { kind, places, decimal: Decimal::Point, separator, rows, lines: row_lines };
        let mut any = false;
        let mut evidence = Evidence::default();
        grid.each(|row| {
            any = true;
            row.numbers().try_for_each(|cell| evidence.see(cell))
        })?;
        if !any {
            return Err(Problem::NoRows { what: kind.what }.at(last));
        }
        grid.decimal = evidence.decide(separator == ',')?;
        Ok(grid)
    }

    /// Every row that has something in it, in its order.
    pub(crate) fn each(
        &self,
        mut row: impl FnMut(Row<'_>) -> Result<(), TableError>,
    ) -> Result<(), TableError> {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            // Always one byte: one of SEPARATORS.
            .delimiter(self.separator as u8)
            .from_reader(self.rows.as_bytes());
        let mut cells = csv::StringRecord::new();
        for line in &self.lines {
            // Text in memory that is UTF-8 and may have any number of cells gives no error.
            if !reader.read_record(&mut cells).map_err(|_| Problem::NotUtf8.at(*line))? {
                break;
            }
            if cells.iter().all(|cell| cell.trim().is_empty()) {
                continue;
            }
            let whole = Row { grid: self, cells: &cells, line: *line };
            whole.check_count()?;
            row(whole)?;
        }
        Ok(())
    }
}

impl<'a> Row<'a> {
    fn check_count(self) -> Result<(), TableError> {
        let wanted = self.grid.places.count;
        let filled = (0..self.cells.len()).rev().find(|at| !self.cells[*at].trim().is_empty());
        let last = filled.map_or(0, |last| last + 1);
        let found = if self.cells.len() < wanted { self.cells.len() } else { last.max(wanted) };
        if found == wanted {
            return Ok(());
        }
        let error = Problem::Fields { found, wanted }.at(self.line);
        let digits = |cell: &str| cell.trim().bytes().all(|byte| byte.is_ascii_digit());
        let is_comma = found > wanted && self.grid.separator == ',';
        Err(if is_comma && self.cells.iter().skip(1).any(digits) {
            error.suggest("with a decimal comma, part the values with semicolons")
        } else {
            error
        })
    }

    /// The text of one of the kind's columns; empty where the column or the text is not there.
    pub(crate) fn text(self, column: usize) -> &'a str {
        self.grid.places.of[column].and_then(|at| self.cells.get(at)).unwrap_or("").trim()
    }

    /// A value with its place.
    pub(crate) fn cell(self, column: usize) -> Cell<'a> {
        let number = self.grid.places.of[column].map_or(0, |at| at + 1);
        Cell {
            text: self.text(column),
            line: self.line,
            number,
            column: self.grid.kind.columns[column].name,
        }
    }

    /// The number of one of the kind's columns.
    pub(crate) fn number(self, column: usize) -> Result<f64, TableError> {
        let largest = self.grid.kind.columns[column].largest.unwrap_or(f64::INFINITY);
        number(self.cell(column), self.grid.decimal, largest)
    }

    /// The same, where it may be left out.
    pub(crate) fn number_if(self, column: usize) -> Result<Option<f64>, TableError> {
        if self.text(column).is_empty() { Ok(None) } else { self.number(column).map(Some) }
    }

    fn numbers(self) -> impl Iterator<Item = Cell<'a>> {
        let columns = self.grid.kind.columns.iter().enumerate();
        columns.filter(|(_, column)| column.largest.is_some()).map(move |(at, _)| self.cell(at))
    }
}

/// Whether a line is more than space or a comment.
fn counts(line: &str) -> bool {
    let line = line.trim();
    let all_empty = line.chars().all(|c| c.is_whitespace() || SEPARATORS.contains(&c));
    !(all_empty || (line.starts_with('#') && !is_formula_error(line)))
}

/// The header's cells, and what parts them: what the table says, or what makes the most columns of
/// it.
fn parted(
    header: &str,
    line: usize,
    said: Option<char>,
    kind: &Kind,
) -> Result<(char, Vec<String>), TableError> {
    let candidates: &[char] = said.as_ref().map_or(&SEPARATORS, std::slice::from_ref);
    let mut best: Option<(char, Vec<String>)> = None;
    for &separator in candidates {
        let Some(cells) = cells(header, separator) else { continue };
        if best.as_ref().is_none_or(|(_, best)| known(&cells, kind) > known(best, kind)) {
            best = Some((separator, cells));
        }
    }
    best.ok_or_else(|| Problem::Quote.at(line))
}

fn cells(line: &str, separator: char) -> Option<Vec<String>> {
    let mut row = String::new();
    tidy(line, separator, &mut row).ok()?;
    let mut reader = csv::ReaderBuilder::new();
    let mut reader = reader
        .has_headers(false)
        .flexible(true)
        .delimiter(separator as u8)
        .from_reader(row.as_bytes());
    let mut cells = csv::StringRecord::new();
    reader.read_record(&mut cells).ok()?;
    Some(cells.iter().map(str::to_owned).collect())
}

/// Adds a line to `rows` with its quotes as RFC 4180 wants them: right at a value's ends. Blanks
/// outside go.
///
/// The library takes a quote that does not close, or closes in the middle of a value, without a
/// word; here it is a mistake.
fn tidy(line: &str, separator: char, rows: &mut String) -> Result<(), ()> {
    if !line.contains('"') {
        rows.push_str(line);
        return Ok(());
    }
    let blank = |c: char| c != separator && c.is_whitespace();
    let mut rest = line;
    loop {
        let value = rest.trim_start_matches(blank);
        let behind = match value.strip_prefix('"') {
            Some(quoted) => {
                let end = closing(quoted).ok_or(())?;
                rows.push('"');
                rows.push_str(&quoted[..=end]);
                quoted[end + 1..].trim_start_matches(blank)
            }
            None => {
                let end = value.find(separator).unwrap_or(value.len());
                rows.push_str(&value[..end]);
                &value[end..]
            }
        };
        match behind.strip_prefix(separator) {
            Some(next) => {
                rows.push(separator);
                rest = next;
            }
            None if behind.is_empty() => return Ok(()),
            None => return Err(()),
        }
    }
}

/// Where the quote is that closes a value; doubled ones are its own.
fn closing(quoted: &str) -> Option<usize> {
    let mut from = 0;
    loop {
        let at = from + quoted[from..].find('"')?;
        if !quoted[at + 1..].starts_with('"') {
            return Some(at);
        }
        from = at + 2;
    }
}

/// A name in a table: none, or one that can be shown.
pub(crate) fn name(row: Row<'_>, column: usize) -> Result<Option<&str>, TableError> {
    let cell = row.cell(column);
    let wrong = if cell.text.chars().any(skimgauge_quantity::steers) {
        "has a character in it that cannot be shown"
    } else if cell.text.chars().count() > crate::LONGEST_NAME {
        "is longer than 60 characters"
    } else {
        return Ok((!cell.text.is_empty()).then_some(cell.text));
    };
    Err(Problem::Name { found: shortened(cell.text), wrong }.at(cell.line).column(cell.number))
}
