//! The guided trim as a state machine. Pure: takes, live gaps, the user's words and the time in;
//! advice out, and what is to be kept in the record.
//!
//! A round: takes at stations until there is a plan, then at most one turn of each adjuster, ended
//! by the live gap at a station or by its count, then takes again. Everything learnt stays: the
//! board's shape, what each adjuster does, which way it works, where its travel ends. Every step
//! of the user can be taken back, and with it goes what was learnt from it.

mod answer;
mod back;
mod picture;
mod round;
mod seating;
mod sight;
mod taking;
mod time;
mod told;

pub(crate) use picture::{Shown, is_near};

use super::steady::Steady;
use super::turning::Turning;
use crate::takes::Resumed;
use back::Before;
pub(crate) use sight::Eye;
use sight::Sight;
use skimgauge_jobfile::Job;
use skimgauge_metrology::assess::{AssessError, Assessment};
use skimgauge_metrology::plane::board::{Board, ControlPoint};
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::plane::prior::Expected;
use skimgauge_metrology::trim::person::Person;
use skimgauge_metrology::trim::plan::Plan;
use skimgauge_metrology::trim::rounds::Learner;
use skimgauge_model::{Adjuster, Image, Station};
use skimgauge_quantity::{Band, Mm, Name, Sentence, say};
use std::time::Duration;
pub(crate) use told::{Advice, Told};

/// After so many rounds of turns it is not the turning that is in the way.
const MOST_ROUNDS: u32 = 5;

/// Where the work is.
#[derive(Debug, Clone, PartialEq)]
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
        /// A turn that was taken back goes on there.
        back_to: Option<Box<Turning>>,
    },
    /// An adjuster is being turned.
    Turn(Box<Turning>),
    /// Done.
    Over,
}

/// What a question is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ask {
    /// Whether the adjuster has come to the end of its travel.
    EndOfTravel,
}

/// What changes with the user's steps, and goes back with them.
#[derive(Debug, Clone)]
struct Work {
    stage: Stage,
    round: u32,
    made: [f64; 3],
    /// By adjuster, then anticlockwise and clockwise: it has answered as it should.
    answered: [[bool; 2]; 3],
    learner: Learner,
    /// Nothing was turned yet, in no run.
    as_found: bool,
    /// By adjuster: it slipped in this round, and was told to be gone on with.
    slipped: [bool; 3],
    /// Travel as found shorter than the job says, anticlockwise and clockwise.
    travel: [(f64, f64); 3],
    plan: Option<Plan>,
    /// The station whose seat was read.
    seat: Option<usize>,
}

/// What the job says of it all.
#[derive(Debug, Clone)]
struct Of {
    band: Band<Mm>,
    image: Image,
    stations: Vec<Station>,
    /// Of those, by index, the ones where the head is held by hand.
    held: Vec<usize>,
    person: Person,
    smallest_turn: f64,
    seat_u_mm: f64,
    /// What is to be reckoned with between the places read; `None`: the board is flat.
    expected: Option<Expected>,
    /// The stations to take before the first turn, in their order.
    first: Vec<usize>,
}

/// The guide.
#[derive(Debug)]
pub(crate) struct Guide {
    of: Of,
    board: Board,
    points: Vec<ControlPoint>,
    work: Work,
    before: Vec<Before>,
    /// The station where the head stands, as far as it is known.
    stands: Option<usize>,
    steady: Steady,
    changed: Duration,
    hinted: bool,
    asks: Option<Ask>,
    observations: Observations,
    taken: Vec<bool>,
    sight: Sight,
    emitter_missing: bool,
    looks: u32,
    /// Stations whose take came back the same from a new seat.
    came_back: Vec<String>,
    /// The contradiction that was said last.
    contradiction_said: Sentence,
    answer: Option<Result<Box<Assessment>, AssessError>>,
    /// A survey is what comes now.
    surveys: bool,
    advice: Advice,
    warned: bool,
    /// Rounds that were told to begin.
    rounds_told: u32,
    /// The round that this run began with.
    first_round: u32,
    told: Vec<Told>,
}

/// This round's takes as they stand.
#[derive(Debug, Clone, Default)]
pub(crate) struct Taken {
    /// As the plane wants them.
    pub observations: Observations,
    /// By station.
    pub taken: Vec<bool>,
    /// Stations whose take came back the same when it was taken again from a new seat.
    pub came_back: Vec<String>,
    /// The emitter's tilt is asked for and missing.
    pub emitter_missing: bool,
    /// How many times this same setting is judged.
    pub looks: u32,
    /// How the gap scatters from seat to seat, standard uncertainty, mm, where more is known than
    /// the job says.
    pub seat_u_mm: Option<f64>,
    /// What the take of the thickest sheet tells of the eye.
    pub eye: Option<Eye>,
}

impl Guide {
    /// Begins a trim. `None` where the job does not have three adjusters that can move a plane (a
    /// job that was read always has).
    pub(crate) fn new(job: &Job, board: &Board, expected: Option<Expected>) -> Option<Self> {
        let adjusters: [Adjuster; 3] = job.adjusters.clone().try_into().ok()?;
        let learner = Learner::new(&adjusters).ok()?;
        let points = board.control_points(job.image.width.0, job.image.height.0);
        let of = Of::this_job(job, board, &points, expected);
        let work = Work {
            stage: Stage::Take,
            round: 1,
            made: [0.0; 3],
            answered: [[false; 2]; 3],
            as_found: true,
            slipped: [false; 3],
            travel: [0, 1, 2]
                .map(|i| (adjusters[i].travel_anticlockwise.0, adjusters[i].travel_clockwise.0)),
            learner,
            plan: None,
            seat: None,
        };
        let mut guide = Self {
            taken: vec![false; of.stations.len()],
            sight: Sight::of(of.stations.len()),
            of,
            board: board.clone(),
            points,
            work,
            before: Vec::new(),
            stands: None,
            steady: Steady::default(),
            changed: Duration::ZERO,
            hinted: false,
            asks: None,
            observations: Observations::default(),
            emitter_missing: false,
            looks: 1,
            came_back: Vec::new(),
            contradiction_said: Sentence::new(),
            answer: None,
            surveys: false,
            advice: Advice::Over,
            warned: false,
            rounds_told: 1,
            first_round: 1,
            told: Vec::new(),
        };
        guide.advice = guide.what_to_take();
        Some(guide)
    }

    /// Goes on from an earlier run: what its rounds taught, and which round it is.
    pub(crate) fn go_on(&mut self, resumed: &Resumed) {
        let (rounds, board) = (&resumed.rounds, &self.board);
        self.work.made = self.work.learner.replay(rounds, board, self.of.seat_u_mm).made;
        self.work.round = resumed.round.max(1);
        self.first_round = self.work.round;
        self.rounds_told = self.work.round;
        let anything = resumed.rounds.iter().any(|round| !round.turns.is_empty());
        self.work.as_found = !anything && resumed.unfinished.is_none();
        if let Some(adjuster) = &resumed.unfinished {
            self.work.learner.lose_plane();
            let says = say!(
                "{} was to be turned when it ended, and nobody knows how far that came: the stations are taken anew.",
                Name(adjuster)
            );
            self.say(says, true);
        }
        self.advice = self.what_to_take();
    }

    /// What stood does not stand any more: another round begins.
    pub(crate) fn takes_anew(&mut self) {
        self.work.learner.lose_plane();
        self.work.round += 1;
        (self.first_round, self.rounds_told) = (self.work.round, self.work.round);
        self.advice = self.what_to_take();
    }

    /// Where the work is.
    pub(crate) fn stage(&self) -> &Stage {
        &self.work.stage
    }

    /// Which round, from one.
    pub(crate) fn round(&self) -> u32 {
        self.work.round
    }

    /// The last that there can be: it follows as many rounds of turns as are made.
    pub(crate) fn last_round(&self) -> u32 {
        self.first_round + MOST_ROUNDS
    }

    /// What the user should do now.
    pub(crate) fn advice(&self) -> &Advice {
        &self.advice
    }

    /// What waits for an answer.
    pub(crate) fn asks(&self) -> Option<Ask> {
        self.asks
    }

    /// The answer of this round's takes, once they decide a plane.
    pub(crate) fn answer(&self) -> Option<&Assessment> {
        self.answer.as_ref()?.as_ref().ok().map(|answer| &**answer)
    }

    /// The adjusters as now known.
    pub(crate) fn adjusters(&self) -> &[Adjuster; 3] {
        self.work.learner.adjusters()
    }

    /// An adjuster's name.
    pub(crate) fn name_of(&self, adjuster: usize) -> &str {
        self.adjusters().get(adjuster).map_or("", |adjuster| adjuster.name.as_str())
    }

    /// The band of the gap, mm.
    pub(crate) fn band(&self) -> Band<Mm> {
        self.of.band
    }

    /// The image.
    /// The board.
    pub(crate) fn board(&self) -> &Board {
        &self.board
    }

    pub(crate) fn image(&self) -> Image {
        self.of.image
    }

    /// A station by its place in the job.
    pub(crate) fn station(&self, at: usize) -> Option<&Station> {
        self.of.stations.get(at)
    }

    /// Whether a station has a take in this round: advised again, it is the odd one.
    pub(crate) fn is_taken(&self, at: usize) -> bool {
        self.taken.get(at).copied().unwrap_or(false)
    }

    /// Whether the clip does not reach a station: the head is held there by hand.
    pub(crate) fn is_held(&self, at: usize) -> bool {
        self.of.held.contains(&at)
    }

    /// Turns still planned in this round, the present one included.
    pub(crate) fn turns_left(&self) -> usize {
        match self.work.stage {
            Stage::Clip { .. } | Stage::Turn(_) => self.work.plan.as_ref().map_or(0, Plan::left),
            Stage::Take => self.planned().map_or(0, |plan| plan.left()),
            Stage::Over => 0,
        }
    }

    /// The same before the first of them is made, each with its adjuster, clockwise.
    pub(crate) fn planned_turns(&self) -> Vec<(usize, f64)> {
        let turns = matches!(self.work.stage, Stage::Take) && !self.is_turned_out();
        let answer = self.answer().filter(|_| turns);
        let plan = answer.and_then(|answer| answer.plan.as_ref());
        let listed = plan.iter().flat_map(|plan| &plan.instructions);
        listed.map(|one| (one.adjuster, one.turns)).collect()
    }

    /// What one clockwise turn of an adjuster does to the light there, as now known, mm.
    pub(crate) fn per_turn_mm(&self, adjuster: usize) -> f64 {
        let at = self.adjusters()[adjuster.min(2)].at;
        // This round's takes are learnt from for good when its turns begin.
        let influence = match (&self.work.stage, self.answer()) {
            (Stage::Take | Stage::Over, Some(answer)) => answer.influence,
            _ => self.work.learner.influence(),
        };
        influence.effect(at.x.0, at.y.0)[adjuster.min(2)]
    }

    /// The turns that this round's takes ask for.
    fn planned(&self) -> Option<&Plan> {
        self.answer().filter(|_| !self.is_turned_out())?.plan.as_ref().map(|listed| &listed.plan)
    }

    /// What has been turned, clockwise by adjuster.
    pub(crate) fn made(&self) -> &[f64; 3] {
        &self.work.made
    }

    /// Where the gap must be in the band.
    pub(crate) fn points(&self) -> &[ControlPoint] {
        &self.points
    }

    /// The head is known to stand at this station; `None` elsewhere.
    pub(crate) fn head_stands(&mut self, at: Option<usize>) {
        self.stands = at;
    }

    /// What was told since the last call.
    pub(crate) fn drain(&mut self) -> Vec<Told> {
        std::mem::take(&mut self.told)
    }

    fn say(&mut self, says: Sentence, bad: bool) {
        self.told.push(Told::Say { says, bad });
    }

    /// What means nothing once the turn is made.
    fn hint(&mut self, says: Sentence, bad: bool) {
        self.told.push(Told::Hint { says, bad });
    }
}
