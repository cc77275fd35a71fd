//! Stations with their takes, the emitter, and the verdict over everything.

use serde::Serialize;
use skimgauge_metrology::measure::Came;
use skimgauge_metrology::verdict::JudgedAt;
use skimgauge_model::{Place, Point, Verdict};
use skimgauge_quantity::{Deg, Mm, Sentence, say};

use crate::word::Stop;

/// Where the user is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlaceView {
    /// The place: a station with its point, or the emitter.
    pub place: Place,
    /// Where it is in the walk.
    pub stop: Stop,
    /// Where the head stands as far as anybody saw, where that is not here.
    pub still_at: Option<String>,
    /// Where something is to be done instead, where the user strayed from it.
    pub wanted: Option<Stop>,
}

/// A station of the walk.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StationView {
    /// Its name.
    pub name: String,
    /// Where it is.
    pub at: Point,
    /// Its place in the walk.
    pub index: usize,
    /// The user is here.
    pub here: bool,
    /// Its take.
    pub taken: Option<TakenView>,
}

/// What stands at a station.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TakenView {
    /// The mean over all seats.
    pub gap: Mm,
    /// Its standard uncertainty.
    pub u: Mm,
    /// Half width of its 95 % interval.
    pub expanded: Mm,
    /// Effective degrees of freedom; `None` where everything is taken as known.
    pub dof: Option<f64>,
    /// What may be said of it: `unsure` while the takes contradict one another.
    pub verdict: Verdict,
    /// How many seats.
    pub seats: usize,
    /// The gap of the last seat.
    pub last: Mm,
    /// Largest less smallest, where the seats differ by more than they should.
    pub differ: Option<Mm>,
    /// Readings averaged.
    pub readings: u32,
    /// Over so long, s.
    pub window_s: f64,
    /// How the head had come there for the last seat.
    #[serde(skip)]
    pub came: Came,
}

/// The emitter, where its tilt is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EmitterView {
    /// The user is here.
    pub here: bool,
    /// Its tilt against gravity, once it is taken.
    pub taken: Option<TiltView>,
}

/// How the emitter itself stands, against gravity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TiltView {
    /// Turn in the board's plane.
    #[serde(rename = "level_deg")]
    pub level: Deg,
    /// Toward the board.
    #[serde(rename = "lean_deg")]
    pub lean: Deg,
    /// Standard uncertainty of either.
    #[serde(rename = "u_deg")]
    pub u: Deg,
}

/// Level or lean, judged.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TiltJudged {
    /// How the emitter itself stands, against gravity.
    #[serde(rename = "emitter_deg")]
    pub emitter: Deg,
    /// How the board stands, against gravity.
    #[serde(rename = "board_deg")]
    pub board: Deg,
    /// The first less the second.
    #[serde(rename = "value_deg")]
    pub value: Deg,
    /// Half width of its 95 % interval.
    #[serde(rename = "expanded_deg")]
    pub expanded: Deg,
    /// Against its band.
    pub verdict: Verdict,
}

/// The verdict over everything.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WholeView {
    /// The verdict.
    pub verdict: Verdict,
    /// The verdict with what it speaks of: `within at the 8 places read; …`.
    pub headline: Sentence,
    /// Why it is not `within`; empty if it is.
    pub because: Sentence,
    /// What a `within` speaks of.
    pub judged_at: JudgedAt,
    /// The stations to take again, where the takes contradict one another.
    pub odd: Vec<String>,
    /// That they do, and what to do about it: for as long as it is so.
    pub contradicts: Option<Sentence>,
    /// Level, where it is judged and could be.
    pub level: Option<TiltJudged>,
    /// Lean, where it is judged and could be.
    pub lean: Option<TiltJudged>,
    /// Stations that have a take.
    pub taken: usize,
    /// Nothing is taken yet, of the emitter neither: there is nothing that a verdict could be of.
    pub nothing_taken: bool,
    /// Everything that the job asks for is taken.
    pub all_taken: bool,
    /// A simulated head was heard, be it gone by now: it is practice, and no verdict on a board.
    pub simulated: bool,
}

impl WholeView {
    /// Shape, word and why, in one line.
    pub fn line(&self) -> Sentence {
        let shape = self.verdict.shape();
        match () {
            () if self.nothing_taken => say!("{shape} {}", self.because),
            () if self.because.is_empty() => say!("{shape} {}", self.headline),
            () => say!("{shape} {}: {}", self.headline, self.because),
        }
    }
}
