//! What the tracker learns from turns and readings.

mod common;

use common::screws;
use skimgauge_metrology::plane::board::Board;
use skimgauge_metrology::plane::fit::fit;
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::trim::influence::{GeometryUncertainty, Influence};
use skimgauge_metrology::trim::learn::{Hand, Tracker};
use skimgauge_metrology::trim::response::{Answer, Finding, ScrewHistory, implied_turns};
use skimgauge_model::Sense;
use skimgauge_quantity::Mm;

const PLACES: [(f64, f64); 6] = [
    (-1000.0, 0.0),
    (0.0, 0.0),
    (1000.0, 0.0),
    (-1000.0, -1260.0),
    (0.0, -1260.0),
    (1000.0, -1260.0),
];

fn round(of: impl Fn(f64, f64) -> f64, u_mm: f64) -> Observations {
    let gaps = PLACES.iter().map(|&(x, y)| GapObservation::bare(x, y, of(x, y), u_mm)).collect();
    Observations { gaps, ..Observations::default() }
}

fn tracker(observations: &Observations, board: &Board) -> Tracker {
    let (screws, found) = (screws(10.0), fit(observations, board).unwrap());
    let influence = Influence::of(&screws).unwrap();
    Tracker::new(
        &found,
        board,
        &influence,
        &screws,
        GeometryUncertainty::default(),
        Hand::default(),
    )
}

/// Three turns watched at many places teach an adjuster's true pitch and position.
#[test]
fn the_influence_is_learnt_from_takes_after_a_counted_turn() {
    let mut truly = screws(10.0);
    truly[2].at.y += Mm(3.0);
    truly[2].pitch = truly[2].pitch * 1.04;
    let truth = Influence::of(&truly).unwrap();
    let before = |x: f64, y: f64| 5.0 + 0.001 * x - 0.0005 * y;
    let board = Board::flat();
    let mut known = tracker(&round(before, 0.01), &board);
    let gap = |turns: f64| move |x: f64, y: f64| before(x, y) + turns * truth.effect(x, y)[2];
    let off = |t: &Tracker| {
        (t.influence().effect(0.0, -1260.0)[2] / truth.effect(0.0, -1260.0)[2] - 1.0).abs()
    };
    let (start, u_start) = (off(&known), known.influence_u()[2][2]);
    let mut made = 0.0;
    for turns in [2.0, -4.0, 4.0, -4.0, 4.0, -4.0, 4.0, -4.0] {
        known.turn(2, turns);
        made += turns;
        for take in &round(gap(made), 0.01).gaps {
            assert!(known.take(take));
        }
    }
    assert!(off(&known) < start / 3.0, "from {start} to {}", off(&known));
    assert!(known.influence_u()[2][2] < u_start / 2.0);
    let here = known.live(1000.0, -1260.0).gap_mm;
    assert!((here - gap(made)(1000.0, -1260.0)).abs() < 0.02);
}

/// A turn dialled to a live reading: the reading at one station mends the plane everywhere, though
/// the turn was miscounted by a tenth and the head sits 0.08 mm wrong.
#[test]
fn a_live_reading_mends_a_miscounted_turn() {
    let truth = Influence::of(&screws(10.0)).unwrap();
    let before = |x: f64, y: f64| 5.0 + 0.001 * x - 0.0005 * y;
    let mut known = tracker(&round(before, 0.03), &Board::flat());
    let (x, y, seat_mm) = (1000.0, -1260.0, 0.08);
    known.seat(0.05);
    assert!(known.read(x, y, before(x, y) + seat_mm, 0.005));
    known.turn(1, 1.0);
    let unsure = known.live(x, y).u_mm;
    let after = |x: f64, y: f64| before(x, y) + 1.1 * truth.effect(x, y)[1];
    assert!(known.read(x, y, after(x, y) + seat_mm, 0.005));
    assert!(known.live(x, y).u_mm < unsure / 10.0);
    for (x, y) in PLACES {
        let plane = known.plane().height_mm(x, y);
        assert!((plane - after(x, y)).abs() < 0.1, "{x} {y}: {plane}, truly {}", after(x, y));
    }
}

#[test]
fn the_boards_own_height_at_a_station_is_kept_from_round_to_round() {
    let bump = |x: f64, y: f64| if (x, y) == PLACES[4] { -0.3 } else { 0.0 };
    let first = |x: f64, y: f64| 4.0 + bump(x, y);
    let board = Board { u_shape_mm: 0.2, ..Board::flat() };
    let mut known = tracker(&round(first, 0.02), &board);
    let point = board.point(0.0, -1260.0);
    assert!((known.spots(&[point])[0].gap_mm - 3.7).abs() < 0.03);
    assert!(known.u_gap_mm(&point) < 0.03);
    known.lose_plane();
    let second = |x: f64, y: f64| 6.0 + 0.001 * x + bump(x, y);
    for take in round(second, 0.02).gaps.iter().enumerate().filter(|(i, _)| *i != 4).map(|(_, t)| t)
    {
        assert!(known.take(take));
    }
    // Not taken again, and still known.
    assert!((known.spots(&[point])[0].gap_mm - 5.7).abs() < 0.05);
}

#[test]
fn a_reversed_screw_is_found_and_turned_about() {
    let mut truly = screws(10.0);
    truly[0].clockwise = Sense::In;
    let truth = Influence::of(&truly).unwrap();
    let before = |_: f64, _: f64| 5.0;
    let mut known = tracker(&round(before, 0.02), &Board::flat());
    let (x, y) = (-1000.0, -1260.0);
    known.seat(0.05);
    known.read(x, y, 5.0, 0.01);
    let predicted = known.after_turn(0, 0.5, x, y);
    let observed = 5.0 + 0.5 * truth.effect(x, y)[0];
    let answer = Answer {
        turns: 0.5,
        predicted_mm: predicted.gap_mm - 5.0,
        observed_mm: observed - 5.0,
        u_mm: predicted.u_mm,
    };
    assert_eq!(Finding::of(&answer, ScrewHistory::default()), Finding::Reversed);
    known.reverse(0);
    known.turn(0, 0.5);
    known.read(x, y, observed, 0.01);
    assert!((known.influence().effect(x, y)[0] / truth.effect(x, y)[0] - 1.0).abs() < 0.05);
    assert!(
        (known.plane().height_mm(1000.0, 0.0) - (5.0 + 0.5 * truth.effect(1000.0, 0.0)[0])).abs()
            < 0.2
    );
}

#[test]
fn two_rounds_imply_the_turns_between_them() {
    let truth = Influence::of(&screws(10.0)).unwrap();
    let turns = [0.4, -0.7, 1.2];
    let before = |x: f64, _: f64| 5.0 + 0.001 * x;
    let after = |x: f64, y: f64| {
        before(x, y) + (0..3).map(|i| turns[i] * truth.effect(x, y)[i]).sum::<f64>()
    };
    let board = Board::flat();
    let (first, second) =
        (fit(&round(before, 0.02), &board).unwrap(), fit(&round(after, 0.02), &board).unwrap());
    let implied = implied_turns(&first, &second, &truth).unwrap();
    for (got, want) in implied.turns.iter().zip(turns) {
        assert!((got - want).abs() < 1e-9);
    }
    assert!(implied.u_turns.iter().all(|u| *u > 0.0 && *u < 0.1));
}

#[test]
fn a_reading_that_is_no_number_changes_nothing() {
    let mut known = tracker(&round(|_, _| 5.0, 0.02), &Board::flat());
    let before = known.clone();
    assert!(!known.read(0.0, 0.0, f64::NAN, 0.01));
    assert!(!known.read(0.0, 0.0, 5.0, 0.0));
    assert!(!known.read(0.0, 0.0, 5.0, f64::INFINITY));
    assert_eq!(known, before);
}
