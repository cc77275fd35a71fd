//! Tables of readings and of surveyed points, as a person types them or a spreadsheet writes them.
//! Pure: bytes in, rows out.
//!
//! Readings: `station,x_mm,y_mm,gap_mm,u_mm`. The station's name and the uncertainty may be left
//! out, as columns or in single rows. A station that appears again at its own place is a further
//! take; a row that says exactly what another says is a copy and left out. Surveyed points: `x_mm,y_mm,z_mm`, z toward the viewer. Both in millimetres, in the
//! image's frame: from the middle of its top edge, x to the right, y up. Earlier rounds:
//! [`ROUNDS`], a reading or a turn a row.
//!
//! Taken as they come: columns in any order, their names in small or large letters, with `_mm`,
//! `[mm]`, `(mm)` or no unit; commas, semicolons or tabs between values (and a first line `sep=;`);
//! quotes; a point or a comma for decimals, decided once for the whole table; a typographic minus;
//! empty cells behind the last column, empty rows; lines that begin with `#`; any line ends; UTF-8
//! with or without its mark, UTF-16.
//!
//! Refused, with the line, the column and what to do: what could mean two things (`1,265` alone),
//! thousands set apart, another unit, an unknown or repeated column, a quote that does not close,
//! what is no number or cannot be one. Held against the job ([`Against`]): a place off its image, a
//! gap that its head cannot read, a name that is nearly one of its stations'.
//!
//! Limits: [`LARGEST_BYTES`], [`MOST_ROWS`], [`LONGEST_NAME`].

mod against;
mod decimals;
mod encoding;
mod error;
mod grid;
mod header;
mod readings;
mod rounds;
mod survey;

pub use against::Against;
pub use error::{Problem, TableError};
pub use readings::{Moved, READINGS, Reading, Readings, readings};
pub use rounds::{ROUNDS, Round, Turned, leave_out_copies, rounds};
pub use survey::{SURVEY, SURVEY_PRACTISED, Surveyed, survey, write_survey};

/// Largest table, bytes.
pub const LARGEST_BYTES: usize = 64 << 20;

/// Most rows under the header.
pub const MOST_ROWS: usize = 1_000_000;

/// Longest name of a station, characters. A job file allows fewer.
pub const LONGEST_NAME: usize = 60;
