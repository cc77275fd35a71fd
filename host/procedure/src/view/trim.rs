//! The guided trim.

use super::board::{Field, Spot};
use crate::output::Message;
use serde::Serialize;
use skimgauge_model::Point;
use skimgauge_quantity::{Mm, Sentence, Turns};

/// What the trim wants done now.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "do", rename_all = "kebab-case")]
pub enum Advice {
    /// Take at this station.
    Take {
        /// Its name.
        station: String,
        /// Its place in the walk.
        #[serde(skip)]
        index: usize,
    },
    /// Hold the head on the emitter and take its tilt.
    TakeEmitter,
    /// Say the word, and the turning begins.
    Begin,
    /// Clip the head on here and say so.
    Clip {
        /// Its name.
        station: String,
        /// Its place in the walk.
        #[serde(skip)]
        index: usize,
    },
    /// Turn, and watch the live gap.
    Turn {
        /// The adjuster's name.
        adjuster: String,
        /// Clockwise turns still to make, about; negative is anticlockwise.
        turns: Turns,
        /// The live gap to come to; `None` where the turn is counted.
        #[serde(rename = "dial_to_mm")]
        dial_to: Option<Mm>,
    },
    /// The readings came back the same and contradict one another still: survey the board.
    Survey,
    /// Nothing more.
    #[serde(rename = "nothing")]
    Over,
}

/// The guided trim.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrimView {
    /// Which round, from one.
    pub round: u32,
    /// The last that there can be: what the rounds of turns before it left is read in it, and
    /// nothing is turned.
    pub last_round: u32,
    /// What to do now, as data.
    pub advice: Advice,
    /// The same in one line.
    pub says: Sentence,
    /// The emitter's adjusters, in the job's order.
    pub adjusters: Vec<AdjusterView>,
    /// The turn being made.
    pub turn: Option<TurnView>,
    /// This round's turns as its takes ask for them, until the first of them is made.
    pub planned: Vec<PlannedView>,
    /// Turns still planned in this round, the present one included.
    pub turns_left: usize,
    /// The gaps over the board as best known now; `None` before there is a plane, and while the
    /// takes contradict one another.
    pub field: Option<Field>,
    /// Gaps to be written in. Where the takes contradict one another, the gaps read.
    pub spots: Vec<Spot>,
    /// About so long until the verdict as left, s: takes, walks, clips, turns, and the chance of
    /// another round with them; `None` where nothing is left to do.
    pub seconds_left: Option<f64>,
    /// The same in words: `about 4 minutes`.
    pub time_left: Option<Sentence>,
    /// Whether any setting passes, where that is not sure.
    pub feasibility: Option<Sentence>,
    /// What the trim said, the newest last.
    pub said: Vec<Message>,
}

/// An adjuster.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AdjusterView {
    /// Its name.
    pub name: String,
    /// Where it sits.
    pub at: Point,
    /// What has been turned, clockwise positive.
    pub made: Turns,
    /// What one clockwise turn does to the light there, as now known: by the job until something
    /// was learnt.
    #[serde(rename = "mm_per_turn")]
    pub per_turn: Mm,
    /// It is to be turned now.
    pub now: bool,
}

/// A turn that is planned.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlannedView {
    /// The adjuster's name.
    pub adjuster: String,
    /// Clockwise positive.
    pub turns: Turns,
}

/// A turn being made.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TurnView {
    /// The adjuster, by its place in the job.
    pub adjuster: usize,
    /// Its name.
    pub name: String,
    /// As advised, clockwise positive.
    pub turns: Turns,
    /// Still to make, by the live gap, clockwise positive; all of a counted one.
    pub left: Turns,
    /// Where and to what it is watched; `None` where it is counted.
    pub watched: Option<WatchedView>,
    /// Another adjuster was turned in its place, and is turned back first.
    pub back: bool,
    /// The gap goes the wrong way, and it was said.
    pub wrong_way: bool,
}

/// How a turn is watched.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct WatchedView {
    /// The station, by its place in the walk.
    pub station: usize,
    /// The live gap before it.
    pub from: Mm,
    /// The live gap to come to.
    pub to: Mm,
    /// To within this.
    pub within: Mm,
    /// That lies outside the band, and is meant.
    pub outside_band: bool,
}
