//! Plans whose light would leave the window after all, and boards between their places.

use super::*;
use crate::assess::{LIVE_CHANGE_U_MM, MEASURABLE, SMALLEST_TURN, WORTH_MM, watched};
use crate::plane::board::{Board, Shape};
use crate::plane::fit::fit;
use crate::plane::observation::{GapObservation, Observations};
use crate::plane::prior::BoardPrior;
use crate::plane::surface::Surface;
use crate::trim::influence::{GeometryUncertainty, Influence};
use skimgauge_model::{Point, Sense};
use skimgauge_quantity::Turns;

const SIZE_MM: [f64; 2] = [2024.7, 1265.4];

fn stations() -> Vec<Station> {
    let (w, h) = (SIZE_MM[0] / 2.0, -SIZE_MM[1]);
    let at = [(-w, 0.0), (0.0, 0.0), (w, 0.0), (w, h / 2.0), (w, h), (0.0, h), (-w, h)];
    at.into_iter()
        .chain([(-w, h / 2.0)])
        .map(|(x, y)| Station { name: format!("{x} {y}"), at: Point::mm(x, y) })
        .collect()
}

fn adjusters() -> [Adjuster; 3] {
    [("left", -100.0, 90.0), ("right", 100.0, 90.0), ("upper", 0.0, 150.0)].map(
        |(name, x_mm, y_mm)| Adjuster {
            name: name.into(),
            at: Point::mm(x_mm, y_mm),
            pitch: Mm(0.5),
            clockwise: Sense::Out,
            travel_clockwise: Turns(8.0),
            travel_anticlockwise: Turns(8.0),
        },
    )
}

fn tracker(board: &Board, gap: impl Fn(f64, f64) -> f64) -> Tracker {
    let gaps =
        stations().iter().map(|s| GapObservation::at(s, gap(s.at.x.0, s.at.y.0), 0.05)).collect();
    let observations = Observations { gaps, lean: None, shared: Vec::new() };
    let found = fit(&observations, board).unwrap();
    let influence = Influence::of(&adjusters()).unwrap();
    let geometry = GeometryUncertainty { u_position_mm: 1.5, u_pitch_share: 0.05 };
    Tracker::new(&found, board, &influence, &adjusters(), geometry, Hand::default())
}

fn with<T>(points: &[ControlPoint], asked: impl FnOnce(&Task<'_>) -> T) -> T {
    let person = Person::default();
    asked(&Task {
        adjusters: &adjusters(),
        points,
        band: Band { low: Mm(2.0), high: Mm(5.0) },
        stations: &stations(),
        held: &[],
        measurable: watched(MEASURABLE),
        smallest_turn: SMALLEST_TURN,
        step: None,
        worth_mm: WORTH_MM,
        inside_mm: 0.2,
        person,
        hand: Hand::default(),
        live_u_mm: LIVE_CHANGE_U_MM,
        seat_u_mm: 0.05,
        reads_after_count: false,
        next_round_s: Task::round_s(&person, 8),
    })
}

/// A turn that was to be watched at a station from which the light would now be gone before its end
/// is watched at another, not counted: of three turns that are each counted, with the head still
/// on, the next takes found the board out of its band.
#[test]
fn a_turn_is_watched_elsewhere_where_its_light_would_leave_the_window() {
    let board = Board::flat();
    let points = board.control_points(SIZE_MM[0], SIZE_MM[1]);
    // At the bottom the turn of one adjuster ends close over what is seen there.
    let tracker = tracker(&board, |x, y| 3.5 + 0.0002 * x + 0.0009 * (y + 900.0));
    with(&points, |task| {
        let setting = task.solve(&tracker, &[0.0; 3], [true; 3], task.band).unwrap();
        let adjuster =
            (0..3).max_by(|&a, &b| setting.turns[a].abs().total_cmp(&setting.turns[b].abs()));
        let adjuster = adjuster.unwrap();
        let gone = |k: &usize| {
            let Station { at, .. } = &task.stations[*k];
            let by_mm = tracker.influence().effect(at.x.0, at.y.0)[adjuster];
            let from = tracker.unseated(at.x.0, at.y.0).gap_mm;
            !task.sees(from + by_mm * setting.turns[adjuster])
        };
        let station = (0..task.stations.len()).find(gone).expect("the light leaves somewhere");
        let mut plan = Plan::new(task, &tracker, &[0.0; 3], None).unwrap();
        let others = (0..3).filter(|&i| i != adjuster);
        plan.steps = std::iter::once(adjuster)
            .chain(others)
            .map(|adjuster| Step { adjuster, station: Some(station) })
            .collect();
        let next = plan.next(task, &tracker, &[0.0; 3], None).unwrap().unwrap();
        assert!(matches!(next.watch, Watch::Reading { .. }), "{next:?}");
    });
}

/// A plane so close to the board that the light at the top is out of sight: the first turn, which no
/// station shows whole, is counted, and brings the light up; the others are watched. Three counted
/// ones, of which one works the other way round, would take the light away everywhere. Nor is a
/// small turn made first that leaves all of it to the next round.
#[test]
fn what_a_counted_turn_brings_into_sight_is_watched() {
    let board = Board::flat();
    let points = board.control_points(SIZE_MM[0], SIZE_MM[1]);
    let known = tracker(&board, |_, _| 1.2);
    with(&points, |task| {
        let said = listed(task, &known, &[0.0; 3]).unwrap().instructions;
        let counted = said.iter().filter(|one| matches!(one.watch, Watch::Count { .. })).count();
        assert_eq!((said.len(), counted), (3, 1), "{said:?}");
    });
}

/// Between the places of a coarse survey the board is not known, and a plan that comes close to the
/// band's end there is not sure of it: its chance is no more than that of the worst place of a fine
/// grid, wherever the survey was.
#[test]
fn a_plan_is_as_sure_as_it_is_between_the_places_surveyed() {
    let (w, h) = (SIZE_MM[0] / 2.0, -SIZE_MM[1]);
    let height = |x: f64, y: f64| 0.5 * (x / w).powi(3) - 0.3 * (y / h - 0.5) * (x / w).powi(2);
    let places = stations().into_iter().map(|s| (s.at.x.0, s.at.y.0));
    let surveyed = places.chain([(0.0, h / 2.0)]);
    let surveyed: Vec<[f64; 3]> = surveyed.map(|(x, y)| [x, y, height(x, y)]).collect();
    let surface = Surface::new(surveyed, 0.05, SIZE_MM, BoardPrior::Unknown).unwrap();
    let board = Board::surveyed(Shape::Surface(surface), 0.0);
    let points = board.control_points(SIZE_MM[0], SIZE_MM[1]);
    let tracker = tracker(&board, |x, y| 3.0 - height(x, y));
    with(&points, |task| {
        let plan = Plan::new(task, &tracker, &[0.0; 3], None).unwrap();
        let setting = task.solve(&tracker, &[0.0; 3], [true; 3], plan.aim).unwrap();
        let inside_mm = task.inside_mm.min(0.8 * setting.margin_mm).max(0.0);
        let (low, high) = (plan.aim.low.0 + inside_mm, plan.aim.high.0 - inside_mm);
        let worst = (0..25 * 17).map(|k| {
            let (x, y) = ((k % 25) as f64 / 12.0 - 1.0, (k / 25) as f64 / 16.0);
            let point = board.point(x * w, y * h);
            let gap_mm = after(&tracker, &[point], &plan.turns)[0].gap_mm;
            let u_mm = tracker.u_gap_mm(&point);
            crate::coverage::conformance_probability(gap_mm, u_mm, low, high)
        });
        let worst = worst.fold(1.0, f64::min);
        assert!(plan.chance <= worst + 0.02, "{} {worst}", plan.chance);
    });
}
