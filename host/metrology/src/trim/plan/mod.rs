//! One round of turning: at most one instruction for each adjuster, in the order and watched at the
//! stations that cost the person the least time, another round and its chance counted in.
//!
//! Light that meets the board on the way harms nothing, so every adjuster makes its whole turn at
//! once. Where a turn shows and the head can see the light from its beginning to its end, the person
//! turns until the live reading comes to a target; elsewhere by count, and the next round makes
//! good what the count missed. Which adjusters turn at all, in which order, and where each is
//! watched, is chosen among all that there is: seconds for instructions, turns, clips and walks,
//! and the chance that what remains uncertain asks for one more round.

mod known;
mod listed;
mod ways;

pub use listed::{Listed, listed};

use super::TrimError;
use super::learn::{Hand, Predicted, Tracker};
use super::person::Person;
use super::solve::{Setting, Spot, solve, travel};
use crate::plane::board::ControlPoint;
use skimgauge_model::{Adjuster, Station};
use skimgauge_quantity::{Band, Mm};
use ways::{Aim, View};

/// A quarter of a turn tells the sense where it changes the reading by so many of its standard
/// uncertainties.
const SENSE_SHOWS: f64 = 4.0;

/// Surely, from so many standard uncertainties on.
const SURELY: f64 = 2.0;

/// What is asked of a round of turning, and of whom.
#[derive(Debug, Clone, Copy)]
pub struct Task<'a> {
    /// The emitter's adjusters.
    pub adjusters: &'a [Adjuster; 3],
    /// Where the gap must be in the band.
    pub points: &'a [ControlPoint],
    /// What the gap may be, mm.
    pub band: Band<Mm>,
    /// Stations where the head may be clipped on.
    pub stations: &'a [Station],
    /// Of those, by index, the ones where the head is held by hand: whose hands hold it cannot turn.
    pub held: &'a [usize],
    /// Gaps that the head can measure, mm.
    pub measurable: Band<Mm>,
    /// Less than this, in turns, a hand cannot make: it is no instruction.
    pub smallest_turn: f64,
    /// Turns are made in whole steps of this, turns; `None`: as far as each should go.
    pub step: Option<f64>,
    /// A setting that gains less margin than this, mm, is not worth a hand on an adjuster.
    pub worth_mm: f64,
    /// How far inside the band the gaps must come to be judged within afterwards, mm.
    pub inside_mm: f64,
    /// Seconds that things take.
    pub person: Person,
    /// How well a hand turns by count.
    pub hand: Hand,
    /// Standard uncertainty of a change of the live reading at one seat, mm.
    pub live_u_mm: f64,
    /// Standard uncertainty of a seat, mm.
    pub seat_u_mm: f64,
    /// A last turn that is counted goes on to a reading, where the head sees the light after it. Where
    /// not, the next takes follow the count.
    pub reads_after_count: bool,
    /// Seconds of one more round: its takes and its turns. [`Task::round_s`] estimates it.
    pub next_round_s: f64,
}

/// How a turn is ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Watch {
    /// By the live reading.
    Reading {
        /// Index into the stations: clip the head on there.
        station: usize,
        /// What the reading is before the turn.
        from: Predicted,
        /// What it should come to. Where the head is not clipped on there yet it is a forecast;
        /// ask again once the seat is read.
        to: Predicted,
        /// The target lies outside the band, and is meant.
        outside_band: bool,
    },
    /// By counting the turns: the light leaves the head's window on the way, or the turn shows at
    /// no station well enough to be worth a clip.
    Count {
        /// The station where the head is clipped on now, an index, if it shows within the first
        /// quarter of a turn whether the adjuster goes the right way: a reversed one is then found
        /// before it has taken the light away.
        sense_at: Option<usize>,
    },
}

/// One instruction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instruction {
    /// Index into the adjusters.
    pub adjuster: usize,
    /// Clockwise turns; negative is anticlockwise.
    pub turns: f64,
    /// How it is ended.
    pub watch: Watch,
    /// Of the last one, where it is counted: a station where the head sees the light once it is made,
    /// an index, and what the gap there should come to. By the count first, then by this, where the
    /// next takes do not follow at once.
    pub then: Option<(usize, Predicted)>,
}

/// One step of a plan: an adjuster, and the station where it is watched.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Step {
    adjuster: usize,
    station: Option<usize>,
}

/// A round's turning.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    steps: Vec<Step>,
    /// Where the gap is brought into the band: the task's points, and what lies between them.
    points: Vec<ControlPoint>,
    /// What the turns are aimed at.
    aim: Band<Mm>,
    /// Turns as planned, clockwise by adjuster.
    pub turns: [f64; 3],
    /// Margin that the setting comes to, mm; negative where the adjusters cannot bring all points
    /// into the band.
    pub margin_mm: f64,
    /// Chance that the next takes are judged within, so that no further round follows.
    pub chance: f64,
    /// Seconds of this round's turning.
    pub seconds: f64,
    /// The same with what another round costs times its chance.
    pub expected_s: f64,
}

impl Task<'_> {
    /// Seconds of one more round with takes at so many stations: those, and one adjuster turned.
    pub fn round_s(person: &Person, stations: usize) -> f64 {
        person.stations_s(stations) + person.instruction_s(0.5, true)
    }

    fn travel(&self, made: &[f64; 3], free: [bool; 3]) -> [(f64, f64); 3] {
        let whole = travel(self.adjusters);
        [0, 1, 2].map(|i| match free[i] {
            true => ((whole[i].0 - made[i]).min(0.0), (whole[i].1 - made[i]).max(0.0)),
            false => (0.0, 0.0),
        })
    }

    /// The best setting for a band: in whole steps, where turns are made so.
    fn solve(
        &self,
        tracker: &Tracker,
        made: &[f64; 3],
        free: [bool; 3],
        aim: Band<Mm>,
    ) -> Result<Setting, TrimError> {
        let spots = tracker.spots(self.points);
        let travel = self.travel(made, free);
        let mut setting = solve(&spots, &tracker.influence(), &travel, aim, self.step)?;
        if let Some(steps) = &setting.by_hand {
            (setting.turns, setting.margin_mm) = (steps.turns, steps.margin_mm);
        }
        Ok(setting)
    }

    /// What the turns are aimed at: the band; where the takes after them could then not be read for
    /// sure, of the band the part that the head sees; the upper half of the band at least.
    fn aim(&self, tracker: &Tracker, made: &[f64; 3]) -> Result<Band<Mm>, TrimError> {
        let best = self.solve(tracker, made, [true; 3], self.band)?;
        let seen = Band { low: self.seen_from(), ..self.band };
        Ok(if self.all_seen(tracker, &best.turns) { self.band } else { seen })
    }

    /// Where the part of the band that the head sees begins, or its upper half.
    fn seen_from(&self) -> Mm {
        self.band.low.max(self.measurable.low.min(self.band.middle()))
    }

    /// Whether the light is surely in that part of the band, or above it, at every station after
    /// these turns.
    fn all_seen(&self, tracker: &Tracker, turns: &[f64; 3]) -> bool {
        let (seen_from_mm, influence) = (self.seen_from().0, tracker.influence());
        self.stations.iter().all(|station| {
            let (x_mm, y_mm) = (station.at.x.0, station.at.y.0);
            let now = tracker.unseated(x_mm, y_mm);
            now.gap_mm + influence.moved_mm(x_mm, y_mm, turns) - SURELY * now.u_mm >= seen_from_mm
        })
    }

    fn is_outside(&self, gap_mm: f64) -> bool {
        !(self.band.low.0..=self.band.high.0).contains(&gap_mm)
    }

    fn sees(&self, gap_mm: f64) -> bool {
        (self.measurable.low.0..=self.measurable.high.0).contains(&gap_mm)
    }
}

impl Plan {
    /// Plans a round. `made`: turned since the job's travel was noted, clockwise by adjuster;
    /// `clipped`: the station where the head is now. Without turns where none is worth it.
    ///
    /// # Errors
    /// [`TrimError`] without control points, or where the numbers cannot be worked with.
    pub fn new(
        task: &Task<'_>,
        tracker: &Tracker,
        made: &[f64; 3],
        clipped: Option<usize>,
    ) -> Result<Self, TrimError> {
        let points = tracker.aimed_at(task.points);
        let task = &Task { points: &points, ..*task };
        // Steps of what a hand can make are coarse: no turn of theirs is for seeing better alone.
        let in_steps = task.step.is_some();
        let aim = if in_steps { task.band } else { task.aim(tracker, made)? };
        let view = View::new(task, tracker, aim);
        let stay = view.unturned(aim);
        let whole = task.solve(tracker, made, [true; 3], aim)?;
        let inside_mm = task.inside_mm.min(0.8 * whole.margin_mm).max(0.0);
        // Nobody turns from where all of it can be read to nearer an end of the band.
        let stands = task.all_seen(tracker, &[0.0; 3]).then(|| view.unturned(task.band));
        let mut settings = Vec::with_capacity(7);
        for set in 1..8usize {
            let free = [0, 1, 2].map(|i| set >> i & 1 == 1);
            settings.push((free, task.solve(tracker, made, free, aim)?));
        }
        // Where the steps are coarse another round does no better than the best of them now.
        let margins = settings.iter().map(|(_, setting)| setting.margin_mm);
        let most = margins.fold(f64::NEG_INFINITY, f64::max);
        let least_mm = if in_steps { most - 1e-9 } else { f64::NEG_INFINITY };
        let mut best: Option<Self> = None;
        for (free, setting) in settings.iter().filter(|(_, of)| of.margin_mm >= least_mm) {
            let turned = (0..3).filter(|&i| free[i]);
            let too_small =
                turned.clone().any(|i| setting.turns[i].abs() < task.smallest_turn.max(1e-6));
            let gains = setting.margin_mm >= stay + task.worth_mm
                && stands
                    .is_none_or(|mm| view.turned(task.band, &setting.turns) >= mm + task.worth_mm);
            if too_small || !gains {
                continue;
            }
            let adjusters: Vec<usize> = turned.collect();
            let again_s = view.again_s(&whole.turns, &setting.turns, inside_mm);
            let aimed = Aim { setting, inside_mm, again_s };
            view.cheapest(&adjusters, aimed, clipped, &mut best);
        }
        let mut best = best.unwrap_or(Self {
            steps: Vec::new(),
            points: Vec::new(),
            aim,
            turns: [0.0; 3],
            margin_mm: stay,
            chance: view.chance_unturned(inside_mm),
            seconds: 0.0,
            expected_s: 0.0,
        });
        best.points = points;
        Ok(best)
    }

    /// Instructions still to come.
    pub fn left(&self) -> usize {
        self.steps.len()
    }

    /// The next instruction, from all that is known now: the turns still to come are worked out
    /// anew, so that each makes good what those before it missed. What a hand cannot make is left
    /// out. `None` at the end of the round. Asking again after the head is clipped on and read
    /// gives the target at this seat.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn next(
        &mut self,
        task: &Task<'_>,
        tracker: &Tracker,
        made: &[f64; 3],
        clipped: Option<usize>,
    ) -> Result<Option<Instruction>, TrimError> {
        let points = self.points.clone();
        let task = &Task { points: &points, ..*task };
        let mut anew = false;
        while let Some(step) = self.steps.first().copied() {
            let free = [0, 1, 2].map(|i| self.steps.iter().any(|s| s.adjuster == i));
            let setting = task.solve(tracker, made, free, self.aim)?;
            let turns = setting.turns[step.adjuster];
            if turns.abs() < task.smallest_turn.max(1e-6) {
                self.steps.remove(0);
                continue;
            }
            let watch = watch(task, tracker, step, turns, clipped);
            let lost = step.station.is_some() && matches!(watch, Watch::Count { .. });
            if lost && !anew {
                anew = true;
                self.watch_anew(&View::new(task, tracker, self.aim), &setting, clipped);
                continue;
            }
            let last = self.steps.len() == 1 && matches!(watch, Watch::Count { .. });
            let then = if last { seen_after(task, tracker, step.adjuster, turns) } else { None };
            return Ok(Some(Instruction { adjuster: step.adjuster, turns, watch, then }));
        }
        Ok(None)
    }

    /// Where the turns still to come are watched, and in which order, chosen anew: as things turned
    /// out the light would leave the window where the next was to be watched.
    fn watch_anew(&mut self, view: &View<'_>, setting: &Setting, clipped: Option<usize>) {
        let smallest = view.task().smallest_turn.max(1e-6);
        let turned = (0..3).filter(|&i| setting.turns[i].abs() >= smallest);
        let adjusters: Vec<usize> =
            turned.filter(|i| self.steps.iter().any(|s| s.adjuster == *i)).collect();
        let inside_mm = view.task().inside_mm.min(0.8 * setting.margin_mm).max(0.0);
        let again_s = view.again_s(&setting.turns, &setting.turns, inside_mm);
        let mut best = None;
        view.cheapest(&adjusters, Aim { setting, inside_mm, again_s }, clipped, &mut best);
        if let Some(best) = best {
            self.steps = best.steps;
        }
    }

    /// The next instruction is counted, wherever it was to be watched: the head sees nothing there.
    pub fn count_next(&mut self) {
        if let Some(step) = self.steps.first_mut() {
            step.station = None;
        }
    }

    /// The instruction is carried out, or passed over.
    pub fn done(&mut self) {
        if !self.steps.is_empty() {
            self.steps.remove(0);
        }
    }
}

/// How a step is ended as things stand now: as planned, or, where the light would leave the head's
/// window, by count.
fn watch(
    task: &Task<'_>,
    tracker: &Tracker,
    step: Step,
    turns: f64,
    clipped: Option<usize>,
) -> Watch {
    let Some((station, at)) = step.station.and_then(|k| Some((k, task.stations.get(k)?))) else {
        return by_count(task, tracker, step.adjuster, clipped);
    };
    let seated = clipped == Some(station);
    let from = match seated {
        true => tracker.live(at.at.x.0, at.at.y.0),
        false => tracker.unseated(at.at.x.0, at.at.y.0),
    };
    let change_mm = turns * tracker.influence().effect(at.at.x.0, at.at.y.0)[step.adjuster];
    let to = Predicted { gap_mm: from.gap_mm + change_mm, u_mm: task.live_u_mm };
    if !(task.sees(from.gap_mm) && task.sees(to.gap_mm)) {
        return by_count(task, tracker, step.adjuster, clipped);
    }
    Watch::Reading { station, from, to, outside_band: task.is_outside(to.gap_mm) }
}

/// Of the stations where a turn shows and the head sees the light once it is made, that where it
/// shows most, and the gap that it should come to there.
fn seen_after(
    task: &Task<'_>,
    tracker: &Tracker,
    adjuster: usize,
    turns: f64,
) -> Option<(usize, Predicted)> {
    let influence = tracker.influence();
    let seen = task.stations.iter().enumerate().filter_map(|(station, Station { at, .. })| {
        let effect_mm = influence.effect(at.x.0, at.y.0)[adjuster];
        let now = tracker.unseated(at.x.0, at.y.0);
        let to = Predicted { gap_mm: now.gap_mm + turns * effect_mm, u_mm: task.live_u_mm };
        let shows = effect_mm.abs() * task.hand.u_turns > task.live_u_mm;
        (shows && !task.held.contains(&station) && task.sees(to.gap_mm)).then_some((
            station,
            to,
            effect_mm.abs(),
        ))
    });
    seen.max_by(|a, b| a.2.total_cmp(&b.2)).map(|(station, to, _)| (station, to))
}

fn by_count(task: &Task<'_>, tracker: &Tracker, adjuster: usize, clipped: Option<usize>) -> Watch {
    let shows = |k: &usize| {
        let Some(Station { at, .. }) = task.stations.get(*k).filter(|_| !task.held.contains(k))
        else {
            return false;
        };
        let effect_mm = tracker.influence().effect(at.x.0, at.y.0)[adjuster];
        let now_mm = tracker.unseated(at.x.0, at.y.0).gap_mm;
        task.sees(now_mm) && effect_mm.abs() / 4.0 > SENSE_SHOWS * task.live_u_mm
    };
    Watch::Count { sense_at: clipped.filter(shows) }
}

/// A forecast of the gaps at the points after `turns`, for a picture.
pub fn after(tracker: &Tracker, points: &[ControlPoint], turns: &[f64; 3]) -> Vec<Spot> {
    let influence = tracker.influence();
    let mut spots = tracker.spots(points);
    for spot in &mut spots {
        spot.gap_mm += influence.moved_mm(spot.x_mm, spot.y_mm, turns);
    }
    spots
}

#[cfg(test)]
mod tests;
