//! Plates that press on a wall: by hand, against published sections, against an independent
//! computation, and by statics.

use proptest::prelude::*;
use skimgauge_site::fixings::contact::{
    SOFTNESS, on_any_bedding, on_hard_bedding, on_soft_bedding,
};
use skimgauge_site::fixings::group::{Anchor, Load, PlateEdges, centroid_mm};

fn anchor(x_mm: f64, y_mm: f64, area: f64) -> Anchor {
    Anchor { name: format!("{x_mm} {y_mm}"), x_mm, y_mm, area }
}

fn row(y_mm: f64) -> Vec<Anchor> {
    vec![anchor(-100.0, y_mm, 1.0), anchor(100.0, y_mm, 1.0)]
}

/// A load about the plate's middle, as the functions want it: about the anchors' centroid.
fn about_middle(anchors: &[Anchor], fz_n: f64, mx_n_mm: f64, my_n_mm: f64) -> Load {
    let (cx_mm, cy_mm) = centroid_mm(anchors);
    Load {
        fz_n,
        mx_n_mm: mx_n_mm - cy_mm * fz_n,
        my_n_mm: my_n_mm + cx_mm * fz_n,
        ..Load::default()
    }
}

const PLATE: PlateEdges = PlateEdges { width_mm: 300.0, height_mm: 340.0 };
/// 40 kg (392.266 N) at 350 mm.
const ARM: f64 = 392.266 * 350.0;

/// One row of anchors in the plate's middle, as a strip, by hand. Plate's lower edge 170 mm below
/// the row.
///
/// - Hard: it presses with the edge, so the row pulls M / 170 mm.
/// - Soft: pressure rises linearly from a line at height c above the edge, so it acts c/3 above the
///   edge, and the row pulls M / (170 mm - c/3). In the plane of the plate the row stretches by
///   (170 - c)/c of what the edge sinks in. Pull and pressure are equal: with s = (stiffness of
///   anchors)/(stiffness of bedding over all its height of 340 mm), (170 - c) = (1/s) (c²/2)/340,
///   so c² + 680 s c - 680 s 170 = 0. For s = 1: c = -340 + sqrt(340² + 115600) = 140.833 mm, lever
///   123.056 mm, which is 27.6 % less than 170.
/// - So soft that only the bedding yields: the plate turns about the row, c = 170, lever 113.333
///   mm: a third less.
#[test]
fn one_row_of_anchors_as_a_strip_by_hand() {
    let anchors = row(0.0);
    let load = Load { mx_n_mm: ARM, ..Load::default() };
    let hard = on_hard_bedding(&anchors, PLATE, load).unwrap();
    assert_eq!(hard.pressed.to_string(), "bottom edge");
    assert!(hard.tension_n.iter().all(|n| (n - ARM / 170.0 / 2.0).abs() < 1e-6 * n), "{hard:?}");
    for (softness, lever_mm) in [(1.0, 123.055_7), (0.1, 143.745_0)] {
        let soft = on_soft_bedding(&anchors, PLATE, load, softness).unwrap();
        assert!(
            soft.iter().all(|n| (n / (ARM / lever_mm / 2.0) - 1.0).abs() < 2e-6),
            "{softness}: {soft:?}"
        );
    }
    let any = on_any_bedding(&anchors, PLATE, load).unwrap();
    let limit_n = ARM / (170.0 * 2.0 / 3.0) / 2.0;
    assert!(any.iter().all(|n| *n <= limit_n && *n > 0.998 * limit_n), "{any:?} {limit_n}");
}

/// A cracked section is such a strip: breadth b presses, steel at depth d pulls, plane stays plane.
/// Published by the transformed-area method at
/// mocivilengineering.com/
/// flexural-stress-calculation-using-transformed-area-method-for-rectangular-beam: b 14 in, d 17
/// in, n 8, steel 1.76 in² (n As 14.08 in²), 60 kip ft: axis 4.92 in deep, steel 26 655 psi, so
/// 46.91 kip.
#[test]
fn a_published_cracked_section_is_reproduced() {
    // A plate as broad as the beam with its lower edge where the beam presses; the height above the
    // steel bears nothing.
    let plate = PlateEdges { width_mm: 14.0, height_mm: 36.0 };
    let anchors = [anchor(-5.0, 17.0 - 18.0, 0.88), anchor(5.0, 17.0 - 18.0, 0.88)];
    let softness = 14.08 / (14.0 * 36.0);
    let load = Load { mx_n_mm: 60.0 * 12.0, ..Load::default() };
    let pull: f64 = on_soft_bedding(&anchors, plate, load, softness).unwrap().iter().sum();
    assert!((pull / (26.655 * 1.76) - 1.0).abs() < 1e-3, "{pull}");
}

/// Computed with numpy: 400 N at 350 mm, anchors at y = +-150 mm (two and two), plate's lower edge
/// 20 mm below the lower row.
#[test]
fn two_rows_on_a_hard_wall_pull_in_proportion_to_their_height() {
    let anchors: Vec<Anchor> = [row(150.0), row(-150.0)].concat();
    let load = Load { mx_n_mm: 400.0 * 350.0, ..Load::default() };
    let hard = on_hard_bedding(&anchors, PLATE, load).unwrap();
    assert!(
        (hard.tension_n[0] - 217.90).abs() < 5e-3 && (hard.tension_n[2] - 13.62).abs() < 5e-3,
        "{hard:?}"
    );
    let upward = on_hard_bedding(&anchors, PLATE, Load { mx_n_mm: -1000.0, ..load }).unwrap();
    assert_eq!(upward.pressed.to_string(), "top edge");
}

/// Every figure of the table, to 0.2 % of the largest tension in its case (its cells are good for
/// 0.1 %).
#[test]
fn an_independent_computation_agrees() {
    let text = include_str!("data/plate_contact.csv");
    let rows: Vec<Vec<&str>> = text
        .lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| line.split(',').collect())
        .collect();
    let mut compared = 0;
    for case in rows.chunk_by(|a, b| (a[0], a[6]) == (b[0], b[6])) {
        let number = |row: &[&str], at: usize| row[at].parse::<f64>().unwrap();
        let first = &case[0];
        let plate = PlateEdges { width_mm: number(first, 1), height_mm: number(first, 2) };
        let anchors: Vec<Anchor> =
            case.iter().map(|row| anchor(number(row, 7), number(row, 8), number(row, 9))).collect();
        let load = about_middle(&anchors, number(first, 3), number(first, 4), number(first, 5));
        let found = match first[6] {
            "hard" => on_hard_bedding(&anchors, plate, load).unwrap().tension_n,
            softness => on_soft_bedding(&anchors, plate, load, softness.parse().unwrap()).unwrap(),
        };
        let largest = case.iter().map(|row| number(row, 10)).fold(0.0, f64::max);
        for (row, found) in case.iter().zip(found) {
            assert!(
                (found - number(row, 10)).abs() < 2e-3 * largest,
                "{} {}: {found} {}",
                row[0],
                row[6],
                row[10]
            );
            compared += 1;
        }
    }
    assert!(compared > 120);
}

#[test]
fn a_pull_straight_off_presses_nowhere_and_a_push_pulls_no_anchor() {
    let anchors: Vec<Anchor> = [row(150.0), row(-150.0)].concat();
    let pulled = on_hard_bedding(&anchors, PLATE, Load { fz_n: 400.0, ..Load::default() }).unwrap();
    assert!(pulled.tension_n.iter().all(|n| (n - 100.0).abs() < 1e-6));
    assert!(pulled.pressed.to_string().starts_with("no edge"));
    let pushed = Load { fz_n: -400.0, mx_n_mm: 400.0 * 50.0, ..Load::default() };
    let pushed = on_hard_bedding(&anchors, PLATE, pushed).unwrap();
    assert_eq!(
        (pushed.tension_n, pushed.pressed.to_string().as_str()),
        (vec![0.0; 4], "whole face")
    );
    assert_eq!(on_any_bedding(&anchors, PLATE, Load::default()).unwrap(), vec![0.0; 4]);
    let biaxial = Load { mx_n_mm: 1e5, my_n_mm: -1e6, fz_n: 10.0, ..Load::default() };
    assert_eq!(on_hard_bedding(&anchors, PLATE, biaxial).unwrap().pressed.to_string(), "left edge");
}

/// Anchors on the very edge about which the load turns the plate hold nothing; the rule by which
/// the plate turned about that edge gave them no tension at all.
#[test]
fn anchors_on_the_edge_that_the_plate_turns_about_hold_nothing() {
    let load = Load { mx_n_mm: ARM, ..Load::default() };
    assert!(on_hard_bedding(&row(-170.0), PLATE, load).is_none());
    assert!(on_any_bedding(&row(-170.0), PLATE, load).is_none());
    let near = on_hard_bedding(&row(-165.0), PLATE, load).unwrap();
    assert!((near.tension_n[0] / (ARM / 5.0 / 2.0) - 1.0).abs() < 1e-5, "{near:?}");
}

fn pattern() -> impl Strategy<Value = Vec<Anchor>> {
    prop::collection::vec((-110.0..110.0_f64, -130.0..130.0_f64, 0.5..3.0_f64), 1..8)
        .prop_map(|points| points.into_iter().map(|(x, y, area)| anchor(x, y, area)).collect())
}

/// What is left of the load when the anchors have pulled has to be a push that lies within the
/// plate.
fn balanced(anchors: &[Anchor], load: Load, tension_n: &[f64]) -> Result<(), TestCaseError> {
    let (cx, cy) = centroid_mm(anchors);
    let sum = |of: &dyn Fn(&Anchor) -> f64| {
        anchors.iter().zip(tension_n).map(|(a, n)| of(a) * n).sum::<f64>()
    };
    let push = sum(&|_| 1.0) - load.fz_n;
    let over_x = sum(&|a| a.x_mm) - (cx * load.fz_n - load.my_n_mm);
    let over_y = sum(&|a| a.y_mm) - (cy * load.fz_n + load.mx_n_mm);
    let slack = 1e-4 * (load.fz_n.abs() + (load.mx_n_mm.abs() + load.my_n_mm.abs()) / 100.0);
    prop_assert!(tension_n.iter().all(|n| *n >= 0.0));
    prop_assert!(push >= -slack, "the wall pulls by {}", -push);
    prop_assert!(over_x.abs() <= PLATE.width_mm / 2.0 * (push + slack), "{over_x} {push}");
    prop_assert!(over_y.abs() <= PLATE.height_mm / 2.0 * (push + slack), "{over_y} {push}");
    Ok(())
}

proptest! {
    /// Statics, for any pattern and any direction of load, on any bedding.
    #[test]
    fn anchors_only_pull_and_the_wall_only_pushes_within_the_plate(
        anchors in pattern(), fz_n in -1e3..1e3_f64, mx_n_mm in -2e5..2e5_f64, my_n_mm in -2e5..2e5_f64, decade in -3.0..3.0_f64,
    ) {
        let load = Load { fz_n, mx_n_mm, my_n_mm, ..Load::default() };
        balanced(&anchors, load, &on_hard_bedding(&anchors, PLATE, load).unwrap().tension_n)?;
        balanced(&anchors, load, &on_soft_bedding(&anchors, PLATE, load, 10_f64.powf(decade)).unwrap())?;
    }

    /// Twice the load is twice the tension; a plate turned round is the same plate.
    #[test]
    fn tensions_follow_the_load_and_turn_with_the_plate(
        anchors in pattern(), fz_n in -1e3..1e3_f64, mx_n_mm in -2e5..2e5_f64, my_n_mm in -2e5..2e5_f64,
    ) {
        let load = Load { fz_n, mx_n_mm, my_n_mm, ..Load::default() };
        let once = on_any_bedding(&anchors, PLATE, load).unwrap();
        let double = Load { fz_n: 2.0 * fz_n, mx_n_mm: 2.0 * mx_n_mm, my_n_mm: 2.0 * my_n_mm, ..load };
        let largest = once.iter().copied().fold(1.0, f64::max);
        for (once, twice) in once.iter().zip(on_any_bedding(&anchors, PLATE, double).unwrap()) {
            prop_assert!((2.0 * once - twice).abs() < 1e-6 * largest);
        }
        // A quarter turn anticlockwise: right becomes up, up becomes left.
        let turned: Vec<Anchor> = anchors.iter().map(|a| anchor(-a.y_mm, a.x_mm, a.area)).collect();
        let plate = PlateEdges { width_mm: PLATE.height_mm, height_mm: PLATE.width_mm };
        let load = Load { fz_n, mx_n_mm: -my_n_mm, my_n_mm: mx_n_mm, ..load };
        for (straight, turned) in once.iter().zip(on_any_bedding(&turned, plate, load).unwrap()) {
            prop_assert!((straight - turned).abs() < 1e-5 * largest, "{straight} {turned}");
        }
    }

    /// The steps of softness that are gone through miss no peak between them by more than 2 % of the largest tension (1.2 % was
    /// the most in 100 000 random plates).
    #[test]
    fn no_bedding_between_the_steps_is_much_worse(
        anchors in pattern(), fz_n in -1e3..1e3_f64, mx_n_mm in -2e5..2e5_f64, my_n_mm in -2e5..2e5_f64, part in 0.0..1.0_f64,
    ) {
        let load = Load { fz_n, mx_n_mm, my_n_mm, ..Load::default() };
        let any = on_any_bedding(&anchors, PLATE, load).unwrap();
        let softness = SOFTNESS.0 * (SOFTNESS.1 / SOFTNESS.0).powf(part);
        let largest = any.iter().copied().fold(0.0, f64::max);
        for (any, one) in any.iter().zip(on_soft_bedding(&anchors, PLATE, load, softness).unwrap()) {
            prop_assert!(one <= any + 0.02 * largest + 1e-6, "{one} {any} at {softness}");
        }
    }
}
