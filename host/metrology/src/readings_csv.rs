//! Readings from a table of text: `station,x_mm,y_mm,gap_mm,u_mm`.
//!
//! `station` may be empty; the column `u_mm`, or single values in it, may be left out. Lines that begin with `#`, and empty
//! lines, are passed over. A station that appears again at its own place is a further take. One name at two places, and two
//! names at one place, are refused: one of the lines must be wrong.

use crate::plane::observation::{GapObservation, Observations, SharedError};
use crate::plane::refusal::SAME_PLACE_MM;
use std::borrow::Cow;
use std::collections::HashMap;
use thiserror::Error;

/// The header, without the last column where there are no uncertainties.
pub const HEADER: &str = "station,x_mm,y_mm,gap_mm,u_mm";

/// No board is larger, mm.
const LARGEST_POSITION_MM: f64 = 20_000.0;
/// No gap is larger, mm.
const LARGEST_GAP_MM: f64 = 500.0;
/// No take is less certain, mm.
const LARGEST_U_MM: f64 = 50.0;

/// One line of the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Line in the text, from one.
    pub line: usize,
    /// The station's name, where it has one.
    pub station: Option<String>,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// The gap, mm.
    pub gap_mm: f64,
    /// Standard uncertainty, mm, where it is given.
    pub u_mm: Option<f64>,
}

/// The table read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Readings {
    /// Its lines.
    pub rows: Vec<Reading>,
    /// Pairs of lines that say exactly the same: takes that happen to agree, or one line pasted twice. The shell asks.
    pub repeated: Vec<(usize, usize)>,
}

/// What is wrong with the table, and where.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("line {line}: {problem}")]
pub struct CsvError {
    /// Line in the text, from one.
    pub line: usize,
    /// What is wrong there.
    pub problem: CsvProblem,
}

/// What can be wrong with a line.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CsvProblem {
    /// No header, or another one.
    #[error("the header is \"{found}\"; it must be \"{HEADER}\" (u_mm may be left out)")]
    Header {
        /// The first line as found, shortened.
        found: String,
    },
    /// A header in another unit.
    #[error("column \"{found}\" should be \"{wanted}\": convert to millimetres first")]
    Unit {
        /// As found.
        found: String,
        /// What belongs there.
        wanted: &'static str,
    },
    /// Nothing after the header.
    #[error("there are no readings")]
    Empty,
    /// Too few or too many values.
    #[error("{found} values where the header has {wanted}")]
    Fields {
        /// Values on the line.
        found: usize,
        /// Columns of the header.
        wanted: usize,
    },
    /// Not a number.
    #[error("{column} is \"{found}\", which is not a number in plain digits{hint}")]
    NotANumber {
        /// The column.
        column: &'static str,
        /// As found, shortened.
        found: String,
        /// What it may be instead.
        hint: &'static str,
    },
    /// A NaN or an infinity.
    #[error("{column} is {found}, which is not a finite number")]
    NotFinite {
        /// The column.
        column: &'static str,
        /// As found.
        found: String,
    },
    /// An uncertainty of zero or below.
    #[error("u_mm is {found}; an uncertainty must be above zero (leave it empty where it is not known)")]
    Uncertainty {
        /// As found.
        found: f64,
    },
    /// Larger than anything that can be measured here.
    #[error("{column} is {found} mm, more than the {largest} mm that can be: is it in another unit?")]
    TooLarge {
        /// The column.
        column: &'static str,
        /// As found.
        found: f64,
        /// The largest that is taken.
        largest: f64,
    },
    /// One name at two places.
    #[error("station {name} is {apart_mm:.0} mm from where line {first} has it: one of the two is wrong")]
    NameAtTwoPlaces {
        /// The name.
        name: String,
        /// The line that has it first.
        first: usize,
        /// Distance, mm.
        apart_mm: f64,
    },
    /// Two names at one place.
    #[error("this is the place that line {first} calls {other}, here it is called {name}: one of the two is wrong")]
    TwoNamesAtOnePlace {
        /// The name here.
        name: String,
        /// The name there.
        other: String,
        /// The line there.
        first: usize,
    },
    /// A quote that does not end.
    #[error("a quote opens and does not close on this line")]
    Quote,
}

/// Reads the table.
///
/// # Errors
/// The first [`CsvError`], with its line.
pub fn read(text: &str) -> Result<Readings, CsvError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut lines = text
        .lines()
        .enumerate()
        .map(|(index, line)| (index + 1, line.trim_end_matches('\r')))
        .filter(|(_, line)| !line.trim().is_empty() && !line.trim_start().starts_with('#'));
    let Some((line, header)) = lines.next() else {
        return Err(CsvError { line: 1, problem: CsvProblem::Empty });
    };
    let columns = columns(header).map_err(|problem| CsvError { line, problem })?;
    let mut readings = Readings::default();
    let mut known = Known::default();
    let mut last = line;
    for (line, text) in lines {
        last = line;
        let at_line = |problem| CsvError { line, problem };
        let reading = reading(line, text, columns).map_err(at_line)?;
        known.check(&readings.rows, &reading, &mut readings.repeated).map_err(at_line)?;
        readings.rows.push(reading);
    }
    if readings.rows.is_empty() {
        return Err(CsvError { line: last, problem: CsvProblem::Empty });
    }
    Ok(readings)
}

impl Readings {
    /// As observations; `default_u_mm` (above zero) stands in where a line has no uncertainty of its own.
    pub fn observations(self, default_u_mm: f64, shared: Vec<SharedError>) -> Observations {
        let gap = |r: Reading| GapObservation {
            station: r.station,
            ..GapObservation::bare(r.x_mm, r.y_mm, r.gap_mm, r.u_mm.unwrap_or(default_u_mm))
        };
        Observations { gaps: self.rows.into_iter().map(gap).collect(), lean: None, shared }
    }
}

/// How many columns the header has; it must be the one header, with or without the last column.
fn columns(header: &str) -> Result<usize, CsvProblem> {
    let wanted: Vec<&'static str> = HEADER.split(',').collect();
    let found: Vec<String> = header.split(',').map(|c| c.trim().trim_matches('"').to_ascii_lowercase()).collect();
    let full = wanted.len();
    if found.len() == full || found.len() == full - 1 {
        match found.iter().zip(&wanted).find(|(f, w)| f != w) {
            None => return Ok(found.len()),
            Some((f, w)) if in_another_unit(f, w) => {
                return Err(CsvProblem::Unit { found: f.clone(), wanted: w });
            }
            Some(_) => {}
        }
    }
    Err(CsvProblem::Header { found: shortened(header) })
}

/// The right quantity with another unit, or none, after it.
fn in_another_unit(found: &str, wanted: &str) -> bool {
    let Some(quantity) = wanted.strip_suffix("_mm") else { return false };
    let rest = found.strip_prefix(quantity);
    rest.is_some_and(|r| r.is_empty() || r.starts_with(['_', ' ', '[', '(']))
}

fn reading(line: usize, text: &str, columns: usize) -> Result<Reading, CsvProblem> {
    let (station, rest) = first_field(text)?;
    let mut fields = [""; 4];
    let mut count = 0;
    if let Some(rest) = rest {
        for field in rest.split(',') {
            if count < fields.len() {
                fields[count] = field.trim();
            }
            count += 1;
        }
    }
    if count + 1 != columns {
        return Err(CsvProblem::Fields { found: count + 1, wanted: columns });
    }
    let x_mm = number("x_mm", fields[0], LARGEST_POSITION_MM)?;
    let y_mm = number("y_mm", fields[1], LARGEST_POSITION_MM)?;
    let gap_mm = number("gap_mm", fields[2], LARGEST_GAP_MM)?;
    let u_mm = match fields[3] {
        "" => None,
        given => match number("u_mm", given, LARGEST_U_MM)? {
            u if u > 0.0 => Some(u),
            found => return Err(CsvProblem::Uncertainty { found }),
        },
    };
    let station = station.trim();
    Ok(Reading { line, station: (!station.is_empty()).then(|| station.to_owned()), x_mm, y_mm, gap_mm, u_mm })
}

/// The station, quoted or not, and what follows its comma.
fn first_field(text: &str) -> Result<(Cow<'_, str>, Option<&str>), CsvProblem> {
    let Some(quoted) = text.trim_start().strip_prefix('"') else {
        return Ok(match text.split_once(',') {
            Some((station, rest)) => (Cow::Borrowed(station), Some(rest)),
            None => (Cow::Borrowed(text), None),
        });
    };
    let mut from = 0;
    loop {
        let close = from + quoted[from..].find('"').ok_or(CsvProblem::Quote)?;
        let after = &quoted[close + 1..];
        if after.starts_with('"') {
            from = close + 2;
            continue;
        }
        let station = quoted[..close].replace("\"\"", "\"");
        let rest = after.trim_start();
        return match rest.strip_prefix(',') {
            Some(rest) => Ok((Cow::Owned(station), Some(rest))),
            None if rest.is_empty() => Ok((Cow::Owned(station), None)),
            None => Err(CsvProblem::Quote),
        };
    }
}

fn number(column: &'static str, field: &str, largest: f64) -> Result<f64, CsvProblem> {
    let value: f64 =
        field.parse().map_err(|_| CsvProblem::NotANumber { column, found: shortened(field), hint: hint(field) })?;
    if !value.is_finite() {
        return Err(CsvProblem::NotFinite { column, found: field.to_owned() });
    }
    if value.abs() > largest {
        return Err(CsvProblem::TooLarge { column, found: value, largest });
    }
    Ok(value)
}

fn hint(field: &str) -> &'static str {
    let starts_as_number = field.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
    if starts_as_number && field.ends_with(|c: char| c.is_alphabetic() || "\"'\u{b5}".contains(c)) {
        ": leave the unit out, and give millimetres"
    } else if field.contains(';') {
        ": separate values with commas"
    } else {
        ""
    }
}

fn shortened(text: &str) -> String {
    const MOST: usize = 60;
    let mut short: String = text.chars().take(MOST).collect();
    if short.len() < text.len() {
        short.push_str("...");
    }
    short
}

/// Names and places seen, each with the row that has it first.
#[derive(Default)]
struct Known {
    by_name: HashMap<String, usize>,
    by_place: HashMap<(u64, u64), usize>,
}

impl Known {
    fn check(&mut self, rows: &[Reading], new: &Reading, repeated: &mut Vec<(usize, usize)>) -> Result<(), CsvProblem> {
        if let Some(name) = &new.station {
            match self.by_name.get(name) {
                Some(&at) => {
                    let first = &rows[at];
                    let apart_mm = (first.x_mm - new.x_mm).hypot(first.y_mm - new.y_mm);
                    if apart_mm > SAME_PLACE_MM {
                        return Err(CsvProblem::NameAtTwoPlaces { name: name.clone(), first: first.line, apart_mm });
                    }
                }
                None => {
                    self.by_name.insert(name.clone(), rows.len());
                }
            }
        }
        // Adding zero makes one place of minus zero and zero.
        let place = ((new.x_mm + 0.0).to_bits(), (new.y_mm + 0.0).to_bits());
        let Some(&at) = self.by_place.get(&place) else {
            self.by_place.insert(place, rows.len());
            return Ok(());
        };
        let first = &rows[at];
        if let (Some(name), Some(other)) = (&new.station, &first.station)
            && name != other
        {
            return Err(CsvProblem::TwoNamesAtOnePlace { name: name.clone(), other: other.clone(), first: first.line });
        }
        if first.gap_mm == new.gap_mm && first.u_mm == new.u_mm {
            repeated.push((first.line, new.line));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(text: &str) -> String {
        read(text).unwrap_err().to_string()
    }

    #[test]
    fn reads_names_quotes_comments_and_missing_uncertainties() {
        let text = "\u{feff}# as found\r\nstation,x_mm,y_mm,gap_mm,u_mm\r\n\"left, \"\"low\"\"\",-900,-1200,3.2,0.05\r\n\r\n,0,0,2.5,\r\ntop, 10 ,0,2.75,1e-2\r\n";
        let found = read(text).unwrap();
        assert_eq!(found.rows.len(), 3);
        assert_eq!(found.rows[0].station.as_deref(), Some("left, \"low\""));
        assert_eq!((found.rows[0].line, found.rows[0].u_mm), (3, Some(0.05)));
        assert_eq!((found.rows[1].line, &found.rows[1].station, found.rows[1].u_mm), (5, &None, None));
        assert_eq!(found.rows[2].gap_mm, 2.75);
        assert_eq!(read("station,x_mm,y_mm,gap_mm\na,0,0,1\n").unwrap().rows[0].u_mm, None);
        let observations = found.observations(0.07, vec![]);
        assert_eq!(observations.gaps[1].u_mm, 0.07);
    }

    #[test]
    fn every_fault_is_told_with_its_line() {
        let with = |row: &str| refused(&format!("station,x_mm,y_mm,gap_mm,u_mm\na,0,0,1,0.1\n{row}\n"));
        assert_eq!(with("b,NaN,0,1,0.1"), "line 3: x_mm is NaN, which is not a finite number");
        assert_eq!(with("b,1,inf,1,0.1"), "line 3: y_mm is inf, which is not a finite number");
        assert!(with("b,1,0,1,0").starts_with("line 3: u_mm is 0; an uncertainty must be above zero"));
        assert!(with("b,1,0,1,-0.2").starts_with("line 3: u_mm is -0.2"));
        assert_eq!(with("b,1,0,1"), "line 3: 4 values where the header has 5");
        assert_eq!(with("b,1,0,1,0.1,9"), "line 3: 6 values where the header has 5");
        assert!(with("b,1,0,3.1mm,0.1").ends_with("leave the unit out, and give millimetres"));
        assert!(with("b,1,0,,0.1").starts_with("line 3: gap_mm is \"\", which is not a number"));
        assert!(with("b,1,0,3100,0.1").ends_with("is it in another unit?"));
        assert!(with("a,900,0,1,0.1").starts_with("line 3: station a is 900 mm from where line 2 has it"));
        assert!(with("b,0,-0,1,0.1").starts_with("line 3: this is the place that line 2 calls a"));
        assert_eq!(with("\"b,1,0,1,0.1"), "line 3: a quote opens and does not close on this line");
        assert!(refused("name,x,y,z\n").starts_with("line 1: the header is \"name,x,y,z\"; it must be"));
        assert!(refused("station,x_mm,y_mm,gap_um\n").contains("column \"gap_um\" should be \"gap_mm\""));
        assert!(refused("station,x,y_mm,gap_mm\n").contains("column \"x\" should be \"x_mm\""));
        assert_eq!(refused(""), "line 1: there are no readings");
        assert_eq!(refused("station,x_mm,y_mm,gap_mm\n"), "line 1: there are no readings");
    }

    #[test]
    fn a_station_taken_again_is_kept_and_equal_lines_are_pointed_out() {
        let found = read("station,x_mm,y_mm,gap_mm\na,0,0,1\na,0,0,1.01\na,0,0,1\n").unwrap();
        assert_eq!(found.rows.len(), 3);
        assert_eq!(found.repeated, [(2, 4)]);
    }

    proptest::proptest! {
        #[test]
        fn no_text_panics(text in "\\PC*", rows in "[-a0-9.,\"\n e]*") {
            let _ = read(&text);
            let _ = read(&format!("{HEADER}\n{rows}"));
        }
    }
}
