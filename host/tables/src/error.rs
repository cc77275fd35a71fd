//! What can be wrong with a table, and where.

use skimgauge_model::TurnNoticed;
use skimgauge_quantity::steers;
use thiserror::Error;

/// What is wrong with a table, where, and what to do.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("line {line}: {problem}{}", .suggestion.as_ref().map(|suggestion| format!("; {suggestion}")).unwrap_or_default())]
pub struct TableError {
    /// Line in the text, from one.
    pub line: usize,
    /// Column, from one, where it is one column's value.
    pub column: Option<usize>,
    /// What is wrong there.
    pub problem: Problem,
    /// What may have been meant, or what to do.
    pub suggestion: Option<String>,
}

/// What can be wrong.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Problem {
    /// A spreadsheet's own file, or another that is no text.
    #[error("this is {found}, not a table of text")]
    NotText {
        /// What it is.
        found: &'static str,
    },
    /// Bytes that are no text in UTF-8.
    #[error("this is not UTF-8 text")]
    NotUtf8,
    /// Longer than any table of this kind.
    #[error("the table is longer than {most} {unit}")]
    TooLong {
        /// The limit.
        most: usize,
        /// `MiB` or `rows`.
        unit: &'static str,
    },
    /// Nothing at all.
    #[error("the table is empty; it begins with {header}")]
    Empty {
        /// The header that is wanted.
        header: &'static str,
    },
    /// Nothing under the header.
    #[error("there are no {what} under the header")]
    NoRows {
        /// `readings` or `points`.
        what: &'static str,
    },
    /// Another header, or none.
    #[error("the header is \"{found}\"; it must be \"{header}\"{may_be_left_out}, in millimetres")]
    Header {
        /// As found, shortened.
        found: String,
        /// The header that is wanted.
        header: &'static str,
        /// Which columns may be left out, in words.
        may_be_left_out: &'static str,
    },
    /// A column in another unit.
    #[error("column \"{found}\" should be \"{wanted}\"")]
    Unit {
        /// As found.
        found: String,
        /// What belongs there.
        wanted: &'static str,
    },
    /// A column that this table does not have.
    #[error("column \"{found}\" is not known here")]
    Column {
        /// As found.
        found: String,
    },
    /// A column that is there twice.
    #[error("column \"{found}\" is there twice")]
    ColumnTwice {
        /// As found.
        found: String,
    },
    /// Too few or too many values.
    #[error("{found} values where the header has {wanted}")]
    Fields {
        /// Values on the line.
        found: usize,
        /// Columns of the header.
        wanted: usize,
    },
    /// A quote that does not end, or ends in the middle of a value.
    #[error("a quote opens and does not close on this line")]
    Quote,
    /// Not a number.
    #[error("{column} is \"{found}\", which is not a number in plain digits")]
    NotANumber {
        /// The column.
        column: &'static str,
        /// As found, shortened.
        found: String,
    },
    /// A NaN or an infinity.
    #[error("{column} is {found}, which is not a finite number")]
    NotFinite {
        /// The column.
        column: &'static str,
        /// As found, shortened.
        found: String,
    },
    /// A comma or a point that may be for decimals or for thousands, and nothing in the table that
    /// tells.
    #[error("{column} is \"{found}\", which could be {} or {}", found.replace(',', "."), found.replace([',', '.'], ""))]
    Ambiguous {
        /// The column.
        column: &'static str,
        /// As found.
        found: String,
    },
    /// A decimal comma here and a point elsewhere.
    #[error(
        "{column} is \"{found}\", but line {other_line} has \"{other}\": one sign for decimals in the whole table"
    )]
    TwoSigns {
        /// The column.
        column: &'static str,
        /// As found.
        found: String,
        /// As found in the other line.
        other: String,
        /// The other line.
        other_line: usize,
    },
    /// Thousands set apart.
    #[error("{column} is \"{found}\", with its thousands set apart")]
    Grouped {
        /// The column.
        column: &'static str,
        /// As found.
        found: String,
    },
    /// An uncertainty that no reading has.
    #[error(
        "u_mm is {found}; an uncertainty must be 0.001 mm or more (leave it empty where it is not known)"
    )]
    Uncertainty {
        /// As found.
        found: String,
    },
    /// A round that is no number of one.
    #[error("round is {found}; rounds are numbered 1, 2, 3")]
    RoundNumber {
        /// As found.
        found: String,
    },
    /// A round that was over already.
    #[error("round {found} comes after round {last}; rounds go up from line to line")]
    RoundBack {
        /// As found.
        found: u32,
        /// The one before.
        last: u32,
    },
    /// Readings of a round come before its turns.
    #[error(
        "a reading after a turn of the same round; readings after a turn are of the next round"
    )]
    ReadingAfterTurn,
    /// A row that is nowhere.
    #[error("neither a station of the job nor x_mm and y_mm")]
    NoPlace,
    /// An adjuster that the job does not have.
    #[error("adjuster \"{found}\" is not in the job, which has {known}")]
    Adjuster {
        /// As found, shortened.
        found: String,
        /// Those of the job.
        known: String,
    },
    /// A turn of which nothing is said.
    #[error("neither turns nor before_mm and after_mm: how far was it turned?")]
    NoTurn,
    /// What was noticed of a turn is none of what can be.
    #[error(
        "noticed is \"{found}\"; expected \"{}\", \"{}\", or nothing",
        TurnNoticed::OtherWay.word(),
        TurnNoticed::Moved.word()
    )]
    Noticed {
        /// As found.
        found: String,
    },
    /// Larger than anything that can be measured here.
    #[error("{column} is {found} mm, more than the {largest} mm that can be")]
    TooLarge {
        /// The column.
        column: &'static str,
        /// As found.
        found: String,
        /// The largest that is taken.
        largest: f64,
    },
    /// A gap that the head cannot read.
    #[error("gap_mm is {found}, and the head reads {low} to {high} mm")]
    GapRange {
        /// As found.
        found: String,
        /// The head's smallest gap.
        low: f64,
        /// The head's largest gap.
        high: f64,
    },
    /// A place that is not on the image.
    #[error("x {x_mm}, y {y_mm} lies {off_mm:.0} mm off the image")]
    OffImage {
        /// As found.
        x_mm: f64,
        /// As found.
        y_mm: f64,
        /// How far.
        off_mm: f64,
    },
    /// A name that is too long, or has in it what no name has.
    #[error("the name \"{found}\" {wrong}")]
    Name {
        /// As found, shortened.
        found: String,
        /// What is wrong with it.
        wrong: &'static str,
    },
    /// A name that is nearly that of a station of the job.
    #[error("station \"{found}\" is not in the job, which has \"{known}\"")]
    NearName {
        /// As found.
        found: String,
        /// The job's.
        known: String,
    },
    /// One name at two places.
    #[error(
        "station {name} is {apart_mm:.0} mm from where line {first} has it: one of the two is wrong"
    )]
    NameAtTwoPlaces {
        /// The name.
        name: String,
        /// The line that has it first.
        first: usize,
        /// Distance, mm.
        apart_mm: f64,
    },
    /// A station's name at quite another place than the job has it.
    #[error(
        "{name} is given at x {x_mm}, y {y_mm}, and is {apart_mm:.0} mm away by the job: x {:.0}, y {:.0}",
        job_mm.0,
        job_mm.1
    )]
    StationElsewhere {
        /// The name.
        name: String,
        /// As found.
        x_mm: f64,
        /// As found.
        y_mm: f64,
        /// Distance, mm.
        apart_mm: f64,
        /// Where the job has it, mm.
        job_mm: (f64, f64),
    },
    /// Two names at one place.
    #[error(
        "this is the place that line {first} calls {other}, here it is called {name}: one of the two is wrong"
    )]
    TwoNamesAtOnePlace {
        /// The name here.
        name: String,
        /// The name there.
        other: String,
        /// The line there.
        first: usize,
    },
    /// Two heights at one place.
    #[error("this place is surveyed in line {first} already: leave one of them out")]
    PlaceTwice {
        /// The line that has it first.
        first: usize,
    },
}

impl Problem {
    /// With its line.
    pub(crate) fn at(self, line: usize) -> TableError {
        TableError { line, column: None, problem: self, suggestion: None }
    }
}

impl TableError {
    /// With its column, from one.
    pub(crate) fn column(self, column: usize) -> Self {
        Self { column: Some(column), ..self }
    }

    /// With what to do.
    pub(crate) fn suggest(self, suggestion: impl Into<String>) -> Self {
        Self { suggestion: Some(suggestion.into()), ..self }
    }
}

/// Long enough to recognise, short enough for a message, and nothing in it that steers the screen.
pub(crate) fn shortened(text: &str) -> String {
    const MOST: usize = 60;
    let mut short: String =
        text.chars().map(|c| if steers(c) { ' ' } else { c }).take(MOST).collect();
    if text.chars().nth(MOST).is_some() {
        short.push_str("...");
    }
    short
}
