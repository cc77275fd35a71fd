//! Readings: `station,x_mm,y_mm,gap_mm,u_mm`.

use std::collections::HashMap;

use skimgauge_model::{Point, Station};
use skimgauge_quantity::Mm;

use crate::against::{Against, READING_SLACK};
use crate::error::{Problem, TableError, shortened};
use crate::grid::{Grid, Row, name};
use crate::header::{Column, Kind};

/// The header of a table of readings.
pub const READINGS: &str = "station,x_mm,y_mm,gap_mm,u_mm";

/// No board is larger, mm.
pub(crate) const LARGEST_POSITION_MM: f64 = 20_000.0;
/// No gap is larger, mm.
pub(crate) const LARGEST_GAP_MM: f64 = 500.0;
/// No take is less certain, mm.
pub(crate) const LARGEST_U_MM: f64 = 50.0;
/// No reading of a gap is surer.
pub(crate) const LEAST_U: Mm = Mm(0.001);
/// Stations nearer than this are one place: a head is not clipped more exactly.
const SAME_PLACE: Mm = Mm(5.0);
/// A named reading farther than this from the job's station of that name is pointed out.
const SAME_STATION: Mm = Mm(10.0);

/// One farther than this was not taken there.
const ANOTHER_STATION: Mm = Mm(150.0);

const STATION: usize = 0;
const X: usize = 1;
const Y: usize = 2;
const GAP: usize = 3;
const U: usize = 4;

static KIND: Kind = Kind {
    header: READINGS,
    may_be_left_out: " (station and u_mm may be left out)",
    what: "readings",
    columns: &[
        Column::text("station", false),
        Column::number("x_mm", "x", LARGEST_POSITION_MM, true),
        Column::number("y_mm", "y", LARGEST_POSITION_MM, true),
        Column::number("gap_mm", "gap", LARGEST_GAP_MM, true),
        Column::number("u_mm", "u", LARGEST_U_MM, false),
    ],
};

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Line in the text, from one.
    pub line: usize,
    /// The station's name, where it has one; as the job has it, where the job has it.
    pub station: Option<String>,
    /// Where it was taken.
    pub at: Point,
    /// The gap.
    pub gap: Mm,
    /// Its standard uncertainty, where it is given.
    pub u: Option<Mm>,
}

/// A reading that bears the name of a station of the job and was taken at another place.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// Line in the text, from one.
    pub line: usize,
    /// The station's name.
    pub station: String,
    /// How far from where the job has it.
    pub apart: Mm,
}

/// A table of readings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Readings {
    /// Its rows.
    pub rows: Vec<Reading>,
    /// Lines left out because they say exactly what another says, after that one: a copy is no
    /// second seat.
    pub repeated: Vec<(usize, usize)>,
    /// Readings more than 10 mm from where the job has their station. The caller asks.
    pub moved: Vec<Moved>,
}

/// Reads a table of readings.
///
/// # Errors
/// The first [`TableError`], with its line.
pub fn readings(bytes: &[u8], against: &Against<'_>) -> Result<Readings, TableError> {
    let grid = Grid::read(bytes, &KIND)?;
    let mut readings = Readings::default();
    let mut known = Known::default();
    let mut copies = Copies::default();
    let stations: HashMap<&str, &Station> =
        against.stations.iter().map(|station| (station.name.as_str(), station)).collect();
    grid.each(|row| {
        let reading = reading(row, against)?;
        if let Some(first) = copies.first_of(&reading) {
            readings.repeated.push((first, row.line));
            return Ok(());
        }
        known.check(&readings.rows, &reading).map_err(|problem| problem.at(row.line))?;
        if let Some(station) = reading.station.as_deref().and_then(|name| stations.get(name)) {
            let apart = station.at.apart(reading.at);
            if apart > ANOTHER_STATION {
                return Err(elsewhere(station, reading.at, apart).at(row.line).suggest(
                    "is a sign wrong, or are these inches? Another place has a name of its own"
                        .to_owned(),
                ));
            }
            if apart > SAME_STATION {
                readings.moved.push(Moved { line: row.line, station: station.name.clone(), apart });
            }
        }
        readings.rows.push(reading);
        Ok(())
    })?;
    Ok(readings)
}

fn elsewhere(station: &Station, at: Point, apart: Mm) -> Problem {
    Problem::StationElsewhere {
        name: station.name.clone(),
        x_mm: at.x.0,
        y_mm: at.y.0,
        apart_mm: apart.0,
        job_mm: (station.at.x.0, station.at.y.0),
    }
}

fn reading(row: Row<'_>, against: &Against<'_>) -> Result<Reading, TableError> {
    let at = Point { x: Mm(row.number(X)?), y: Mm(row.number(Y)?) };
    let gap = Mm(row.number(GAP)?);
    let u = row.number_if(U)?.map(Mm);
    if u.is_some_and(|u| u < LEAST_U) {
        let cell = row.cell(U);
        return Err(Problem::Uncertainty { found: shortened(cell.text) }
            .at(row.line)
            .column(cell.number));
    }
    let station = match name(row, STATION)? {
        Some(_) => Some(against.name(row.cell(STATION))?),
        None => None,
    };
    against.check_place(at, row.line, READING_SLACK)?;
    against.check_gap(gap, row.cell(GAP))?;
    Ok(Reading { line: row.line, station, at, gap, u })
}

/// Names and places seen, each with the row that has it first.
#[derive(Default)]
struct Known {
    by_name: HashMap<String, usize>,
    by_place: HashMap<(u64, u64), usize>,
}

impl Known {
    fn check(&mut self, rows: &[Reading], new: &Reading) -> Result<(), Problem> {
        if let Some(name) = &new.station {
            match self.by_name.get(name) {
                Some(&at) => {
                    let first = &rows[at];
                    let apart = first.at.apart(new.at);
                    if apart > SAME_PLACE {
                        let name = name.clone();
                        return Err(Problem::NameAtTwoPlaces {
                            name,
                            first: first.line,
                            apart_mm: apart.0,
                        });
                    }
                }
                None => {
                    self.by_name.insert(name.clone(), rows.len());
                }
            }
        }
        let place = (new.at.x.0.to_bits(), new.at.y.0.to_bits());
        let Some(&at) = self.by_place.get(&place) else {
            self.by_place.insert(place, rows.len());
            return Ok(());
        };
        let first = &rows[at];
        if let (Some(name), Some(other)) = (&new.station, &first.station)
            && name != other
        {
            return Err(Problem::TwoNamesAtOnePlace {
                name: name.clone(),
                other: other.clone(),
                first: first.line,
            });
        }
        Ok(())
    }
}

/// All the numbers of a reading, bit by bit: place, gap, uncertainty.
type Numbers = ([u64; 3], Option<u64>);

/// Readings seen, each by all that it says, with the line that says it first.
#[derive(Default)]
pub(crate) struct Copies {
    seen: HashMap<Numbers, (usize, Option<String>)>,
}

impl Copies {
    /// Of these.
    pub(crate) fn of(rows: &[Reading]) -> Self {
        let mut copies = Self::default();
        rows.iter().for_each(|row| {
            copies.first_of(row);
        });
        copies
    }

    /// The line that says exactly the same. A name that was left out is no other name.
    pub(crate) fn known(&self, new: &Reading) -> Option<usize> {
        let (line, name) = self.seen.get(&Self::key(new))?;
        let other = name.as_ref().zip(new.station.as_ref()).is_some_and(|(a, b)| a != b);
        (!other).then_some(*line)
    }

    /// The same; what is not known yet is kept for the next.
    pub(crate) fn first_of(&mut self, new: &Reading) -> Option<usize> {
        let known = self.known(new);
        self.seen.entry(Self::key(new)).or_insert_with(|| (new.line, new.station.clone()));
        known
    }

    fn key(of: &Reading) -> Numbers {
        // A zero with a sign is the same number.
        let bits = |of: Mm| (of.0 + 0.0).to_bits();
        ([of.at.x, of.at.y, of.gap].map(bits), of.u.map(bits))
    }
}
