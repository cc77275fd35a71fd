//! The ways that a round of turning can go, and what each costs: which adjusters, in which order,
//! each watched at which station.

use super::{Plan, Step, Task};
use crate::coverage::conformance_probability;
use crate::plane::Plane;
use crate::trim::learn::Tracker;
use crate::trim::solve::Setting;
use skimgauge_quantity::{Band, Mm};

/// The chance that an adjuster whose turn nobody watches does other than its papers say: reversed,
/// slipping, of another pitch. Common practice, no source.
const FAULTY: f64 = 0.1;

/// After another round's takes a gap is known so well, standard uncertainty, mm.
const TAKEN_U_MM: f64 = 0.06;

/// However bad a round, one in so many does it.
const LEAST_DONE: f64 = 0.1;

/// What a set of adjusters comes to, and what it costs to come short.
#[derive(Clone, Copy)]
pub(super) struct Aim<'a> {
    pub(super) setting: &'a Setting,
    pub(super) inside_mm: f64,
    /// Seconds until it is done, should this round not do it.
    pub(super) again_s: f64,
}

/// What every candidate is judged by, worked out once.
pub(super) struct View<'a> {
    task: &'a Task<'a>,
    /// What the turns are aimed at.
    aim: Band<Mm>,
    /// At each point: the gap, the variance of it, and what one turn of each adjuster does.
    points: Vec<(f64, f64, [f64; 3])>,
    /// At each station: the gap and what one turn does.
    stations: Vec<(f64, [f64; 3])>,
    /// For each adjuster, the stations where it shows.
    shown: [Vec<usize>; 3],
    tracker: &'a Tracker,
}

impl<'a> View<'a> {
    pub(super) fn new(task: &'a Task<'a>, tracker: &'a Tracker, aim: Band<Mm>) -> Self {
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
        // Where the reading tells a turn no better than a hand counts it, it is not watched.
        let shown = [0, 1, 2].map(|i| {
            let shows = |k: &usize| stations[*k].1[i].abs() * task.hand.u_turns > task.live_u_mm;
            (0..stations.len()).filter(shows).collect()
        });
        Self { task, aim, points, stations, shown, tracker }
    }

    pub(super) fn task(&self) -> &Task<'a> {
        self.task
    }

    /// Least distance to an end of a band without any turn, mm.
    pub(super) fn unturned(&self, band: Band<Mm>) -> f64 {
        self.turned(band, &[0.0; 3])
    }

    /// The same after these turns.
    pub(super) fn turned(&self, band: Band<Mm>, turns: &[f64; 3]) -> f64 {
        let moved = |effect: &[f64; 3]| effect.iter().zip(turns).map(|(j, n)| j * n).sum::<f64>();
        let inside = |(gap, _, effect): &(f64, f64, [f64; 3])| band.inside(Mm(gap + moved(effect)));
        self.points.iter().map(|point| inside(point).0).fold(f64::INFINITY, f64::min)
    }

    /// Seconds until it is done should these turns not do it: one more round, or, where what is
    /// left of the best setting is again too much to be watched, several.
    pub(super) fn again_s(&self, whole: &[f64; 3], turns: &[f64; 3], inside_mm: f64) -> f64 {
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
            // A turn that takes the light across half the window is hardly ever seen to its end; of
            // the stations where it is seen, and counting, the best.
            let stays = |k: &&usize| (rest * self.stations[**k].1[i]).abs() < 0.5 * window_mm;
            let ways = std::iter::once(None).chain(self.shown[i].iter().filter(stays).map(Some));
            let by = ways.map(|station| self.left_by(i, rest, station.copied()));
            let most = |left: &Vec<f64>| left.iter().copied().fold(0.0, f64::max);
            left.extend(by.min_by(|a, b| most(a).total_cmp(&most(b))));
        }
        let left: Vec<&[f64]> = left.iter().map(Vec::as_slice).collect();
        let done = self.chance_with(whole, &left, inside_mm, |_| TAKEN_U_MM * TAKEN_U_MM);
        seconds * (1.0 + (1.0 - done) / (done + LEAST_DONE))
    }

    /// The cheapest order and watching for these adjusters, if it is cheaper than the best so far.
    pub(super) fn cheapest(
        &self,
        adjusters: &[usize],
        aim: Aim<'_>,
        clipped: Option<usize>,
        best: &mut Option<Plan>,
    ) {
        let options: Vec<Vec<Way>> = (0..3)
            .map(|i| match adjusters.contains(&i) {
                true => std::iter::once(None)
                    .chain(self.shown[i].iter().copied().map(Some))
                    .map(|station| self.way(i, aim.setting.turns[i], station))
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

    fn way(&self, adjuster: usize, turns: f64, station: Option<usize>) -> Way {
        let left = self.left_by(adjuster, turns, station);
        let at = station.and_then(|k| Some((self.stations.get(k)?, self.task.stations.get(k)?)));
        let target_u_mm = self.task.target_seat_u_mm.filter(|_| station.is_some());
        let anew = at.zip(target_u_mm).map(|((view, station), seat_u_mm)| {
            let u_mm = self.tracker.unseated(station.at.x.0, station.at.y.0).u_mm.hypot(seat_u_mm);
            let ratio = |effect: &[f64; 3]| effect[adjuster] / view.1[adjuster];
            self.points.iter().map(|(_, _, effect)| (ratio(effect) * u_mm).powi(2)).collect()
        });
        Way { station, left, anew }
    }

    /// Variance at each point that a turn leaves, ended at a station or by count.
    fn left_by(&self, adjuster: usize, turns: f64, station: Option<usize>) -> Vec<f64> {
        let task = self.task;
        let covariance = self.tracker.influence_covariance(adjuster);
        let spread = |x: [f64; 3]| {
            let v = nalgebra::Vector3::from(x);
            v.dot(&(covariance * v)) * turns * turns
        };
        let bearing = Plane::bearing;
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
    pub(super) fn chance(&self, turns: &[f64; 3], left: &[&[f64]], inside_mm: f64) -> f64 {
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
        let aim = self.aim;
        let (low, high) = (aim.low.0 + inside_mm, aim.high.0 - inside_mm);
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

/// A way to end a turn.
struct Way {
    /// At this station; `None`: by count.
    station: Option<usize>,
    /// Variance that it leaves at each point, mm^2.
    left: Vec<f64>,
    /// What comes to it where the head is clipped on for it, and the reading was told before: the
    /// seat's error and that of the gap forecast there, times the leverage.
    anew: Option<Vec<f64>>,
}

/// Goes through every way of watching one order of turns.
struct Walk<'a, 'b> {
    view: &'a View<'a>,
    order: &'b [usize],
    options: &'a [Vec<Way>],
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
            let counted = self.steps.iter().filter(|step| step.station.is_none()).count();
            let as_told = (1.0 - FAULTY).powi(counted as i32);
            let chance = as_told * view.chance(&aim.setting.turns, &self.left, aim.inside_mm);
            // A faulty one that nobody watches takes the light away, and a round goes to find it.
            let lost_s = (1.0 - as_told) * task.next_round_s;
            let expected_s = seconds + (1.0 - chance) * aim.again_s + lost_s;
            if self.best.as_ref().is_none_or(|best| expected_s < best.expected_s) {
                *self.best = Some(Plan {
                    steps: self.steps.clone(),
                    points: Vec::new(),
                    aim: view.aim,
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
        for Way { station, left, anew } in &self.options[adjuster] {
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
            let before = self.left.len();
            self.left.push(left);
            self.left.extend(anew.iter().filter(|_| moved).map(Vec::as_slice));
            let next_s = seconds + task.person.instruction_s(turns, moved);
            self.from(at + 1, after, station.or(clipped), next_s);
            self.steps.pop();
            self.left.truncate(before);
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
