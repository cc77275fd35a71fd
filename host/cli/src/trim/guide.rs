//! The guided trim as a state machine. Pure: takes, live gaps, the user's words and the time in;
//! advice out, and what is to be kept in the record.
//!
//! A round: takes at stations until the plane is known well enough, then one adjuster after the
//! other while the gap at one station is watched, then takes again. Everything learnt stays: the
//! board's shape, what each screw does, which way it works, where its travel ends.

use super::steady::Steady;
use super::turning::{LIVE_U_MM, Turning};
use super::{GUARD_MM, words};
use crate::watch::Ways;
use skimgauge_jobfile::Job;
use skimgauge_metrology::assess::{AssessError, Assessment, MEASURABLE, Question, assess};
use skimgauge_metrology::plane::board::{Board, ControlPoint};
use skimgauge_metrology::plane::choice::{Choice, fewest_stations, next_station};
use skimgauge_metrology::plane::consistency::{Explains, Odd};
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::report::Feasibility;
use skimgauge_metrology::trim::guide::{Aim, Plan};
use skimgauge_metrology::trim::influence::GeometryUncertainty;
use skimgauge_metrology::trim::learn::{Hand, Tracker};
use skimgauge_metrology::trim::response::{Finding, Said, ScrewHistory};
use skimgauge_metrology::verdict::decide;
use skimgauge_model::Image;
use skimgauge_model::{Adjuster, Sense, Station, Verdict};
use skimgauge_quantity::{Band, Mm, Turns};
use std::time::Duration;

/// Seating error of a head newly clipped on, standard uncertainty, mm. Common practice, no source.
const SEAT_U_MM: f64 = 0.05;
/// A further take is worth while above this uncertainty (95 %) of the worst point, as a share of
/// the band's width.
const KNOWN_SHARE: f64 = 0.08;
/// What is supposed of a take not yet made, mm.
const TAKE_U_MM: f64 = 0.06;
/// A setting that gains less margin than this, mm, is not worth a hand on the screw.
const WORTH_MM: f64 = 0.02;
/// A turn smaller than this is not made, turns.
const LEAST_TURN: f64 = 0.008;
/// A newly clipped head that reads off by so many standard uncertainties is looked at again.
const SURPRISING: f64 = 4.0;
/// In the picture a corner stands for a station so near to it, mm: a few of its characters.
const NEAR_MM: f64 = 120.0;
/// After so many rounds it is not the turning that is in the way.
const MOST_ROUNDS: u32 = 5;
/// After so many turns in one round the stations are taken again.
const MOST_TURNS: u32 = 24;
/// Without any change for so long while a screw should turn, a word is said.
const NOTHING_HAPPENS: Duration = Duration::from_secs(12);

/// What the user should do now.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
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
pub enum Told {
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
        flags: Vec<String>,
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
        text: String,
        /// Bad news?
        bad: bool,
    },
}

/// Where the work is.
#[derive(Debug, Clone)]
pub enum Stage {
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

/// A gap somewhere on the board, for the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// The point.
    pub point: ControlPoint,
    /// The gap, mm.
    pub gap_mm: f64,
    /// Half width of its 95 % interval, mm.
    pub expanded_mm: f64,
    /// What may be said of it; `None` in place of a within where nobody looked.
    pub verdict: Option<Verdict>,
}

/// The guide.
#[derive(Debug)]
pub struct Guide {
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
    contradiction_said: String,
    answer: Option<Result<Box<Assessment>, AssessError>>,
    choice: Option<Choice>,
    advice: Advice,
    warned: bool,
    ways: Ways,
    told: Vec<Told>,
}

impl Guide {
    /// Begins a trim. `None` where the job does not have three adjusters (a job that was read
    /// always has).
    pub fn new(job: &Job, board: &Board) -> Option<Self> {
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
            contradiction_said: String::new(),
            answer: None,
            choice: None,
            advice: Advice::Over,
            warned: false,
            ways: Ways::default(),
            told: Vec::new(),
        };
        guide.advice = guide.what_to_take();
        Some(guide)
    }

    /// From now on it names the keys of a screen, or the words to type.
    pub fn speak_of(&mut self, ways: Ways) {
        self.ways = ways;
    }

    /// How the user says things here.
    pub fn ways(&self) -> Ways {
        self.ways
    }

    /// Where the work is.
    pub fn stage(&self) -> &Stage {
        &self.stage
    }

    /// Which round, from one.
    pub fn round(&self) -> u32 {
        self.round
    }

    /// What the user should do now.
    pub fn advice(&self) -> &Advice {
        &self.advice
    }

    /// The answer of this round's takes, once they decide a plane.
    pub fn answer(&self) -> Option<&Assessment> {
        self.answer.as_ref()?.as_ref().ok().map(|answer| &**answer)
    }

    /// The station that would lower the uncertainty most, and by how much.
    pub fn offer(&self) -> Option<(&Station, Choice)> {
        let choice = self.choice?;
        Some((self.untaken().nth(choice.candidate)?.1, choice))
    }

    /// The adjusters as now known.
    pub fn adjusters(&self) -> &[Adjuster; 3] {
        &self.adjusters
    }

    /// The band of the gap, mm.
    pub fn band(&self) -> Band<Mm> {
        self.band
    }

    /// The image.
    pub fn image(&self) -> Image {
        self.image
    }

    /// A station by its place in the job.
    pub fn station(&self, at: usize) -> Option<&Station> {
        self.stations.get(at)
    }

    /// Whether a station has a take in this round: advised again, it is the odd one.
    pub fn is_taken(&self, at: usize) -> bool {
        self.taken.get(at).copied().unwrap_or(false)
    }

    /// Turns still planned in this round, the present one included.
    pub fn turns_left(&self) -> usize {
        self.plan.as_ref().map_or(0, Plan::left)
    }

    /// What was told since the last call.
    pub fn drain(&mut self) -> Vec<Told> {
        std::mem::take(&mut self.told)
    }

    /// The gap that the live reading should come to, and to within what, mm; while a screw is
    /// turned.
    pub fn dial(&self) -> Option<(f64, f64)> {
        match &self.stage {
            Stage::Turn(turning) => Some((turning.dial_to_mm, turning.within_mm)),
            _ => None,
        }
    }

    /// The gaps at the control points as best known now: from the takes, or, while screws are
    /// turned, from all that was seen since. Where the takes contradict one another, the gaps
    /// read. Empty before there is a plane.
    pub fn picture(&self) -> Vec<Shown> {
        let turning = matches!(self.stage, Stage::Clip { .. } | Stage::Turn(_));
        match (&self.tracker, self.answer()) {
            (Some(tracker), _) if turning => self.expected(tracker),
            (_, Some(answer)) if answer.contradicts() => answer
                .verdict
                .places
                .iter()
                .map(|place| Shown {
                    point: self.board.point(place.x_mm, place.y_mm),
                    gap_mm: place.gap_mm,
                    expanded_mm: place.expanded_mm,
                    verdict: Some(place.verdict),
                })
                .collect(),
            (_, Some(answer)) => answer
                .verdict
                .points
                .iter()
                .map(|j| Shown {
                    point: j.point,
                    gap_mm: j.gap.gap_mm,
                    expanded_mm: j.expanded_mm,
                    verdict: self.drawn(&j.point, j.verdict),
                })
                .collect(),
            _ => Vec::new(),
        }
    }

    /// A verdict at a control point as the picture shows it: within only near a station, where
    /// somebody looks.
    fn drawn(&self, point: &ControlPoint, verdict: Verdict) -> Option<Verdict> {
        let near = |s: &Station| (s.at.x.0 - point.x_mm).hypot(s.at.y.0 - point.y_mm) <= NEAR_MM;
        let looked_at = self.board.is_surveyed() || self.stations.iter().any(near);
        Some(verdict).filter(|verdict| looked_at || *verdict != Verdict::Within)
    }

    /// What the gaps at the control points are expected to be while screws are turned.
    fn expected(&self, tracker: &Tracker) -> Vec<Shown> {
        tracker
            .spots(&self.points)
            .iter()
            .zip(&self.points)
            .map(|(spot, point)| {
                let expanded_mm = crate::watch::stations::expanded(tracker.u_gap_mm(point), None);
                let verdict =
                    self.drawn(point, decide(Mm(spot.gap_mm), Mm(expanded_mm), self.band));
                Shown { point: *point, gap_mm: spot.gap_mm, expanded_mm, verdict }
            })
            .collect()
    }

    /// The gap anywhere on the image as best known now, mm; `None` before there is a plane, and
    /// where the takes contradict one another.
    pub fn gap_at(&self, x_mm: f64, y_mm: f64) -> Option<f64> {
        let turning = matches!(self.stage, Stage::Clip { .. } | Stage::Turn(_));
        match (&self.tracker, self.answer()) {
            (Some(tracker), _) if turning => Some(tracker.unseated(x_mm, y_mm).gap_mm),
            (_, Some(answer)) if answer.contradicts() => None,
            (_, Some(answer)) => Some(answer.fit.gap_at(&self.board.point(x_mm, y_mm)).gap_mm),
            _ => None,
        }
    }

    /// Takes as they stand now: which stations have one, which came back the same when they were
    /// taken again from a new seat, and whether the emitter's tilt is asked for and missing.
    pub fn takes(
        &mut self,
        observations: Observations,
        taken: &[bool],
        came_back: Vec<String>,
        emitter_missing: bool,
    ) {
        if !matches!(self.stage, Stage::Take)
            || (observations == self.observations
                && taken == self.taken
                && came_back == self.came_back
                && emitter_missing == self.emitter_missing)
        {
            return;
        }
        self.observations = observations;
        self.came_back = came_back;
        self.taken = taken.to_vec();
        self.emitter_missing = emitter_missing;
        self.answer =
            (taken.iter().filter(|t| **t).count() >= 3).then(|| self.assess().map(Box::new));
        self.choice = self.answer().and_then(|answer| {
            let left: Vec<Station> = self.untaken().map(|(_, s)| s.clone()).collect();
            next_station(&answer.fit, &left, &self.points, TAKE_U_MM)
        });
        self.advice = self.what_to_take();
        self.say_contradiction();
        let all = self.untaken().next().is_none() && !self.emitter_missing;
        if all && self.answer().is_some_and(|answer| answer.verdict.verdict == Verdict::Within) {
            self.told.push(Told::Judged);
            self.over();
        }
    }

    /// The live gap: a good one with the time, or `None`. `knocked`: the head itself was moved.
    pub fn live(&mut self, now: Duration, gap_mm: Option<f64>, knocked: bool) {
        let before = self.steady.last();
        self.steady.push(now, gap_mm);
        if let (Some(before), Some(gap_mm)) = (before, gap_mm)
            && (gap_mm - before).abs() > LIVE_U_MM
        {
            self.changed = now;
        }
        match &self.stage {
            Stage::Take | Stage::Over => (),
            Stage::Clip { station, ready: true, doubted } => {
                if let Some(gap_mm) = self.steady.at_rest(now) {
                    let (station, doubted) = (*station, *doubted);
                    self.seated(now, station, gap_mm, doubted);
                }
            }
            Stage::Clip { .. } => (),
            Stage::Turn(turning) if knocked => {
                let station = turning.station;
                let ready = self.ways.ready();
                self.say(
                    format!("the head was moved: seat it again at the same station, then {ready}"),
                    true,
                );
                // How far the screw had come by then is not known well; the next reading tells.
                if let (Some(tracker), Some(before_mm)) = (&mut self.tracker, before)
                    && let Stage::Turn(turning) = &self.stage
                {
                    let adjuster = turning.instruction.adjuster;
                    let share =
                        ((before_mm - turning.before_mm) / turning.predicted_mm()).clamp(-1.5, 1.5);
                    tracker.turn(adjuster, share * turning.instruction.turns);
                    self.made[adjuster] += share * turning.instruction.turns;
                }
                self.replan();
                self.seat = None;
                self.stage = Stage::Clip { station, ready: false, doubted: false };
                self.advice = Advice::Clip { station };
            }
            Stage::Turn(_) => self.watch_turn(now),
        }
    }

    /// The user pressed the head's button or the key for it: the head is clipped on, or the turn is
    /// made.
    pub fn press(&mut self, now: Duration) {
        match &mut self.stage {
            Stage::Clip { ready, .. } => {
                *ready = true;
                self.steady.clear();
            }
            Stage::Turn(turning) => {
                if let Some(gap_mm) = self.steady.last() {
                    if !turning.is_there(gap_mm) {
                        turning.flags.push("stopped before the advised gap".to_owned());
                    }
                    self.turned(now, gap_mm, None, 1.0);
                }
            }
            Stage::Take | Stage::Over => (),
        }
    }

    /// The user turned as told, or by this many turns (clockwise), and the gap is not where it
    /// should be.
    pub fn turned_as_told(&mut self, now: Duration, counted: Option<f64>) {
        let Stage::Turn(turning) = &self.stage else { return };
        let Some(gap_mm) = self.steady.last() else {
            return self
                .say("there is no good gap to judge that by: wait for one".to_owned(), true);
        };
        let (adjuster, turns) =
            (turning.instruction.adjuster, counted.unwrap_or(turning.instruction.turns));
        let clockwise = turns > 0.0;
        let whole = &self.adjusters[adjuster];
        let left = if clockwise {
            whole.travel_clockwise.0 - self.made[adjuster]
        } else {
            whole.travel_anticlockwise.0 + self.made[adjuster]
        };
        let history = ScrewHistory {
            answered_this_way: self.answered[adjuster][usize::from(clockwise)],
            travel_left_turns: Some(left),
        };
        let finding = turning.found(gap_mm, counted, history);
        let name = whole.name.clone();
        let text = Said { adjuster: &name, finding }.to_string();
        match finding {
            Finding::AsPredicted => self.turned(now, gap_mm, counted, 1.0),
            Finding::Reversed => self.reversed(&text),
            Finding::Slipping { share } => {
                self.flag("slips");
                self.say(text, true);
                self.turned(now, gap_mm, counted, share);
            }
            Finding::Bottomed { share } => {
                self.flag("end of travel");
                self.say(text, true);
                self.learn(gap_mm, counted, share);
                let whole = &mut self.adjusters[adjuster];
                if clockwise {
                    whole.travel_clockwise = Turns(self.made[adjuster].max(0.0));
                } else {
                    whole.travel_anticlockwise = Turns((-self.made[adjuster]).max(0.0));
                }
                self.replan();
                self.cannot_any_more();
                self.next_turn(now);
            }
            Finding::Moved { .. } => {
                self.flag("moved");
                self.say(text, true);
                self.tell_turn(gap_mm, counted);
                // The head is seated again, and what it then reads decides: without the emitter's
                // having moved it is this.
                if let Some(tracker) = &mut self.tracker {
                    tracker.turn(adjuster, turns);
                    self.made[adjuster] += turns;
                }
                self.replan();
                self.seat = None;
                self.next_turn(now);
            }
        }
    }

    /// The user wants to begin turning; where no setting passes this is asked twice.
    pub fn begin(&mut self, now: Duration) {
        if !matches!(self.stage, Stage::Take) {
            return;
        }
        let answer = match &self.answer {
            Some(Ok(answer)) => answer,
            Some(Err(why)) => {
                let text = why.to_string();
                return self.say(text, true);
            }
            None => {
                return self.say(
                    "take three stations first, not in a line: the plane needs them".to_owned(),
                    true,
                );
            }
        };
        if let Some(odd) = answer.fit.contradiction() {
            let text = words::no_turns(odd);
            return self.say(text, true);
        }
        if answer.feasibility() != Feasibility::Yes
            && answer.setting.margin_mm < 0.0
            && !self.warned
        {
            self.warned = true;
            let names = |adjuster: usize| self.adjusters[adjuster].name.clone();
            let says =
                words::feasibility(answer, &self.points, &names, self.image).unwrap_or_default();
            let begin = self.ways.begin();
            return self.say(
                format!("{says} To turn to the best setting all the same, {begin} again."),
                true,
            );
        }
        self.told.push(Told::Judged);
        match &mut self.tracker {
            Some(tracker) => self.observations.gaps.iter().for_each(|take| {
                tracker.take(take);
            }),
            None => {
                let (geometry, hand) = (GeometryUncertainty::default(), Hand::default());
                let tracker = Tracker::new(
                    &answer.fit,
                    &self.board,
                    &answer.influence,
                    &self.adjusters,
                    geometry,
                    hand,
                );
                self.tracker = Some(tracker);
            }
        }
        self.turns_in_round = 0;
        self.seat = None;
        self.replan();
        if self.turns_left() == 0 {
            return self.over();
        }
        if self.plan.as_ref().is_some_and(|plan| !plan.clear) {
            let text =
                "the light comes near to the board on the way: turn slowly, and watch it there";
            self.say(text.to_owned(), true);
        }
        self.next_turn(now);
    }

    fn assess(&self) -> Result<Assessment, AssessError> {
        let mut adjusters = self.adjusters.clone();
        for (adjuster, made) in adjusters.iter_mut().zip(self.made) {
            let made = Turns(made);
            adjuster.travel_clockwise = (adjuster.travel_clockwise - made).max(Turns::ZERO);
            adjuster.travel_anticlockwise = (adjuster.travel_anticlockwise + made).max(Turns::ZERO);
        }
        assess(&Question {
            observations: &self.observations,
            board: &self.board,
            adjusters: &adjusters[..],
            band: self.band,
            points: &self.points,
            live: &self.stations,
            guard_mm: GUARD_MM,
            measurable: MEASURABLE,
            smallest_turn: None,
            came_back: &self.came_back,
        })
    }

    fn untaken(&self) -> impl Iterator<Item = (usize, &Station)> {
        self.stations.iter().enumerate().filter(|(at, _)| !self.is_taken(*at))
    }

    /// What to do while stations are taken.
    fn what_to_take(&self) -> Advice {
        let Some(answer) = self.answer() else {
            let (at, left): (Vec<usize>, Vec<Station>) =
                self.untaken().map(|(at, s)| (at, s.clone())).unzip();
            let taken: Vec<Station> = self
                .stations
                .iter()
                .zip(&self.taken)
                .filter(|(_, t)| **t)
                .map(|(s, _)| s.clone())
                .collect();
            let fewest = fewest_stations(&taken, &left, &self.points, &self.board, false)
                .unwrap_or_default();
            let first = fewest.first().copied().or(if left.is_empty() { None } else { Some(0) });
            return first.map_or(Advice::Begin, |k| Advice::Take { station: at[k] });
        };
        let next =
            self.choice.and_then(|choice| self.untaken().nth(choice.candidate)).map(|(at, _)| at);
        if let Some(odd) = answer.fit.contradiction() {
            return self.what_to_take_again(odd, next);
        }
        let known_mm = KNOWN_SHARE * self.band.width();
        let worst_mm = answer.verdict.points.iter().map(|p| p.expanded_mm).fold(0.0, f64::max);
        let out = answer.verdict.verdict == Verdict::Outside;
        let turn_now = out && worst_mm <= known_mm.0 && answer.feasibility() != Feasibility::Unsure;
        match next {
            Some(station) if !turn_now => Advice::Take { station },
            _ if self.emitter_missing && !out => Advice::TakeEmitter,
            _ => Advice::Begin,
        }
    }

    /// What to do while the takes contradict one another: one more station where that tells which
    /// of several is odd, else the odd one again; nothing of it is left once it came back the
    /// same.
    fn what_to_take_again(&self, odd: &Odd, next: Option<usize>) -> Advice {
        let named = |name: &str| self.stations.iter().position(|station| station.name == name);
        let again = odd.to_read_again().find_map(|suspect| named(&suspect.name));
        match (again, next) {
            (Some(_), Some(station)) if odd.explains == Explains::Any => Advice::Take { station },
            (Some(station), _) => Advice::Take { station },
            (None, _) => Advice::Survey,
        }
    }

    /// Says which take is odd, once.
    fn say_contradiction(&mut self) {
        let text =
            self.answer().and_then(|answer| Some(words::no_turns(answer.fit.contradiction()?)));
        let text = text.unwrap_or_default();
        if text == self.contradiction_said {
            return;
        }
        self.contradiction_said.clone_from(&text);
        if !text.is_empty() {
            self.say(text, true);
        }
    }

    /// Calls `with` with the aim, where there is a tracker.
    fn aimed<T>(&self, with: impl FnOnce(&Aim<'_>, &Tracker) -> T) -> Option<T> {
        let tracker = self.tracker.as_ref()?;
        let aim = Aim {
            adjusters: &self.adjusters,
            points: &self.points,
            band: self.band,
            live: &self.stations,
            guard_mm: GUARD_MM,
            measurable: MEASURABLE,
            worth_mm: WORTH_MM,
        };
        Some(with(&aim, tracker))
    }

    fn replan(&mut self) {
        self.plan =
            self.aimed(|aim, tracker| Plan::new(aim, tracker, &self.made)).and_then(Result::ok);
    }

    fn next_turn(&mut self, now: Duration) {
        let station = self
            .plan
            .as_ref()
            .filter(|_| self.turns_in_round < MOST_TURNS)
            .and_then(|plan| {
                self.aimed(|aim, tracker| plan.station(aim, tracker, &self.made, self.seat))
            })
            .and_then(Result::ok)
            .flatten();
        match station {
            Some(station) if self.seat == Some(station) && self.steady.last().is_some() => {
                self.instruct(now, station);
            }
            Some(station) => {
                self.seat = None;
                self.steady.clear();
                self.stage = Stage::Clip { station, ready: false, doubted: false };
                self.advice = Advice::Clip { station };
            }
            None => self.new_round(),
        }
    }

    fn new_round(&mut self) {
        if self.round >= MOST_ROUNDS {
            self.say(
                format!("after {MOST_ROUNDS} rounds it is not the turning that is in the way"),
                true,
            );
            return self.over();
        }
        self.round += 1;
        self.seat = None;
        self.stage = Stage::Take;
        self.observations = Observations::default();
        self.came_back.clear();
        self.taken.fill(false);
        self.answer = None;
        self.choice = None;
        self.told.push(Told::NewRound);
        self.advice = self.what_to_take();
    }

    fn over(&mut self) {
        self.stage = Stage::Over;
        self.advice = Advice::Over;
        self.told.push(Told::Over);
    }

    /// The head is clipped on and at rest.
    fn seated(&mut self, now: Duration, station: usize, gap_mm: f64, doubted: bool) {
        let Some((tracker, at)) = self.tracker.as_mut().zip(self.stations.get(station)) else {
            return;
        };
        let expected = tracker.unseated(at.at.x.0, at.at.y.0);
        let off_mm = gap_mm - expected.gap_mm;
        if off_mm.abs() > SURPRISING * expected.u_mm.hypot(SEAT_U_MM) + 2.0 * LIVE_U_MM {
            let name = at.name.clone();
            if doubted {
                self.say(
                    format!("{name} reads {off_mm:+.2} mm other than expected: the emitter moved. The stations are taken again"),
                    true,
                );
                tracker_lost(self);
                return self.new_round();
            }
            let (expected_mm, ready) = (expected.gap_mm, self.ways.ready());
            self.stage = Stage::Clip { station, ready: false, doubted: true };
            return self.say(
                format!(
                    "{name} reads {gap_mm:.2} mm where {expected_mm:.2} mm was expected: is the head at {name}, its feet flat on \
                     the board? If it is, {ready} again"
                ),
                true,
            );
        }
        tracker.seat(SEAT_U_MM);
        tracker.read(at.at.x.0, at.at.y.0, gap_mm, LIVE_U_MM);
        self.seat = Some(station);
        self.instruct(now, station);
    }

    fn instruct(&mut self, now: Duration, station: usize) {
        let instruction = self
            .plan
            .as_ref()
            .zip(self.stations.get(station))
            .and_then(|(plan, at)| {
                self.aimed(|aim, tracker| plan.instruction(aim, tracker, &self.made, at))
            })
            .and_then(Result::ok)
            .flatten();
        let before_mm = self.steady.at_rest(now).or(self.steady.last());
        let (Some(instruction), Some(before_mm)) = (instruction, before_mm) else {
            return self.new_round();
        };
        if instruction.turns.abs() < LEAST_TURN {
            if let Some(plan) = &mut self.plan {
                plan.done();
            }
            return self.next_turn(now);
        }
        let at = &self.stations[station];
        let effect_mm = self
            .tracker
            .as_ref()
            .map_or(0.0, |t| t.influence().effect(at.at.x.0, at.at.y.0)[instruction.adjuster]);
        let turning = Turning::new(instruction, station, before_mm, effect_mm);
        let (adjuster, turns) = (turning.instruction.adjuster, turning.instruction.turns);
        self.told.push(Told::Advised {
            adjuster,
            turns,
            station,
            target_gap_mm: turning.dial_to_mm,
            round: self.round,
        });
        self.advice = Advice::Turn { adjuster, turns, dial_to_mm: turning.dial_to_mm };
        self.turns_in_round += 1;
        self.changed = now;
        self.hinted = false;
        self.steady.clear();
        self.stage = Stage::Turn(Box::new(turning));
    }

    fn watch_turn(&mut self, now: Duration) {
        let Stage::Turn(turning) = &mut self.stage else { return };
        let Some(gap_mm) = self.steady.last() else { return };
        if let Some(rest_mm) = self.steady.at_rest(now)
            && turning.is_there(rest_mm)
        {
            return self.turned(now, rest_mm, None, 1.0);
        }
        let left =
            turning.instruction.turns * (turning.dial_to_mm - gap_mm) / turning.predicted_mm();
        self.advice = Advice::Turn {
            adjuster: turning.instruction.adjuster,
            turns: left,
            dial_to_mm: turning.dial_to_mm,
        };
        let name = &self.adjusters[turning.instruction.adjuster].name;
        let told = self.ways.told();
        if turning.goes_wrong(gap_mm) && !turning.wrong_way {
            turning.wrong_way = true;
            let text = format!(
                "STOP: the gap goes the wrong way. If you turned {name} {} as told, {told}: then it works the other way round. \
                 If not, turn back",
                words::sense(turning.instruction.turns)
            );
            self.say(text, true);
        } else if !self.hinted && now.saturating_sub(self.changed) > NOTHING_HAPPENS {
            self.hinted = true;
            let text = format!(
                "the gap does not move. If you have turned {name} as told, {told}; if it resists, do not force it, and {told} too"
            );
            self.say(text, false);
        }
    }

    fn reversed(&mut self, text: &str) {
        let Stage::Turn(turning) = &mut self.stage else { return };
        let adjuster = turning.instruction.adjuster;
        turning.flags.push("works the other way round".to_owned());
        turning.instruction.turns *= -1.0;
        turning.wrong_way = false;
        self.advice = Advice::Turn {
            adjuster,
            turns: turning.instruction.turns,
            dial_to_mm: turning.dial_to_mm,
        };
        let whole = &mut self.adjusters[adjuster];
        whole.clockwise = match whole.clockwise {
            Sense::Out => Sense::In,
            Sense::In => Sense::Out,
        };
        let sense = words::sense(turning.instruction.turns);
        if let Some(tracker) = &mut self.tracker {
            tracker.reverse(adjuster);
        }
        self.say(format!("{text}. Turn it {sense} now, until the gap is where it should be"), true);
    }

    /// A turn is made, whatever came of it: learn, tell, and go on. `share`: of the turn that
    /// reached the plane.
    fn turned(&mut self, now: Duration, gap_mm: f64, counted: Option<f64>, share: f64) {
        let as_planned = self.learn(gap_mm, counted, share);
        match &mut self.plan {
            Some(plan) if as_planned => plan.done(),
            _ => self.replan(),
        }
        self.next_turn(now);
    }

    /// Learns from a turn and tells of it; whether it went as planned.
    fn learn(&mut self, gap_mm: f64, counted: Option<f64>, share: f64) -> bool {
        self.tell_turn(gap_mm, counted);
        let Stage::Turn(turning) = &self.stage else { return false };
        let Some(tracker) = &mut self.tracker else { return false };
        let adjuster = turning.instruction.adjuster;
        let at = &self.stations[turning.station];
        let by_gap =
            turning.instruction.turns * (gap_mm - turning.before_mm) / turning.predicted_mm();
        let held = share > 0.7;
        // Where the screw did not hold, its count says nothing of the plane.
        let effective = if held { counted.unwrap_or(by_gap) } else { by_gap };
        tracker.turn(adjuster, effective);
        tracker.read(at.at.x.0, at.at.y.0, gap_mm, LIVE_U_MM);
        self.made[adjuster] += effective;
        if held {
            self.answered[adjuster][usize::from(effective > 0.0)] = true;
        }
        turning.instruction.whole && turning.is_there(gap_mm)
    }

    fn tell_turn(&mut self, gap_mm: f64, counted: Option<f64>) {
        let Stage::Turn(turning) = &self.stage else { return };
        self.told.push(Told::Observed {
            adjuster: turning.instruction.adjuster,
            turns: counted,
            station: turning.station,
            before_mm: turning.before_mm,
            after_mm: gap_mm,
            predicted_mm: turning.dial_to_mm,
            flags: turning.flags.clone(),
        });
    }

    /// After a screw's travel has turned out shorter: can it still be done?
    fn cannot_any_more(&mut self) {
        if let Some(plan) = &self.plan
            && plan.margin_mm < 0.0
        {
            let text = format!(
                "with that screw at its end no setting passes any more, by {:.2} mm as best known: move the emitter's mount, note \
                 the new travel in the job, and begin again; or go on to the best setting",
                -plan.margin_mm
            );
            self.say(text, true);
        }
    }

    fn flag(&mut self, what: &str) {
        if let Stage::Turn(turning) = &mut self.stage {
            turning.flags.push(what.to_owned());
        }
    }

    fn say(&mut self, text: String, bad: bool) {
        self.told.push(Told::Say { text, bad });
    }
}

fn tracker_lost(guide: &mut Guide) {
    if let Some(tracker) = &mut guide.tracker {
        tracker.lose_plane();
    }
}
