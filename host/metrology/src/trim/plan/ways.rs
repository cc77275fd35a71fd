//! The ways that a round of turning can go, and what each costs: which adjusters, in which order,
//! each watched at which station.

use super::known::{Known, Turned};
use super::{Plan, Step, Task};
use crate::coverage::conformance_probability;
use crate::plane::Plane;
use crate::trim::influence::by_turns;
use crate::trim::learn::Tracker;
use crate::trim::solve::Setting;
use skimgauge_model::Station;
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
    /// Of that variance what is not the plane's.
    besides: Vec<f64>,
    /// At each station: the gap and what one turn does.
    stations: Vec<(f64, [f64; 3])>,
    /// Variance of a seat at each station, and of the gap forecast there besides the plane's.
    seats: Vec<f64>,
    known: Known,
    /// For each adjuster, the stations where it shows.
    shown: [Vec<usize>; 3],
    tracker: &'a Tracker,
}

impl<'a> View<'a> {
    pub(super) fn new(task: &'a Task<'a>, tracker: &'a Tracker, aim: Band<Mm>) -> Self {
        let influence = tracker.influence();
        let points: Vec<(f64, f64, [f64; 3])> = tracker
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
        let known = Known::of(&tracker.plane_covariance());
        let besides = |u_mm2: f64, at| (u_mm2 - known.variance(at)).max(0.0);
        let of_points = points.iter().zip(task.points);
        let of_points = of_points
            .map(|((_, variance, _), point)| besides(*variance, (point.x_mm, point.y_mm)))
            .collect();
        let seat = |s: &Station| {
            let at = (s.at.x.0, s.at.y.0);
            task.seat_u_mm.powi(2) + besides(tracker.unseated(at.0, at.1).u_mm.powi(2), at)
        };
        let seats = task.stations.iter().map(seat).collect();
        // Where the reading tells a turn no better than a hand counts it, it is not watched.
        let shown = [0, 1, 2].map(|i| {
            let shows = |k: &usize| {
                let tells = stations[*k].1[i].abs() * task.hand.u_turns > task.live_u_mm;
                tells && !task.held.contains(k)
            };
            (0..stations.len()).filter(shows).collect()
        });
        Self { task, aim, points, besides: of_points, stations, seats, known, shown, tracker }
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
        let inside = |(gap, _, effect): &(f64, f64, [f64; 3])| {
            band.inside(Mm(gap + by_turns(effect, turns)))
        };
        self.points.iter().map(|point| inside(point).0).fold(f64::INFINITY, f64::min)
    }

    /// Whether the head sees the light at a station after these turns.
    fn sees(&self, station: usize, turns: &[f64; 3]) -> bool {
        let (gap, effect) = &self.stations[station];
        self.task.sees(gap + by_turns(effect, turns))
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
        let done = self.chance_of(whole, inside_mm, |k| {
            TAKEN_U_MM * TAKEN_U_MM + left.iter().map(|left| left[k]).sum::<f64>()
        });
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
        let turned = [0, 1, 2].map(|i| {
            let turns = aim.setting.turns[i];
            let unknown = self.tracker.influence_covariance(i) * (turns * turns);
            Turned { effect: self.tracker.influence().by_adjuster[i], unknown }
        });
        each_order(adjusters, &mut |order| {
            let mut walk = Walk {
                view: self,
                order,
                turned: &turned,
                aim,
                steps: Vec::with_capacity(3),
                best,
            };
            walk.from(0, [0.0; 3], clipped, Spent { seconds: 0.0, as_told: 1.0 }, self.known);
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

    /// Chance that every point comes far enough inside with these turns, each known as well as
    /// `variance` says: that of the worst.
    fn chance_of(&self, turns: &[f64; 3], inside_mm: f64, variance: impl Fn(usize) -> f64) -> f64 {
        self.reaches(turns, inside_mm, variance).0
    }

    /// The same, and beside it how well the point that is known worst is known, mm.
    fn reaches(
        &self,
        turns: &[f64; 3],
        inside_mm: f64,
        variance: impl Fn(usize) -> f64,
    ) -> (f64, f64) {
        let aim = self.aim;
        let (low, high) = (aim.low.0 + inside_mm, aim.high.0 - inside_mm);
        let (mut worst, mut most_u) = ((f64::INFINITY, 0.0, 1.0), 0.0f64);
        for (k, (gap, _, effect)) in self.points.iter().enumerate() {
            let gap = gap + by_turns(effect, turns);
            let u = variance(k).sqrt().max(1e-9);
            most_u = most_u.max(u);
            let room = (gap - low).min(high - gap) / u;
            if room < worst.0 {
                worst = (room, gap, u);
            }
        }
        let is_some = low < high;
        (if is_some { conformance_probability(worst.1, worst.2, low, high) } else { 0.0 }, most_u)
    }

    /// The same without any turn.
    pub(super) fn chance_unturned(&self, inside_mm: f64) -> f64 {
        self.chance_of(&[0.0; 3], inside_mm, |k| self.points[k].1)
    }
}

/// What some turns cost.
#[derive(Clone, Copy)]
struct Spent {
    seconds: f64,
    /// The chance that none of those that nobody watched was faulty.
    as_told: f64,
}

/// Goes through every way of watching one order of turns.
struct Walk<'a, 'b> {
    view: &'a View<'a>,
    order: &'b [usize],
    turned: &'a [Turned; 3],
    aim: Aim<'b>,
    steps: Vec<Step>,
    best: &'b mut Option<Plan>,
}

impl Walk<'_, '_> {
    fn from(
        &mut self,
        at: usize,
        made: [f64; 3],
        clipped: Option<usize>,
        spent: Spent,
        known: Known,
    ) {
        let view = self.view;
        if self.best.as_ref().is_some_and(|best| spent.seconds >= best.expected_s) {
            return;
        }
        let Some(&adjuster) = self.order.get(at) else { return self.ends(spent, &known) };
        let turns = self.aim.setting.turns[adjuster];
        let mut after = made;
        after[adjuster] = turns;
        let ways = std::iter::once(None).chain(view.shown[adjuster].iter().copied().map(Some));
        for station in ways {
            let mut moved = false;
            if let Some(k) = station {
                if !(view.sees(k, &made) && view.sees(k, &after)) {
                    continue;
                }
                moved = clipped != Some(k);
            }
            let mut turned = self.turned(known, at, adjuster, station, moved);
            let mut as_told = spent.as_told;
            if station.is_none() {
                match self.read_after(at, &made, &after).filter(|_| view.task.reads_after_count) {
                    Some(k) => {
                        moved = clipped != Some(k);
                        turned = self.turned(known, at, adjuster, Some(k), moved);
                    }
                    None => as_told *= 1.0 - FAULTY,
                }
            }
            self.steps.push(Step { adjuster, station });
            let seconds = spent.seconds + view.task.person.instruction_s(turns, moved);
            let spent = Spent { seconds, as_told };
            self.from(at + 1, after, station.or(clipped), spent, turned);
            self.steps.pop();
        }
    }

    /// What is known once the turn is made.
    fn turned(
        &self,
        mut known: Known,
        order: usize,
        adjuster: usize,
        station: Option<usize>,
        moved: bool,
    ) -> Known {
        let (task, turned) = (self.view.task, &self.turned[adjuster]);
        let Some(k) = station else {
            let turns = self.aim.setting.turns[adjuster];
            let u_turns = task.hand.u_turns.hypot(task.hand.u_share * turns);
            known.count(turned, u_turns * u_turns);
            return known;
        };
        let place = task.stations[k].at;
        let (at, variance) = ((place.x.0, place.y.0), task.live_u_mm.powi(2));
        if moved || order == 0 {
            known.clip(self.view.seats[k]);
            // What it reads before anything is turned is known when the target is told.
            if order == 0 {
                known.read(at, variance);
            }
        }
        known.until(turned, at, variance);
        known
    }

    /// Of the last turn, where it is counted: the station where its reading is come to after that,
    /// the light being out of sight there before.
    fn read_after(&self, at: usize, before: &[f64; 3], after: &[f64; 3]) -> Option<usize> {
        let (view, adjuster) = (self.view, *self.order.get(at)?);
        let comes = |k: &usize| !view.sees(*k, before) && view.sees(*k, after);
        let shown = view.shown[adjuster].iter().copied().filter(comes);
        let effect = |k: usize| view.stations[k].1[adjuster].abs();
        let most = shown.max_by(|&a, &b| effect(a).total_cmp(&effect(b)));
        most.filter(|_| at + 1 == self.order.len())
    }

    /// All turns are made: what it costs, and whether that is the least so far.
    fn ends(&mut self, spent: Spent, known: &Known) {
        let (view, aim) = (self.view, self.aim);
        let Spent { seconds, as_told } = spent;
        let points = view.task.points;
        let variance =
            |k: usize| view.besides[k] + known.variance((points[k].x_mm, points[k].y_mm));
        let (comes, most_u_mm) = view.reaches(&aim.setting.turns, aim.inside_mm, variance);
        let chance = as_told * comes;
        // A faulty one that nobody watches takes the light away, and a round goes to find it.
        let lost_s = (1.0 - as_told) * view.task.next_round_s;
        // Another round begins the worse, the farther from the band this one may leave the light.
        let far_s = view.task.next_round_s * (2.0 * most_u_mm / view.aim.width().0).max(1.0).ln();
        let expected_s = seconds + (1.0 - chance) * (aim.again_s + far_s) + lost_s;
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
