//! What a page shows, as plain data: texts finished in the units asked for, places in millimetres
//! of the image's frame (origin in the middle of the top edge, x right, y up). One form for board
//! and phone; the scripts in `files/` draw it and work nothing out.

use crate::server::State;
use serde::Serialize;
use skimgauge_model::{Image, Verdict};

/// Everything that a page shows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shown {
    /// Sent back with every word.
    pub number: u64,
    /// What is worked on.
    pub title: String,
    /// `mm` or `in`.
    pub units: &'static str,
    /// What the board page is drawn to; `None`: nothing has a place.
    pub image: Option<Image>,
    /// How far the user is, a word: `ready`, `hold`, `turn`, `lost`.
    pub state: &'static str,
    /// The same for people, at most two words.
    pub state_says: &'static str,
    /// What to do now.
    pub instruction: String,
    /// What waits for an answer.
    pub question: Option<Question>,
    /// What was said last.
    pub message: Option<Said>,
    /// What stands in the way, with what to do.
    pub trouble: Option<Said>,
    /// The live gap.
    pub gap: Number,
    /// Level and lean, where they matter.
    pub tilts: Vec<Number>,
    /// The gap to come to.
    pub aim: Option<Aim>,
    /// Where the user is.
    pub place: Option<Place>,
    /// The stations of the walk.
    pub stations: Vec<Station>,
    /// The adjusters, as seen from the room.
    pub adjusters: Vec<Adjuster>,
    /// Gaps written in where they are.
    pub spots: Vec<Spot>,
    /// The gap over the board.
    pub field: Option<Field>,
    /// The verdict over everything.
    pub whole: Option<Whole>,
    /// What else there is to know, a line each.
    pub lines: Vec<String>,
    /// What can be said now, the most important first.
    pub words: Vec<Word>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// What is to be heard.
    pub tone: Option<Tone>,
    /// The lengths that the tape wants; empty where it wants none.
    pub lengths: Vec<Length>,
    /// Points that light up one after another.
    pub marks: Vec<Mark>,
}

/// A length that the tape wants.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Length {
    /// As it is sent: `top`.
    pub name: String,
    /// For people: `top side`.
    pub called: String,
    /// From here, mm.
    pub from: [f64; 2],
    /// To here, mm.
    pub to: [f64; 2],
    /// What was taped.
    pub taped: Option<String>,
    /// It is to be taped now.
    pub now: bool,
}

/// A point to be marked on the board.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mark {
    /// What it marks.
    pub name: String,
    /// Where, mm; it may lie beyond the image.
    pub at: [f64; 2],
    /// It is to be marked now.
    pub now: bool,
    /// It is marked.
    pub done: bool,
}

/// A verdict with its word and its shape.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Judged {
    /// `within`, `outside`, `unsure`.
    pub is: Verdict,
    /// For people: `too close to call`.
    pub says: &'static str,
    /// Told apart without colour.
    pub shape: char,
}

impl Shown {
    /// Work without a head and without anything to say yet.
    pub fn without_head(number: u64, title: String, units: &'static str) -> Self {
        Self {
            number,
            title,
            units,
            image: None,
            state: "ready",
            state_says: "ready",
            instruction: String::new(),
            question: None,
            message: None,
            trouble: None,
            gap: Number {
                name: "gap",
                digits: "–".to_owned(),
                unit: "",
                is: "absent",
                why: Some("no head is needed"),
                verdict: None,
            },
            tilts: Vec::new(),
            aim: None,
            place: None,
            stations: Vec::new(),
            adjusters: Vec::new(),
            spots: Vec::new(),
            field: None,
            whole: None,
            lines: Vec::new(),
            words: Vec::new(),
            cautions: Vec::new(),
            tone: None,
            lengths: Vec::new(),
            marks: Vec::new(),
        }
    }
}

impl From<Verdict> for Judged {
    fn from(is: Verdict) -> Self {
        Self { is, says: is.shown(), shape: is.shape() }
    }
}

/// A live number.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Number {
    /// What it is: `gap`.
    pub name: &'static str,
    /// Its digits; a dash where there is none.
    pub digits: String,
    /// Its unit.
    pub unit: &'static str,
    /// `good`, `doubtful`, `absent`.
    pub is: &'static str,
    /// Why it is not good.
    pub why: Option<&'static str>,
    /// Against its band; only a good one has one.
    pub verdict: Option<Judged>,
}

/// What waits for an answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Question {
    /// What is asked.
    pub asks: String,
    /// The word that means yes, as it is sent.
    pub yes: serde_json::Value,
}

/// Something said.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Said {
    /// What.
    pub says: String,
    /// Bad news?
    pub bad: bool,
}

/// The gap to come to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Aim {
    /// That gap.
    pub to: String,
    /// What is left, without its sign; `None` without a good gap.
    pub to_go: Option<String>,
    /// What is left, mm, signed: positive where the gap is to grow.
    pub to_go_mm: Option<f64>,
    /// The dial is closed within this, mm.
    pub within_mm: f64,
    /// How much of the way is made, from 0 to 1.
    pub share: f64,
    /// It is there.
    pub there: bool,
}

/// Where the user is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Place {
    /// As it is called.
    pub called: String,
    /// Where it is on the board; `None`: on the emitter.
    pub at: Option<[f64; 2]>,
    /// Where the head still hangs, if not here.
    pub still_at: Option<String>,
}

/// A station.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Station {
    /// Its name.
    pub name: String,
    /// Where, mm.
    pub at: [f64; 2],
    /// Its place in the walk.
    pub index: usize,
    /// The user is here.
    pub here: bool,
    /// The gap taken.
    pub gap: Option<String>,
    /// What may be said of it.
    pub verdict: Option<Judged>,
}

/// An adjuster.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Adjuster {
    /// Its name.
    pub name: String,
    /// Where, mm.
    pub at: [f64; 2],
    /// It is to be turned now.
    pub turn: Option<Turn>,
}

/// A turn to be made.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Turn {
    /// As seen from the adjuster's head.
    pub clockwise: bool,
    /// `half a turn clockwise`.
    pub says: String,
    /// Still to make, turns, clockwise positive.
    pub left: f64,
    /// Of so many.
    pub of: f64,
}

/// A gap written in.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spot {
    /// Where, mm.
    pub at: [f64; 2],
    /// The gap; `~` before one that was worked out and not read.
    pub gap: String,
    /// What may be said of it; `None` where nobody looked.
    pub verdict: Option<Judged>,
    /// It limits the verdict.
    pub worst: bool,
}

/// Gaps on a grid over the image, row by row from the top left corner, corners and edges included.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Field {
    /// Gaps in a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// mm, to the hundredth; `None`: not known.
    pub gaps_mm: Vec<Option<f64>>,
    /// Lines of equal gap, in their order.
    pub levels: Vec<Level>,
}

/// A line of equal gap.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Level {
    /// mm.
    pub gap_mm: f64,
    /// As it is written.
    pub says: String,
    /// An end of the band.
    pub limit: bool,
}

/// The verdict over everything.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Whole {
    /// The verdict.
    pub verdict: Judged,
    /// With what it speaks of.
    pub headline: String,
    /// Why it is not within.
    pub because: String,
}

/// A word that can be said.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Word {
    /// As it is sent.
    pub word: serde_json::Value,
    /// What it does: `take bottom left`.
    pub does: String,
}

/// What is to be heard: how far off something is, and whether it is there. Where there is nothing
/// good to go by there is none, and silence is never good.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Tone {
    /// How far off, mm; positive where the gap is too large.
    pub off_mm: f64,
    /// `off`; `within` its band; `stop`: it is what it should be.
    pub is: &'static str,
}

impl State {
    /// The same state in both units.
    ///
    /// # Errors
    /// Where it cannot be written as JSON: a number in it is none.
    pub fn of(mm: &Shown, inch: &Shown) -> serde_json::Result<Self> {
        Ok(Self {
            number: mm.number,
            mm: serde_json::to_vec(mm)?.into(),
            inch: serde_json::to_vec(inch)?.into(),
        })
    }
}
