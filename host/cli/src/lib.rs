//! The host: live gap and tilt of a touch plane, judged against the job, kept in its record.
//!
//! Values flow one way: [`head`] → readings → takes → plane → verdict (in `skimgauge-metrology`,
//! pure) → [`console`] and the record (`skimgauge-record`). [`command`] has one file a command;
//! the procedures at the board are machines of `skimgauge-procedure`, and [`shell`] runs them.

// First of all: what every module prints goes through one place, which lets nothing steer the
// terminal.
#[macro_use]
pub mod console;

pub mod command;
pub mod head;
pub mod jobs;
pub mod keeping;
pub mod lengths;
pub mod offline;
pub mod outcome;
pub mod page;
pub mod practice;
pub mod report;
pub mod shape;
pub mod shell;
pub mod steps;
pub mod storing;
pub mod survey;
pub mod tables;
pub mod written;
