//! The guided trim as a state machine. Pure: takes, live gaps, the user's words and the time in;
//! advice out, and what is to be kept in the record.
//!
//! A round: takes at stations until the plane is known well enough, then one adjuster after the
//! other while the gap at one station is watched, then takes again. Everything learnt stays: the
//! board's shape, what each screw does, which way it works, where its travel ends.

mod answer;
mod picture;
mod seating;
mod taking;
mod turns;

pub(crate) use picture::Shown;

use super::steady::Steady;
use super::turning::Turning;
use skimgauge_jobfile::Job;
use skimgauge_metrology::assess::{AssessError, Assessment};
use skimgauge_metrology::plane::board::{Board, ControlPoint};
use skimgauge_metrology::plane::choice::Choice;
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::trim::guide::Plan;
use skimgauge_metrology::trim::learn::Tracker;
use skimgauge_model::{Adjuster, Image, Station, TurnNoticed};
use skimgauge_quantity::{Band, Mm, Sentence};
use std::time::Duration;

/// What is supposed of a take not yet made, mm.
const TAKE_U_MM: f64 = 0.06;
/// After so many rounds it is not the turning that is in the way.
pub(super) const MOST_ROUNDS: u32 = 5;

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
    /// Turn, and watch the live gap.
    Turn {
        /// By its place in the job.
        adjuster: usize,
        /// Clockwise turns still to make, about; negative is anticlockwise.
        turns: f64,
        /// The live gap to come to, mm.
        dial_to_mm: f64,
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
        station: usize,
        /// The gap to come to, mm.
        target_gap_mm: f64,
        /// Which round.
        round: u32,
    },
    /// A turn was made.
    Observed {
        /// By its place in the job.
        adjuster: usize,
        /// Clockwise turns, if anyone counted.
        turns: Option<f64>,
        /// The station watched, by its place in the job.
        station: usize,
        /// The gap before, mm.
        before_mm: f64,
        /// The gap after, mm.
        after_mm: f64,
        /// The gap advised, mm.
        predicted_mm: f64,
        /// What was noticed.
        noticed: Vec<TurnNoticed>,
    },
    /// The round's takes are judged as they stand.
    Judged,
    /// A new round begins: former takes are of another plane.
    NewRound,
    /// It is over.
    Over,
    /// For the user.
    Say {
        /// What.
        says: Sentence,
        /// Bad news?
        bad: bool,
    },
}

/// Where the work is.
#[derive(Debug, Clone)]
pub(crate) enum Stage {
    /// Stations are taken.
    Take,
    /// The head goes to a station, to watch the next turn.
    Clip {
        /// By its place in the job.
        station: usize,
        /// The user says that it is there.
        ready: bool,
        /// It read otherwise than expected, and that was said.
        doubted: bool,
    },
    /// A screw is being turned.
    Turn(Box<Turning>),
    /// Done.
    Over,
}

/// The guide.
#[derive(Debug)]
pub(crate) struct Guide {
    adjusters: Box<[Adjuster; 3]>,
    band: Band<Mm>,
    image: Image,
    stations: Vec<Station>,
    points: Vec<ControlPoint>,
    board: Board,
    stage: Stage,
    round: u32,
    turns_in_round: u32,
    made: [f64; 3],
    /// By adjuster, then anticlockwise and clockwise: it has answered as it should.
    answered: [[bool; 2]; 3],
    tracker: Option<Tracker>,
    plan: Option<Plan>,
    seat: Option<usize>,
    steady: Steady,
    changed: Duration,
    hinted: bool,
    observations: Observations,
    taken: Vec<bool>,
    emitter_missing: bool,
    /// Stations whose take came back the same from a new seat.
    came_back: Vec<String>,
    /// The contradiction that was said last.
    contradiction_said: Sentence,
    answer: Option<Result<Box<Assessment>, AssessError>>,
    choice: Option<Choice>,
    advice: Advice,
    warned: bool,
    told: Vec<Told>,
}

impl Guide {
    /// Begins a trim. `None` where the job does not have three adjusters (a job that was read
    /// always has).
    pub(crate) fn new(job: &Job, board: &Board) -> Option<Self> {
        let adjusters: [Adjuster; 3] = job.adjusters.clone().try_into().ok()?;
        let mut guide = Self {
            adjusters: Box::new(adjusters),
            band: job.bands.gap,
            image: job.image,
            stations: job.stations.clone(),
            points: board.control_points(job.image.width.0, job.image.height.0),
            board: board.clone(),
            stage: Stage::Take,
            round: 1,
            turns_in_round: 0,
            made: [0.0; 3],
            answered: [[false; 2]; 3],
            tracker: None,
            plan: None,
            seat: None,
            steady: Steady::default(),
            changed: Duration::ZERO,
            hinted: false,
            observations: Observations::default(),
            taken: vec![false; job.stations.len()],
            emitter_missing: false,
            came_back: Vec::new(),
            contradiction_said: Sentence::new(),
            answer: None,
            choice: None,
            advice: Advice::Over,
            warned: false,
            told: Vec::new(),
        };
        guide.advice = guide.what_to_take();
        Some(guide)
    }

    /// Where the work is.
    pub(crate) fn stage(&self) -> &Stage {
        &self.stage
    }

    /// Which round, from one.
    pub(crate) fn round(&self) -> u32 {
        self.round
    }

    /// What the user should do now.
    pub(crate) fn advice(&self) -> &Advice {
        &self.advice
    }

    /// The answer of this round's takes, once they decide a plane.
    pub(crate) fn answer(&self) -> Option<&Assessment> {
        self.answer.as_ref()?.as_ref().ok().map(|answer| &**answer)
    }

    /// The station that would lower the uncertainty most, and by how much.
    pub(crate) fn offer(&self) -> Option<(&Station, Choice)> {
        let choice = self.choice?;
        Some((self.untaken().nth(choice.candidate)?.1, choice))
    }

    /// The adjusters as now known.
    pub(crate) fn adjusters(&self) -> &[Adjuster; 3] {
        &self.adjusters
    }

    /// The band of the gap, mm.
    pub(crate) fn band(&self) -> Band<Mm> {
        self.band
    }

    /// The image.
    pub(crate) fn image(&self) -> Image {
        self.image
    }

    /// A station by its place in the job.
    pub(crate) fn station(&self, at: usize) -> Option<&Station> {
        self.stations.get(at)
    }

    /// Whether a station has a take in this round: advised again, it is the odd one.
    pub(crate) fn is_taken(&self, at: usize) -> bool {
        self.taken.get(at).copied().unwrap_or(false)
    }

    /// Turns still planned in this round, the present one included.
    pub(crate) fn turns_left(&self) -> usize {
        self.plan.as_ref().map_or(0, Plan::left)
    }

    /// What has been turned, clockwise by adjuster.
    pub(crate) fn made(&self) -> &[f64; 3] {
        &self.made
    }

    /// Where the gap must be in the band.
    pub(crate) fn points(&self) -> &[ControlPoint] {
        &self.points
    }

    /// What was told since the last call.
    pub(crate) fn drain(&mut self) -> Vec<Told> {
        std::mem::take(&mut self.told)
    }

    fn say(&mut self, says: Sentence, bad: bool) {
        self.told.push(Told::Say { says, bad });
    }
}
