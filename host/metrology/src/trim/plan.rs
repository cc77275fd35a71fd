//! One round of turning: at most one instruction for each adjuster, in the order and watched at the
//! stations that cost the person the least time, another round and its chance counted in.
//!
//! Light that meets the board on the way harms nothing, so every adjuster makes its whole turn at
//! once. Where a turn shows and the head can see the light from its beginning to its end, the person
//! turns until the live reading comes to a target; elsewhere by count, and the next round makes
//! good what the count missed. Which adjusters turn at all, in which order, and where each is
//! watched, is chosen among all that there is: seconds for instructions, turns, clips and walks,
//! and the chance that what remains uncertain asks for one more round.

use super::TrimError;
use super::learn::{Hand, Predicted, Tracker};
use super::person::Person;
use super::solve::{Setting, Spot, solve, travel};
use crate::coverage::conformance_probability;
use crate::plane::board::ControlPoint;
use skimgauge_model::{Adjuster, Station};
use skimgauge_quantity::{Band, Mm};

/// A station where a turn shows by less than this share of what it does at the best one is not
/// watched for it.
const SHOWS: f64 = 0.3;

/// After another round's takes a gap is known so well, standard uncertainty, mm.
const TAKEN_U_MM: f64 = 0.06;

/// However bad a round, one in so many does it.
const LEAST_DONE: f64 = 0.1;

/// A quarter of a turn tells the sense where it changes the reading by so many of its standard
/// uncertainties.
const SENSE_SHOWS: f64 = 4.0;

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
    /// Gaps that the head can measure, mm.
    pub measurable: Band<Mm>,
    /// Less than this, in turns, a hand cannot make: it is no instruction.
    pub smallest_turn: f64,
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

    fn solve(
        &self,
        tracker: &Tracker,
        made: &[f64; 3],
        free: [bool; 3],
    ) -> Result<Setting, TrimError> {
        let spots = tracker.spots(self.points);
        solve(&spots, &tracker.influence(), &self.travel(made, free), self.band, None)
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
        let view = View::new(task, tracker);
        let stay = view.unturned();
        let whole = task.solve(tracker, made, [true; 3])?;
        let inside_mm = task.inside_mm.min(0.8 * whole.margin_mm).max(0.0);
        let mut best: Option<Self> = None;
        for set in 1..8usize {
            let free = [0, 1, 2].map(|i| set >> i & 1 == 1);
            let setting = if set == 7 { whole.clone() } else { task.solve(tracker, made, free)? };
            let turned = (0..3).filter(|&i| free[i]);
            let too_small =
                turned.clone().any(|i| setting.turns[i].abs() < task.smallest_turn.max(1e-6));
            if too_small || setting.margin_mm < stay + task.worth_mm {
                continue;
            }
            let adjusters: Vec<usize> = turned.collect();
            let again_s = view.again_s(&whole.turns, &setting.turns, inside_mm);
            let aim = Aim { setting: &setting, inside_mm, again_s };
            view.cheapest(&adjusters, aim, clipped, &mut best);
        }
        Ok(best.unwrap_or(Self {
            steps: Vec::new(),
            turns: [0.0; 3],
            margin_mm: stay,
            chance: view.chance(&[0.0; 3], &[], inside_mm),
            seconds: 0.0,
            expected_s: 0.0,
        }))
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
        while let Some(step) = self.steps.first().copied() {
            let free = [0, 1, 2].map(|i| self.steps.iter().any(|s| s.adjuster == i));
            let turns = task.solve(tracker, made, free)?.turns[step.adjuster];
            if turns.abs() >= task.smallest_turn.max(1e-6) {
                let watch = watch(task, tracker, step, turns, clipped);
                return Ok(Some(Instruction { adjuster: step.adjuster, turns, watch }));
            }
            self.steps.remove(0);
        }
        Ok(None)
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
    let outside_band = !(task.band.low.0..=task.band.high.0).contains(&to.gap_mm);
    Watch::Reading { station, from, to, outside_band }
}

fn by_count(task: &Task<'_>, tracker: &Tracker, adjuster: usize, clipped: Option<usize>) -> Watch {
    let shows = |k: &usize| {
        let Some(Station { at, .. }) = task.stations.get(*k) else { return false };
        let effect_mm = tracker.influence().effect(at.x.0, at.y.0)[adjuster];
        let now_mm = tracker.unseated(at.x.0, at.y.0).gap_mm;
        task.sees(now_mm) && effect_mm.abs() / 4.0 > SENSE_SHOWS * task.live_u_mm
    };
    Watch::Count { sense_at: clipped.filter(shows) }
}

/// What a set of adjusters comes to, and what it costs to come short.
#[derive(Clone, Copy)]
struct Aim<'a> {
    setting: &'a Setting,
    inside_mm: f64,
    /// Seconds until it is done, should this round not do it.
    again_s: f64,
}

/// What every candidate is judged by, worked out once.
struct View<'a> {
    task: &'a Task<'a>,
    /// At each point: the gap, the variance of it, and what one turn of each adjuster does.
    points: Vec<(f64, f64, [f64; 3])>,
    /// At each station: the gap and what one turn does.
    stations: Vec<(f64, [f64; 3])>,
    /// For each adjuster, the stations where it shows.
    shown: [Vec<usize>; 3],
    tracker: &'a Tracker,
}

impl<'a> View<'a> {
    fn new(task: &'a Task<'a>, tracker: &'a Tracker) -> Self {
        let influence = tracker.influence();
        let points = tracker
            .spots(task.points)
            .iter()
            .zip(task.points)
            .map(|(spot, point)| {
                let u_mm = tracker.u_gap_mm(point);
                (spot.gap_mm, u_mm * u_mm, influence.effect(spot.x_mm, spot.y_mm))
            })
            .collect();
        let stations: Vec<(f64, [f64; 3])> = task
            .stations
            .iter()
            .map(|s| {
                (tracker.unseated(s.at.x.0, s.at.y.0).gap_mm, influence.effect(s.at.x.0, s.at.y.0))
            })
            .collect();
        let shown = [0, 1, 2].map(|i| {
            let shows = |k: &usize| stations[*k].1[i].abs();
            let most = (0..stations.len()).map(|k| shows(&k)).fold(0.0, f64::max);
            (0..stations.len()).filter(|k| shows(k) >= SHOWS * most).collect()
        });
        Self { task, points, stations, shown, tracker }
    }

    /// The margin without any turn, mm.
    fn unturned(&self) -> f64 {
        let band = self.task.band;
        let margin = |gap: f64| (gap - band.low.0).min(band.high.0 - gap);
        self.points.iter().map(|p| margin(p.0)).fold(f64::INFINITY, f64::min)
    }

    /// Seconds until it is done should these turns not do it: one more round, or, where what is
    /// left of the best setting is again too much to be watched, several.
    fn again_s(&self, whole: &[f64; 3], turns: &[f64; 3], inside_mm: f64) -> f64 {
        let task = self.task;
        let window_mm = task.measurable.width().0;
        let mut left: Vec<Vec<f64>> = Vec::with_capacity(3);
        let mut seconds = task.next_round_s;
        for i in 0..3 {
            let rest = whole[i] - turns[i];
            if rest.abs() < task.smallest_turn {
                continue;
            }
            seconds += task.person.instruction_s(rest, false);
            let most = self.stations.iter().map(|(_, effect)| effect[i].abs()).fold(0.0, f64::max);
            // A turn that takes the light across half the window is hardly ever seen to its end.
            let seen = (rest * most).abs() < 0.5 * window_mm;
            let u_turns = task.hand.u_turns.hypot(task.hand.u_share * rest);
            let variance = |effect: &[f64; 3]| match seen {
                true => task.live_u_mm.powi(2),
                false => (effect[i] * u_turns).powi(2),
            };
            left.push(self.points.iter().map(|(_, _, effect)| variance(effect)).collect());
        }
        let left: Vec<&[f64]> = left.iter().map(Vec::as_slice).collect();
        let done = self.chance_with(whole, &left, inside_mm, |_| TAKEN_U_MM * TAKEN_U_MM);
        seconds * (1.0 + (1.0 - done) / (done + LEAST_DONE))
    }

    /// The cheapest order and watching for these adjusters, if it is cheaper than the best so far.
    fn cheapest(
        &self,
        adjusters: &[usize],
        aim: Aim<'_>,
        clipped: Option<usize>,
        best: &mut Option<Plan>,
    ) {
        // By adjuster: every way to end its turn, with the variance that it leaves at each point.
        let options: Vec<Vec<(Option<usize>, Vec<f64>)>> = (0..3)
            .map(|i| match adjusters.contains(&i) {
                true => std::iter::once(None)
                    .chain(self.shown[i].iter().copied().map(Some))
                    .map(|station| (station, self.left_by(i, aim.setting.turns[i], station)))
                    .collect(),
                false => Vec::new(),
            })
            .collect();
        each_order(adjusters, &mut |order| {
            let mut walk = Walk {
                view: self,
                order,
                options: &options,
                aim,
                steps: Vec::with_capacity(3),
                left: Vec::with_capacity(3),
                best,
            };
            walk.from(0, [0.0; 3], clipped, 0.0);
        });
    }

    /// Variance at each point that a turn leaves, ended at a station or by count.
    fn left_by(&self, adjuster: usize, turns: f64, station: Option<usize>) -> Vec<f64> {
        let task = self.task;
        let covariance = self.tracker.influence_covariance(adjuster);
        let spread = |x: [f64; 3]| {
            let v = nalgebra::Vector3::from(x);
            v.dot(&(covariance * v)) * turns * turns
        };
        let bearing = crate::plane::Plane::bearing;
        task.points
            .iter()
            .zip(&self.points)
            .map(|(point, (_, _, effect))| {
                let here = bearing(point.x_mm, point.y_mm);
                match station {
                    None => {
                        let u_turns = task.hand.u_turns.hypot(task.hand.u_share * turns);
                        (effect[adjuster] * u_turns).powi(2) + spread(here)
                    }
                    Some(k) => {
                        let at = &task.stations[k];
                        let ratio = effect[adjuster] / self.stations[k].1[adjuster];
                        let there = bearing(at.at.x.0, at.at.y.0);
                        let off = [0, 1, 2].map(|i| here[i] - ratio * there[i]);
                        (ratio * task.live_u_mm).powi(2) + spread(off)
                    }
                }
            })
            .collect()
    }

    /// Chance that every point comes far enough inside: that of the worst.
    fn chance(&self, turns: &[f64; 3], left: &[&[f64]], inside_mm: f64) -> f64 {
        self.chance_with(turns, left, inside_mm, |variance| variance)
    }

    /// The same with another variance of each point's gap before the turns.
    fn chance_with(
        &self,
        turns: &[f64; 3],
        left: &[&[f64]],
        inside_mm: f64,
        before: impl Fn(f64) -> f64,
    ) -> f64 {
        let (low, high) = (self.task.band.low.0 + inside_mm, self.task.band.high.0 - inside_mm);
        let mut worst = (f64::INFINITY, 0.0, 1.0);
        for (k, (gap, variance, effect)) in self.points.iter().enumerate() {
            let gap = gap + effect.iter().zip(turns).map(|(j, n)| j * n).sum::<f64>();
            let variance = before(*variance) + left.iter().map(|l| l[k]).sum::<f64>();
            let u = variance.sqrt().max(1e-9);
            let room = (gap - low).min(high - gap) / u;
            if room < worst.0 {
                worst = (room, gap, u);
            }
        }
        if low < high { conformance_probability(worst.1, worst.2, low, high) } else { 0.0 }
    }
}

/// Goes through every way of watching one order of turns.
struct Walk<'a, 'b> {
    view: &'a View<'a>,
    order: &'b [usize],
    options: &'a [Vec<(Option<usize>, Vec<f64>)>],
    aim: Aim<'b>,
    steps: Vec<Step>,
    left: Vec<&'a [f64]>,
    best: &'b mut Option<Plan>,
}

impl Walk<'_, '_> {
    fn from(&mut self, at: usize, made: [f64; 3], clipped: Option<usize>, seconds: f64) {
        let (view, task) = (self.view, self.view.task);
        if self.best.as_ref().is_some_and(|best| seconds >= best.expected_s) {
            return;
        }
        let Some(&adjuster) = self.order.get(at) else {
            let aim = self.aim;
            let chance = view.chance(&aim.setting.turns, &self.left, aim.inside_mm);
            let expected_s = seconds + (1.0 - chance) * aim.again_s;
            if self.best.as_ref().is_none_or(|best| expected_s < best.expected_s) {
                *self.best = Some(Plan {
                    steps: self.steps.clone(),
                    turns: aim.setting.turns,
                    margin_mm: aim.setting.margin_mm,
                    chance,
                    seconds,
                    expected_s,
                });
            }
            return;
        };
        let turns = self.aim.setting.turns[adjuster];
        let mut after = made;
        after[adjuster] = turns;
        for (station, left) in &self.options[adjuster] {
            let mut moved = false;
            if let Some(k) = *station {
                let (gap, effect) = view.stations[k];
                let with =
                    |n: &[f64; 3]| gap + effect.iter().zip(n).map(|(j, n)| j * n).sum::<f64>();
                if !(task.sees(with(&made)) && task.sees(with(&after))) {
                    continue;
                }
                moved = clipped != Some(k);
            }
            self.steps.push(Step { adjuster, station: *station });
            self.left.push(left);
            let next_s = seconds + task.person.instruction_s(turns, moved);
            self.from(at + 1, after, station.or(clipped), next_s);
            self.steps.pop();
            self.left.pop();
        }
    }
}

/// Every order of up to three.
fn each_order(of: &[usize], with: &mut dyn FnMut(&[usize])) {
    match *of {
        [a, b, c] => [[a, b, c], [a, c, b], [b, a, c], [b, c, a], [c, a, b], [c, b, a]]
            .iter()
            .for_each(|order| with(order)),
        [a, b] => [[a, b], [b, a]].iter().for_each(|order| with(order)),
        _ => with(of),
    }
}

/// A forecast of the gaps at the points after `turns`, for a picture.
pub fn after(tracker: &Tracker, points: &[ControlPoint], turns: &[f64; 3]) -> Vec<Spot> {
    let influence = tracker.influence();
    let mut spots = tracker.spots(points);
    for spot in &mut spots {
        let effect = influence.effect(spot.x_mm, spot.y_mm);
        spot.gap_mm += effect.iter().zip(turns).map(|(j, n)| j * n).sum::<f64>();
    }
    spots
}
