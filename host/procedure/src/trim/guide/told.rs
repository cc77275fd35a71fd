//! What the guide says: to the user, and for the record.

use skimgauge_metrology::plane::board::Board;
use skimgauge_model::TurnNoticed;
use skimgauge_quantity::Sentence;

/// What the user should do now.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Advice {
    /// Take at this station.
    Take {
        /// By its place in the job.
        station: usize,
    },
    /// Hold the head on the emitter and take its tilt.
    TakeEmitter,
    /// Say the word, and the turning begins.
    Begin,
    /// Clip the head on here and say so.
    Clip {
        /// By its place in the job.
        station: usize,
    },
    /// Turn.
    Turn {
        /// By its place in the job.
        adjuster: usize,
        /// Clockwise turns still to make, about; negative is anticlockwise.
        turns: f64,
        /// The live gap to come to, mm; `None` where it is counted.
        dial_to_mm: Option<f64>,
    },
    /// The readings came back the same and contradict one another still: the board is not what was
    /// assumed.
    Survey,
    /// Nothing more.
    Over,
}

/// What came of it: to be kept, or said.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Told {
    /// A turn is advised.
    Advised {
        /// By its place in the job.
        adjuster: usize,
        /// Clockwise turns.
        turns: f64,
        /// The station watched, by its place in the job.
        station: Option<usize>,
        /// The gap to come to, mm.
        target_gap_mm: Option<f64>,
    },
    /// A turn was made.
    Observed {
        /// By its place in the job.
        adjuster: usize,
        /// Clockwise turns, if anyone counted.
        turns: Option<f64>,
        /// The station watched, by its place in the job.
        station: Option<usize>,
        /// The gap before, mm.
        before_mm: Option<f64>,
        /// The gap after, mm.
        after_mm: Option<f64>,
        /// The gap advised, mm.
        predicted_mm: Option<f64>,
        /// What was noticed.
        noticed: Vec<TurnNoticed>,
    },
    /// What was taken at a station was not read there.
    Disproved {
        /// By its place in the job.
        station: usize,
    },
    /// The gap is, twice, another than takes and turns tell: something was moved.
    ReadsOtherwise,
    /// The round's takes are judged as they stand.
    Judged,
    /// A new round begins: former takes are of another plane.
    NewRound,
    /// The board is rougher than assumed.
    Believed(Box<Board>),
    /// It is over.
    Over,
    /// For the user.
    Say {
        /// What.
        says: Sentence,
        /// Bad news?
        bad: bool,
    },
    /// What was said for the user is not so any more.
    Unsaid(Sentence),
    /// For the user, while this turn lasts.
    Hint {
        /// What.
        says: Sentence,
        /// Bad news?
        bad: bool,
    },
}
