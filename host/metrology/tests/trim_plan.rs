//! A round of turning: at most one instruction an adjuster, in the person's seconds.

mod common;

use common::screws;
use proptest::prelude::*;
use skimgauge_metrology::assess::MEASURABLE;
use skimgauge_metrology::plane::board::{Board, ControlPoint};
use skimgauge_metrology::plane::fit::fit;
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::trim::influence::{GeometryUncertainty, Influence};
use skimgauge_metrology::trim::learn::{Hand, Tracker};
use skimgauge_metrology::trim::person::Person;
use skimgauge_metrology::trim::plan::{Plan, Task, Watch, after};
use skimgauge_metrology::trim::solve::{solve, travel};
use skimgauge_model::{Adjuster, Point, Station};
use skimgauge_quantity::{Band, Mm};

const WIDTH_MM: f64 = 2024.7;
const HEIGHT_MM: f64 = 1265.4;
const BAND: Band<Mm> = Band { low: Mm(2.0), high: Mm(5.0) };

fn stations() -> Vec<Station> {
    let (w, h) = (WIDTH_MM / 2.0, -HEIGHT_MM);
    [
        ("top left", -w, 0.0),
        ("top", 0.0, 0.0),
        ("top right", w, 0.0),
        ("right", w, h / 2.0),
        ("bottom right", w, h),
        ("bottom", 0.0, h),
        ("bottom left", -w, h),
        ("left", -w, h / 2.0),
    ]
    .map(|(name, x, y)| Station { name: name.into(), at: Point::mm(x, y) })
    .to_vec()
}

struct Bench {
    adjusters: [Adjuster; 3],
    stations: Vec<Station>,
    points: Vec<ControlPoint>,
}

impl Bench {
    fn new() -> Self {
        let points = Board::flat().control_points(WIDTH_MM, HEIGHT_MM);
        Self { adjusters: screws(20.0), stations: stations(), points }
    }

    fn tracker(&self, gap: impl Fn(f64, f64) -> f64) -> Tracker {
        let gaps = self
            .stations
            .iter()
            .map(|s| GapObservation::at(s, gap(s.at.x.0, s.at.y.0), 0.06))
            .collect();
        let observations = Observations { gaps, lean: None, shared: Vec::new() };
        let found = fit(&observations, &Board::flat()).unwrap();
        let influence = Influence::of(&self.adjusters).unwrap();
        let geometry = GeometryUncertainty::default();
        let (board, hand) = (Board::flat(), Hand::default());
        Tracker::new(&found, &board, &influence, &self.adjusters, geometry, hand)
    }

    fn task(&self) -> Task<'_> {
        let person = Person::default();
        Task {
            adjusters: &self.adjusters,
            points: &self.points,
            band: BAND,
            stations: &self.stations,
            held: &[],
            measurable: MEASURABLE,
            smallest_turn: 5.0 / 360.0,
            step: None,
            worth_mm: 0.02,
            inside_mm: 0.5,
            person,
            hand: Hand::default(),
            live_u_mm: 0.03,
            seat_u_mm: 0.05,
            reads_after_count: false,
            next_round_s: Task::round_s(&person, 8),
        }
    }

    /// Everything that a plan says, each turn made as told.
    fn play(&self, tracker: &mut Tracker, plan: &mut Plan) -> Vec<(usize, f64, Watch)> {
        let (mut made, mut said) = ([0.0; 3], Vec::new());
        while let Some(next) = plan.next(&self.task(), tracker, &made, None).unwrap() {
            said.push((next.adjuster, next.turns, next.watch));
            made[next.adjuster] += next.turns;
            tracker.turn(next.adjuster, next.turns);
            plan.done();
            assert!(said.len() <= 3, "more than one instruction an adjuster: {said:?}");
        }
        said
    }
}

/// A parallel plane 2 mm too far off: one instruction for each adjuster, each about four turns of
/// 0.5 mm the same way. Each by itself takes the light out of the head's window at the bottom.
#[test]
fn a_parallel_plane_too_far_off_is_three_instructions() {
    let bench = Bench::new();
    let mut tracker = bench.tracker(|_, _| 5.5);
    let task = bench.task();
    let mut plan = Plan::new(&task, &tracker, &[0.0; 3], None).unwrap();
    assert!((plan.margin_mm - 1.5).abs() < 1e-6);
    let forecast = after(&tracker, &bench.points, &plan.turns);
    assert!(forecast.iter().all(|spot| (spot.gap_mm - 3.5).abs() < 1e-6));
    let said = bench.play(&mut tracker, &mut plan);
    assert_eq!(said.len(), 3);
    assert!(said.iter().all(|(_, turns, _)| (turns + 4.0).abs() < 0.01), "{said:?}");
    assert!(said.iter().any(|(_, _, watch)| matches!(watch, Watch::Count { .. })));
}

/// The turns of a plan that moves all adjusters are those of the linear programme (held to scipy in
/// `trim_published`).
#[test]
fn a_whole_plan_is_the_linear_programme() {
    let bench = Bench::new();
    let tracker = bench.tracker(|x, y| 6.5 + 0.0004 * x - 0.0005 * y);
    let plan = Plan::new(&bench.task(), &tracker, &[0.0; 3], None).unwrap();
    let spots = tracker.spots(&bench.points);
    let influence = tracker.influence();
    let best = solve(&spots, &influence, &travel(&bench.adjusters), BAND, None).unwrap();
    assert!(plan.left() == 3 && (plan.margin_mm - best.margin_mm).abs() < 1e-9);
    for (planned, wanted) in plan.turns.iter().zip(best.turns) {
        assert!((planned - wanted).abs() < 1e-9);
    }
}

/// A turn is watched where it shows, at both ends inside the window; a target outside the band is
/// said to be meant.
#[test]
fn a_turn_is_watched_where_it_shows_and_the_light_stays() {
    let bench = Bench::new();
    let influence = Influence::of(&bench.adjusters).unwrap();
    let mut watched = 0;
    for k in 0..24 {
        let (p, q) = (0.0004 * f64::from(k % 5 - 2), 0.0005 * f64::from(k / 5 - 2));
        let mut tracker = bench.tracker(|x, y| 3.6 + p * x + q * (y + 632.0));
        let mut plan = Plan::new(&bench.task(), &tracker, &[0.0; 3], None).unwrap();
        for (adjuster, turns, watch) in bench.play(&mut tracker, &mut plan) {
            assert!(turns.abs() >= 5.0 / 360.0);
            let Watch::Reading { station, from, to, outside_band } = watch else { continue };
            watched += 1;
            let effect = |s: &Station| influence.effect(s.at.x.0, s.at.y.0)[adjuster].abs();
            // The reading tells the turn no worse than a hand counts it.
            let task = bench.task();
            assert!(effect(&bench.stations[station]) * task.hand.u_turns >= task.live_u_mm);
            assert!(MEASURABLE.contains(Mm(from.gap_mm)) && MEASURABLE.contains(Mm(to.gap_mm)));
            assert_eq!(outside_band, !BAND.contains(Mm(to.gap_mm)));
            let moves = turns
                * tracker
                    .influence()
                    .effect(bench.stations[station].at.x.0, bench.stations[station].at.y.0)
                    [adjuster];
            assert!((to.gap_mm - from.gap_mm - moves).abs() < 0.05);
        }
    }
    assert!(watched > 10, "{watched}");
}

#[test]
fn what_is_in_the_middle_of_the_band_asks_for_no_turn() {
    let bench = Bench::new();
    let tracker = bench.tracker(|_, _| 3.5);
    let mut plan = Plan::new(&bench.task(), &tracker, &[0.0; 3], None).unwrap();
    assert_eq!((plan.left(), plan.turns, plan.seconds), (0, [0.0; 3], 0.0));
    assert_eq!(plan.next(&bench.task(), &tracker, &[0.0; 3], None).unwrap(), None);
}

/// One adjuster that stands wrong is one instruction, of it or of one that does as well: the other
/// two are left alone.
#[test]
fn one_adjuster_that_stands_wrong_is_one_instruction() {
    let bench = Bench::new();
    let influence = Influence::of(&bench.adjusters).unwrap();
    for (adjuster, turns) in [(0, 0.3), (1, -0.3), (2, 0.25)] {
        let off = |x: f64, y: f64| 3.5 + turns * influence.effect(x, y)[adjuster];
        let mut tracker = bench.tracker(off);
        let mut plan = Plan::new(&bench.task(), &tracker, &[0.0; 3], None).unwrap();
        let said = bench.play(&mut tracker, &mut plan);
        assert_eq!(said.len(), 1, "{said:?}");
        let wanted_mm = bench.task().inside_mm;
        let inside = |gap: f64| BAND.inside(Mm(gap)).0;
        let spots = tracker.spots(&bench.points);
        let margin_mm = spots.iter().map(|s| inside(s.gap_mm)).fold(f64::INFINITY, f64::min);
        assert!(margin_mm >= 0.8 * wanted_mm, "{margin_mm} {said:?}");
    }
}

/// No travel left one way: nothing is asked that the thread does not have.
#[test]
fn travel_that_is_used_up_is_not_asked_for() {
    let mut bench = Bench::new();
    let used = |a: &mut Adjuster| a.travel_anticlockwise.0 = 1.0;
    bench.adjusters.iter_mut().for_each(used);
    let tracker = bench.tracker(|_, _| 5.5);
    let plan = Plan::new(&bench.task(), &tracker, &[0.0, 0.0, -0.75], None).unwrap();
    assert!(plan.turns[0] >= -1.0 - 1e-9 && plan.turns[1] >= -1.0 - 1e-9, "{plan:?}");
    assert!(plan.turns[2] >= -0.25 - 1e-9, "{plan:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    /// A person who may clip the head on at more stations is never slower for it, and a plan is
    /// never dearer than what its parts come to.
    #[test]
    fn more_stations_are_never_slower(c in 2.6..4.6f64, p in -1.2..1.2f64, q in -1.2..1.2f64) {
        let mut bench = Bench::new();
        let tracker = bench.tracker(|x, y| c + p * x / 1000.0 + q * (y + 632.0) / 1000.0);
        let all = Plan::new(&bench.task(), &tracker, &[0.0; 3], None).unwrap();
        prop_assert!((0.0..=1.0).contains(&all.chance) && all.seconds <= all.expected_s + 1e-9);
        bench.stations.truncate(3);
        let few = Plan::new(&bench.task(), &tracker, &[0.0; 3], None).unwrap();
        if all.left() > 0 && few.left() > 0 {
            prop_assert!(all.expected_s <= few.expected_s + 1e-9, "{:?} {:?}", all, few);
        }
    }
}
