//! Seat scatter: stated, and as the seats of `zero` show it.

mod common;

use common::Dice;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use skimgauge_metrology::coverage::{LEVEL, t_factor};
use skimgauge_metrology::plane::seating::{Seating, StatedSeat};

const STATED: StatedSeat = StatedSeat { u_mm: 0.05, dof: 8.0 };

/// Two variances pooled by their degrees of freedom: NIST/SEMATECH e-Handbook of Statistical Methods,
/// 1.3.5.3, worked by hand.
#[test]
fn what_is_stated_and_what_the_seats_show_are_pooled() {
    let alone = Seating::of(STATED, &[]);
    assert_eq!((alone.u_mm, alone.dof, alone.shown_mm), (0.05, 8.0, None));
    // Sum of squares 0.02 of three free.
    let some = Seating::of(StatedSeat { u_mm: 0.06, dof: 10.0 }, &[&[0.0, 0.1, 0.1, 0.2]]);
    let pooled = ((10.0f64 * 0.0036 + 0.02) / 13.0).sqrt();
    assert!(!some.is_worse && (some.u_mm - pooled).abs() < 1e-12 && some.dof == 13.0);
    // What is no number is no seat, and one reading no repeat.
    let calm = Seating::of(STATED, &[&[1.0, 1.02, 0.97, 1.01], &[5.0, f64::NAN]]);
    let pooled = ((8.0f64 * 0.0025 + 0.0014) / 11.0).sqrt();
    assert!(!calm.is_worse && (calm.u_mm - pooled).abs() < 1e-12 && calm.dof == 11.0);
}

#[test]
fn seats_that_scatter_more_are_believed_and_said() {
    // Sum of squares 0.375 of five free: 150 in the stated variance.
    let wild = Seating::of(STATED, &[&[0.0, 0.5, 0.0, 0.5, 0.0, 0.5], &[1.0]]);
    assert!(wild.is_worse && wild.dof == 5.0);
    assert!((wild.u_mm - (0.375f64 / 5.0).sqrt()).abs() < 1e-12);
    assert_eq!(wild.shown_mm, Some(wild.u_mm));
}

/// Zeros of so many seats that scatter by `actual_mm`: in how many a word is said, and how often the
/// interval of a further seat holds the truth.
fn zeros(seats: usize, actual_mm: f64) -> (f64, f64) {
    const ZEROS: usize = 20_000;
    let mut dice = Dice(Pcg64::seed_from_u64(12));
    let (mut said, mut held) = (0, 0);
    for _ in 0..ZEROS {
        let shown: Vec<f64> = (0..seats).map(|_| dice.normal(actual_mm)).collect();
        let seating = Seating::of(STATED, &[&shown]);
        let expanded_mm = t_factor(LEVEL, seating.dof).unwrap() * seating.u_mm;
        said += usize::from(seating.is_worse);
        held += usize::from(dice.normal(actual_mm).abs() <= expanded_mm);
    }
    (said as f64 / ZEROS as f64, held as f64 / ZEROS as f64)
}

/// As stated, and twice as much. Expected shares: the same worked out with numpy and scipy's
/// chi-square and t.
#[test]
fn twice_the_stated_scatter_is_said_after_zero_and_widens_the_intervals() {
    let (said, held) = zeros(6, 0.05);
    assert!(said < 0.06, "{said}");
    assert!((0.94..0.97).contains(&held), "{held}");
    let (said, held) = zeros(6, 0.10);
    assert!(said > 0.70 && held > 0.92, "{said} {held}");
    let (said, held) = zeros(12, 0.10);
    assert!(said > 0.90 && held > 0.935, "{said} {held}");
}
