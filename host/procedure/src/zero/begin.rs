//! What a zeroing begins with, and what it comes to.

use skimgauge_metrology::budget::Budget;
use skimgauge_metrology::measure::Limits;
use skimgauge_metrology::zero::{Check, Checked, Session};
use skimgauge_quantity::Sentence;
use skimgauge_session::HeadIs;
use skimgauge_shared::calibration::{Calibration, Date};

/// What a zeroing begins with.
#[derive(Debug, Clone)]
pub struct Begin {
    /// The head, which is up.
    pub head: Box<HeadIs>,
    /// Its port, as it is named to the user.
    pub port: String,
    /// What the head is held against.
    pub limits: Limits,
    /// The day that new constants carry.
    pub today: Date,
    /// Who zeroes.
    pub by: String,
    /// What was read so far, and the gauge.
    pub session: Session,
    /// It was put aside before.
    pub going_on: bool,
    /// How many times the head is seated on the board before the gauge.
    pub seats: usize,
    /// How many times it is lifted there.
    pub lifts: usize,
    /// Where the zeroing is put aside, as it is named to the user.
    pub put_aside: String,
    /// The record, as it is named to the user.
    pub record: String,
    /// Check instead that the constants in the head hold.
    pub check: bool,
    /// Nobody is at the head to press its button.
    pub nobody_at_head: bool,
}

/// New constants that the head has read back, for the record.
#[derive(Debug, Clone)]
pub struct Zeroed {
    /// The head as it was before.
    pub head: Box<HeadIs>,
    /// The constants before.
    pub before: Calibration,
    /// The constants now.
    pub after: Calibration,
    /// What makes the zero uncertain.
    pub budget: Option<Budget>,
    /// How the gap scattered from seat to seat on the board: each less the mean of all, mm.
    pub seats_mm: Vec<f64>,
    /// The gauge and how it was lit, with uncertainties.
    pub reference: String,
}

/// A check of the constants in a head, for the record.
#[derive(Debug, Clone)]
pub struct CheckedZero {
    /// The head, with its constants.
    pub head: Box<HeadIs>,
    /// What was found.
    pub check: Check,
    /// The gauge and how it was lit.
    pub reference: String,
}

/// How a zeroing ended.
#[derive(Debug, Clone, PartialEq)]
pub enum Ended {
    /// New constants are in the head and in the record.
    Written,
    /// They are in the head, and not in the record.
    NotRecorded,
    /// The user had enough; what was read is kept, and nothing was written.
    PutAside,
    /// A check came to this.
    Checked(Checked),
    /// It could not go on, and why.
    Failed(Sentence),
}
