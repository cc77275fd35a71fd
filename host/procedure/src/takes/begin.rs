//! What a walk is begun with.

use super::resumed::Resumed;
use skimgauge_jobfile::Job;
use skimgauge_metrology::measure::{At, Material};
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::prior::Expected;
use skimgauge_shared::calibration::{Calibration, Date};

/// What a walk is begun with.
#[derive(Debug, Clone)]
pub struct Begin {
    /// The job.
    pub job: Job,
    /// The board as far as it is known.
    pub board: Board,
    /// Today.
    pub today: Date,
    /// The head's port, for what is said of it.
    pub port: String,
    /// A head answers, and is asked who it is before a take of it is kept. A recording answers
    /// nothing.
    pub asks_who: bool,
    /// Where the head was last known to stand, in an earlier run.
    pub stood: Option<At>,
    /// The head's cue sounds.
    pub sound: bool,
    /// End once every place has a take.
    pub until_taken: bool,
    /// What the record has of the job, to go on from.
    pub resumed: Option<Resumed>,
    /// Constants that were found, or found to hold, on this job's board; of the same constants the
    /// later counts.
    pub zeroed_here: Vec<ZeroedHere>,
    /// With the emitter off a line of light stayed, by the record, and nobody has seen it gone since.
    pub line_stays: bool,
}

/// Constants of a head that belong to this job's board.
#[derive(Debug, Clone, PartialEq)]
pub struct ZeroedHere {
    /// The constants.
    pub constants: Calibration,
    /// What is still open of the board's material.
    pub material: Material,
    /// How the gap scattered from seat to seat when they were found, each from the mean, mm.
    pub seats_mm: Vec<f64>,
}

impl Begin {
    /// At a head, for as long as the user likes.
    pub fn new(job: Job, board: Board, today: Date, port: &str) -> Self {
        Self {
            job,
            board,
            today,
            port: port.to_owned(),
            asks_who: true,
            stood: None,
            sound: true,
            until_taken: false,
            resumed: None,
            zeroed_here: Vec::new(),
            line_stays: false,
        }
    }

    /// What is to be reckoned with on the board where nobody reads it; `None` where it is taken to
    /// be flat.
    pub(crate) fn expected(&self) -> Option<Expected> {
        super::whole::expected(&self.job, &self.board)
    }
}
