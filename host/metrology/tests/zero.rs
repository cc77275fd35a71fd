//! Zeroing: the gauge's fit held against published and reference values, and constants found again
//! from what a head of known constants gives.

mod rig;
mod table;

use rig::{DAY, HEAD, LABEL_MM, Rig, gauge};
use skimgauge_metrology::zero::pixels::{NoTable, compare};
use skimgauge_metrology::zero::slits::{self, Line, NoSlit};
use skimgauge_metrology::zero::{
    Check, Checked, Effect, Effects, Lamp, Mean, Observation, Outcome, Pair, Scaled, Session,
    Slope, Stand, Step, StillError, ZeroError, through,
};
use skimgauge_numbers::Numbers;
use skimgauge_quantity::Style;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::pixels::{PIXELS, Pixels};
use table::Table;

fn close(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got}, want {want}");
}

/// Nothing is known of the slope but what it is about.
const FORMER: Slope = Slope { mm_per_code: 1.709_207e-3, u: f64::INFINITY, curvature: 0.0 };

fn effect(u_mm: f64) -> Vec<Effect> {
    vec![Effect { from: format!("{u_mm}"), u_mm }]
}

/// JCGM 100:2008 H.3, calibration of a thermometer (data and results as read in GTC 1.5.1 and
/// suncal 1.7): errors from the scatter alone.
#[test]
fn gum_h3_straight_line() {
    let data = Table::read(include_str!("data/gum_h3.csv"));
    let (t, b) = (data.numbers("t_degC"), data.numbers("b_degC"));
    let observations: Vec<Observation> = t
        .iter()
        .zip(&b)
        .enumerate()
        .map(|(stand, (t, b))| Observation {
            stand,
            slit: 0,
            height_mm: *b,
            middle_mm: 0.0,
            middle_u_mm: 1e-3,
            code: *t,
            code_u: 0.0,
            warm_mm: 0.0,
        })
        .collect();
    let lifted = vec![false; t.len()];
    let fit = through(&observations, &Effects::default(), &lifted, 20.0, FORMER, true).unwrap();
    close(fit.at_mm, -0.171_203_790_131_35, 1e-12);
    close(fit.slope.unwrap(), 0.002_182_697_739_89, 1e-13);
    close(fit.at_u_mm, 0.0029, 5e-5);
    close(fit.slope_u * fit.slope.unwrap(), 0.000_667_938_772_823, 1e-12);
    close(fit.birge.unwrap() * 1e-3, 0.0035, 5e-5);
    assert_eq!(fit.dof, 9);
}

/// The gauge's own data (`data/zero_gauge.py`, which says what made it).
fn reference(one_slit: bool) -> (Vec<Observation>, Vec<bool>, Table) {
    let data = Table::read(include_str!("data/zero_gauge.csv"));
    let number = |name: &str, row: usize| data.number(name, row);
    let mut lifted = vec![false; 6];
    let mut observations = Vec::new();
    for row in 0..data.len() {
        let stand = number("stand", row) as usize;
        lifted[stand] = number("lifted", row) > 0.0;
        if one_slit && number("slit", row) == 0.0 {
            continue;
        }
        observations.push(Observation {
            stand,
            slit: number("slit", row) as usize,
            height_mm: number("height_mm", row),
            middle_mm: number("middle_mm", row),
            middle_u_mm: if one_slit { number("y_odr_u", row) } else { 0.0015 },
            code: number("code", row),
            code_u: if one_slit { 8.0 } else { 1.5 },
            warm_mm: 0.0,
        });
    }
    (observations, lifted, data)
}

const HOME: f64 = 7_602.502_605;

/// Generalised least squares with the covariance of all observations written out (numpy 2.4,
/// `data/zero_gauge.py`): shared heights, gauge, seats, scatter of the stand-off.
#[test]
fn shared_errors_are_the_covariance_of_a_reference_library() {
    let (observations, lifted, _) = reference(false);
    let effects = Effects {
        slit: effect(0.006),
        gauge: effect(0.007),
        stand: effect(0.012),
        lifted: vec![Effect { from: "leaves".to_owned(), u_mm: 0.007 }],
    };
    let fit = through(&observations, &effects, &lifted, HOME, FORMER, true).unwrap();
    close(fit.at_mm, 0.418_656_238, 2e-9);
    close(fit.slope.unwrap(), 0.001_721_252_155, 2e-12);
    close(fit.at_u_mm, 0.010_506_413, 2e-9);
    close(fit.slope_u * fit.slope.unwrap(), 0.000_009_911_551, 2e-12);
    let chi_square = fit.birge.unwrap().powi(2) * fit.dof as f64;
    close(chi_square, 3.976_795_334, 1e-6);
    // What the budget says it is made of is all of it.
    close(fit.budget.u(), fit.zero_u_mm, 1e-9);
}

/// A former slope that agrees counts as one more observation (the mean of two, weighted by their
/// variances: JCGM 100, and any textbook); one that does not is another sensor's, and does not.
#[test]
fn a_former_scale_counts_if_it_agrees() {
    let (observations, lifted, _) = reference(true);
    let fit = |u: f64, mm_per_code: f64| {
        let former = Slope { mm_per_code, u, curvature: 0.0 };
        through(&observations, &Effects::default(), &lifted, HOME, former, true).unwrap()
    };
    let alone = fit(f64::INFINITY, 1.72e-3);
    let (slope, u) = (alone.slope.unwrap(), alone.slope_u * alone.slope.unwrap());
    let (former, former_u) = (1.72e-3_f64, 0.004 * 1.72e-3_f64);
    let (w, former_w) = (u.powi(-2), former_u.powi(-2));
    let both = fit(0.004, former);
    close(both.slope.unwrap(), (w * slope + former_w * former) / (w + former_w), 1e-10);
    close(both.slope_u * both.slope.unwrap(), (w + former_w).powf(-0.5), 1e-10);
    for other in [1.6e-3, -1.7e-3] {
        assert_eq!(fit(0.004, other).slope, fit(f64::INFINITY, other).slope);
    }
}

/// Orthogonal distance regression, errors in both coordinates (scipy.odr 1.16, which is ODRPACK;
/// `data/zero_gauge.py`): eight codes of scatter, five times a real head's, are told by a fit that
/// carries them through the slope, to a thirtieth of what the result is known to.
#[test]
fn scatter_of_the_stand_off_is_no_error_of_the_scale() {
    let (observations, lifted, _) = reference(true);
    let fit: Scaled =
        through(&observations, &Effects::default(), &lifted, HOME, FORMER, true).unwrap();
    close(fit.at_mm, 0.421_030_269, 0.0003);
    close(fit.slope.unwrap(), 0.001_721_446_011, 0.000_014 / 30.0);
    close(fit.at_u_mm / 0.009_694_531, 1.0, 0.03);
    close(fit.slope_u * fit.slope.unwrap() / 0.000_013_993_028, 1.0, 0.03);
}

/// ISO 11146-1: four standard deviations of a flat line are 4 / root 12 of it, of a bell four
/// sigma; its middle is where it stands, wherever between two pixels.
#[test]
fn a_line_has_its_middle_and_its_width() {
    for (place, half) in [(40.0, 3.0), (40.37, 3.0), (141.8, 2.5), (9.5, 3.2), (244.0, 3.0)] {
        let lit: Vec<f64> = (0..PIXELS)
            .map(|at| {
                let share = |k: i32| {
                    let x = at as f64 - 0.5 + (f64::from(k) + 0.5) / 64.0;
                    f64::from(u8::from((x - place).abs() <= half)) / 64.0
                };
                300.0 + 0.4 * at as f64 + 1_500.0 * (0..64).map(share).sum::<f64>()
            })
            .collect();
        let lines = slits::lines(&lit);
        let [line] = lines[..] else { panic!("{place}: {lines:?}") };
        // So near to an end nothing is seen beside it on one side.
        let whole = (18.0..238.0).contains(&place);
        close(line.middle_mm, place * slits::PITCH_MM, if whole { 0.0008 } else { 0.003 });
        if !whole {
            continue;
        }
        // A pixel's own height widens it: variances add.
        let own = (2.0 * half).hypot(1.0) * slits::PITCH_MM;
        close(line.width_mm, 4.0 / 12f64.sqrt() * own, 0.012);
        close(line.height, 1_500.0, 30.0);
    }
    // Half way between two pixels, these unequal by chance: always found, to a micrometre or two.
    for seed in 0..300 {
        let mut chance = Numbers(seed);
        let place = 60.0 + f64::from(seed as u32 % 100) / 100.0;
        let lit: Vec<f64> = (0..PIXELS)
            .map(|at| {
                let share = (3.0 - (at as f64 - place).abs()).clamp(0.0, 1.0);
                1_500.0 * share * (1.0 + chance.normal(0.03))
            })
            .collect();
        let lines = slits::lines(&lit);
        let [line] = lines[..] else { panic!("seed {seed}: {lines:?}") };
        close(line.middle_mm, place * slits::PITCH_MM, 0.006);
    }
    assert!(slits::lines(&[f64::NAN; PIXELS]).is_empty() && slits::lines(&[]).is_empty());
}

#[test]
fn noise_slopes_and_edges_are_no_lines() {
    for seed in 0..200 {
        let mut chance = Numbers(seed);
        let lit: Vec<f64> = (0..PIXELS)
            .map(|at| {
                let edge = if at > 120 { 400.0 } else { 0.0 };
                700.0 + 2.0 * at as f64 + edge + chance.normal(6.0)
            })
            .collect();
        assert!(slits::lines(&lit).is_empty(), "seed {seed}: {:?}", slits::lines(&lit));
    }
}

fn line(middle_mm: f64, width_mm: f64, height: f64) -> Line {
    Line { middle_mm, width_mm, height }
}

#[test]
fn slits_are_known_by_their_distance_or_where_they_should_be() {
    let which = |lines: &[Line], expected_mm: f64| {
        slits::matched(lines, &LABEL_MM, expected_mm)
            .map(|seen| seen.iter().map(|(slit, _)| *slit).collect::<Vec<_>>())
    };
    let (low, high) = (line(2.6, 0.4, 900.0), line(8.602, 0.4, 700.0));
    assert_eq!(which(&[low, high], 0.4), Ok(vec![0, 1]));
    // Nothing need be known of the head then.
    assert_eq!(which(&[low, high], -4.0), Ok(vec![0, 1]));
    // A mirror image between the two, even a bright one.
    assert_eq!(which(&[low, line(5.0, 0.4, 950.0), high], 0.4), Ok(vec![0, 1]));
    assert_eq!(which(&[low], 0.4), Ok(vec![0]));
    assert_eq!(which(&[high], 0.4), Ok(vec![1]));
    // Lifted by 6 mm: the upper slit stands where the lower one stood.
    assert_eq!(which(&[line(2.6, 0.4, 900.0)], 6.4), Ok(vec![1]));
    assert_eq!(which(&[], 0.4), Err(NoSlit::NoLight));
    let thick = which(&[line(3.0, 1.5, 900.0)], 0.4);
    assert!(matches!(thick, Err(NoSlit::NotThrough { .. })), "{thick:?}");
    let apart = which(&[low, line(8.1, 0.4, 700.0)], 0.4).unwrap_err();
    assert!(apart.to_string().contains("5.50 mm apart") && apart.to_string().contains("6.00 mm"));
    let elsewhere = which(&[line(5.6, 0.4, 900.0)], 0.4).unwrap_err();
    assert!(elsewhere.to_string().contains("6.0 mm over the board"), "{elsewhere}");
}

fn finished(rig: &mut Rig) -> Outcome {
    rig.session().finish(&Calibration::nominal(HEAD), DAY, "A. Tester").unwrap()
}

#[test]
fn constants_are_found_again() {
    for seed in 0..10 {
        let mut rig = Rig::new(seed);
        let outcome = finished(&mut rig);
        let new = &outcome.calibration;
        for lift_mm in [-0.2, 0.0, 0.3] {
            let error_mm = rig.error_mm(new, lift_mm);
            assert!(error_mm.abs() < 0.005, "seed {seed}, {lift_mm}: {error_mm}");
        }
        // Between the lifts' and the nominal one, which counts as much.
        close(f64::from(new.stand_off.slope_pm_per_code) * 1e-9 / rig.slope, 1.0, 0.01);
        close(new.tilt_offset.level.degrees(), rig.level_offset_deg, 1e-5);
        assert_eq!(new.tilt_offset.lean, Calibration::nominal(HEAD).tilt_offset.lean);
        assert_eq!((new.date, new.by.as_str()), (DAY, "A. Tester"));
        assert!(outcome.kept.is_empty() && new.plausible() && !outcome.bent);
        assert_eq!(outcome.residuals.len(), 10);
        assert_eq!(new.pixels, outcome.pixels.as_ref().unwrap().digest());
        let budget = outcome.budget.unwrap();
        assert!((budget.u() - new.zero_u.mm()).abs() < 0.0011, "{}", budget.table(0.95));
        for origin in ["slits' heights", "out of line", "stand on the board", "seat", "swivel"] {
            assert!(budget.table(0.95).contains(origin), "{origin}: {}", budget.table(0.95));
        }
    }
}

/// Over many gauges and heads: errors after zeroing against stated uncertainty.
/// How seats scatter is what the rig's do, over many zeroings; a slit that is not where its label says
/// is no scatter.
#[test]
fn the_seats_of_a_zeroing_tell_how_seats_scatter() {
    for (seat_mm, label_off_mm) in [(0.012, 0.0), (0.05, 0.03)] {
        let (mut squares, mut free) = (0.0, 0.0);
        for seed in 0..150 {
            let mut rig = Rig::new(seed);
            (rig.seat_mm, rig.slits_mm[1]) = (seat_mm, LABEL_MM[1] + label_off_mm);
            let seats_mm = finished(&mut rig).seats_mm;
            assert_eq!(seats_mm.len(), 3, "the three on the board");
            let mean = seats_mm.iter().sum::<f64>() / 3.0;
            squares += seats_mm.iter().map(|seat| (seat - mean).powi(2)).sum::<f64>();
            free += 2.0;
        }
        let shown_mm = (squares / free).sqrt();
        // A hundred and fifty times two degrees of freedom: four per cent.
        close(shown_mm / seat_mm, 1.0, 0.15);
    }
    assert!(finished_without_gauge(&mut Rig::new(3)).seats_mm.is_empty());
}

fn finished_without_gauge(rig: &mut Rig) -> Outcome {
    let session = Session { stands: Vec::new(), gauge: None, ..rig.session() };
    session.finish(&Calibration::nominal(HEAD), DAY, "A. Tester").unwrap()
}

#[test]
fn stated_uncertainty_covers_the_errors() {
    let (mut inside, mut squares, n) = (0, 0.0, 200);
    for seed in 0..n {
        let mut rig = Rig::new(1_000 + seed);
        let of_all = rig.chance.normal((0.0043f64.powi(2) + 2.0 * 0.0029f64.powi(2)).sqrt());
        for slit in 0..2 {
            rig.slits_mm[slit] += rig.chance.normal(0.006) + of_all;
        }
        (rig.seat_mm, rig.leaves_mm) = (0.012f64.hypot(0.0029), 0.0072);
        let new = finished(&mut rig).calibration;
        let error_mm = rig.error_mm(&new, 0.0);
        inside += u32::from(error_mm.abs() < 1.96 * new.zero_u.mm());
        squares += (error_mm / new.zero_u.mm()).powi(2) / n as f64;
    }
    let share = f64::from(inside) / n as f64;
    assert!(share > 0.92, "{share} inside");
    // Honest, not lavish.
    assert!(squares.sqrt() > 0.7 && squares.sqrt() < 1.1, "{}", squares.sqrt());
}

/// A sensor whose output falls with the distance: its sign is found where the head was lifted.
#[test]
fn a_falling_sensor_is_found_as_such() {
    let mut rig = Rig { slope: -1.7e-3, ..Rig::new(3) };
    let outcome = finished(&mut rig);
    close(f64::from(outcome.calibration.stand_off.slope_pm_per_code), -1.7e6, 5_000.0);
    assert!(rig.error_mm(&outcome.calibration, 0.3).abs() < 0.004);
}

#[test]
fn a_bend_is_taken_when_the_residuals_ask_for_it_and_only_then() {
    for (bend, wanted) in [(0.0, false), (2e-7, true)] {
        let mut rig = Rig { bend, seat_mm: 0.0, ..Rig::new(1) };
        let mut session = rig.session();
        session.seat_u_mm = 0.002;
        session.stands.extend([2.0, 2.6, 3.2, 0.3].map(|lift_mm| rig.stand(lift_mm)));
        let outcome = session.finish(&Calibration::nominal(HEAD), DAY, "x").unwrap();
        assert_eq!(outcome.bent, wanted, "{bend}: {:?}", outcome.residuals);
    }
}

#[test]
fn a_session_is_put_aside_and_taken_up_again() {
    let session = Rig::new(2).session();
    let text = serde_json::to_string(&session).unwrap();
    let again: Session = serde_json::from_str(&text).unwrap();
    let before = Calibration::nominal(HEAD);
    assert_eq!(
        again.finish(&before, DAY, "x").unwrap().calibration,
        session.finish(&before, DAY, "x").unwrap().calibration
    );
}

#[test]
fn steps_that_were_not_made_keep_their_constants() {
    let mut rig = Rig::new(3);
    let whole = rig.session();
    let before = Calibration::nominal(HEAD);
    let only_level = Session { level: whole.level, ..Session::default() };
    let outcome = only_level.finish(&before, DAY, "x").unwrap();
    assert_eq!(outcome.kept, [Step::Board, Step::Lifted, Step::Dark, Step::Even]);
    assert_eq!((outcome.calibration.zero, outcome.pixels), (before.zero, None));
    assert_ne!(outcome.calibration.tilt_offset.level, before.tilt_offset.level);
    // Not lifted: a zero, and the former scale with its former uncertainty.
    let mut flat = whole.clone();
    flat.stands.truncate(3);
    let outcome = flat.finish(&before, DAY, "x").unwrap();
    assert_eq!(outcome.calibration.stand_off.slope_u, before.stand_off.slope_u);
    assert_eq!(outcome.calibration.stand_off.slope_pm_per_code, before.stand_off.slope_pm_per_code);
    assert!(rig.error_mm(&outcome.calibration, 0.0).abs() < 0.004);
    assert!(outcome.kept == [Step::Lifted]);
    // The pixels alone.
    let pixels = Session { stands: Vec::new(), level: None, ..whole };
    let outcome = pixels.finish(&before, DAY, "x").unwrap();
    assert_eq!(outcome.calibration.zero, before.zero);
    assert_ne!(outcome.calibration.pixels, before.pixels);
}

#[test]
fn slips_are_named() {
    let before = Calibration::nominal(HEAD);
    let finish = |session: &Session| session.finish(&before, DAY, "x").unwrap_err();
    assert_eq!(finish(&Session::default()), ZeroError::Nothing);
    let mut rig = Rig::new(4);
    let whole = rig.session();
    assert_eq!(finish(&Session { gauge: None, ..whole.clone() }), ZeroError::NoGauge);
    // The label read wrongly: the distance of the lines shows it.
    let mut wrong = whole.clone();
    wrong.gauge.as_mut().unwrap().heights_mm = vec![3.0, 9.4];
    let said = finish(&wrong).to_string();
    assert!(said.contains("6.40 mm apart") && said.contains("--light"), "{said}");
    // The lamp off, and the emitter's sheet as high as one of the slits.
    rig.light = [1_500.0, 0.0];
    let mut one = whole.clone();
    one.stands[0] = rig.stand(0.0);
    assert!(matches!(finish(&one), ZeroError::NoSlit { at: 0, why: NoSlit::OneOfTwo }));
    one.gauge.as_mut().unwrap().lamp = Lamp::Emitter;
    assert!(one.finish(&before, DAY, "x").is_ok());
    // Lifted so that the lower slit leaves the window: that is no fault.
    rig.light = [1_900.0, 2_100.0];
    let mut high = whole.clone();
    high.stands.push(rig.stand(2.6));
    assert_eq!(high.finish(&before, DAY, "x").unwrap().residuals.len(), 11);
    // The lamp off.
    rig.light = [0.0, 0.0];
    let mut dark = whole.clone();
    dark.stands[1] = rig.stand(0.0);
    assert!(matches!(finish(&dark), ZeroError::NoSlit { at: 1, why: NoSlit::NoLight }));
    let tipped = Session {
        level: Some(Pair { first: [1_200.0, 0.0], second: [1_100.0, 0.0] }),
        ..whole.clone()
    };
    assert!(matches!(finish(&tipped), ZeroError::Reversal { step: Step::Level, .. }));
    // One stand whose foot stood on a crumb shows in the residuals and in the uncertainty.
    let mut crumb = whole.clone();
    crumb.stands[1].still.stand_off += 100.0;
    let outcome = crumb.finish(&before, DAY, "x").unwrap();
    assert!(outcome.birge.unwrap() > 3.0 && outcome.calibration.zero_u.mm() > 0.03);
    // Both heights wrong by as much cannot be seen from the lines, but from the zero's move.
    let mut shifted = whole;
    shifted.gauge.as_mut().unwrap().heights_mm = vec![3.5, 9.502];
    let known = Calibration { zero_u: skimgauge_shared::units::Micrometres(20), ..before.clone() };
    let outcome = shifted.finish(&known, DAY, "x").unwrap();
    assert!(outcome.moved_mm.unwrap() > 0.1, "{:?}", outcome.moved_mm);
}

#[test]
fn what_moves_or_is_too_bright_is_not_read() {
    let mut rig = Rig::new(5);
    let curve = Calibration::nominal(HEAD).stand_off;
    let mut moving = rig.gathered(0.0);
    for k in 0..90 {
        moving.stand_off(skimgauge_shared::reading::Sample::Value((12_000 + 2 * k) * 16));
    }
    assert!(matches!(moving.still(), Err(StillError::Moved { .. })));
    rig.light = [3_600.0, 3_600.0];
    assert_eq!(rig.still(0.0).seeing(&curve), Err(StillError::TooMuchLight));
    let mut lost = rig.still(0.0);
    lost.stand_off = 23_900.0;
    assert_eq!(lost.seeing(&curve), Err(StillError::NoSpot));
}

/// The emitter's sheet through the slits: what its slope may do is in the uncertainty, the more the
/// narrower the line.
#[test]
fn the_emitters_light_is_known_less_well_than_the_lamps() {
    let mut rig = Rig::new(6);
    let own = rig.session();
    let mut emitter = own.clone();
    emitter.gauge.as_mut().unwrap().lamp = Lamp::Emitter;
    let before = Calibration::nominal(HEAD);
    let u = |session: &Session| session.finish(&before, DAY, "x").unwrap().calibration.zero_u.mm();
    assert!(u(&emitter) > u(&own), "{} {}", u(&emitter), u(&own));
    rig.half_mm = 0.09;
    let mut sloping = rig.session();
    sloping.gauge.as_mut().unwrap().lamp = Lamp::Emitter;
    assert!(u(&sloping) > u(&emitter) + 0.02, "{} {}", u(&sloping), u(&emitter));
}

#[test]
fn pixels_are_made_equal_and_the_bad_ones_named() {
    for seed in 0..20 {
        let mut rig = Rig::new(50 + seed);
        let (dark, even) = (rig.lit(0.0), rig.lit(1_800.0));
        let compared = compare(&even, &dark, &Pixels::UNCOMPARED).unwrap();
        close(f64::from(compared.table.dark) / 16.0, rig.dark, 0.5);
        close(compared.unequal, 0.03, 0.006);
        assert!(compared.left < 0.003 && compared.bad.is_empty(), "{compared:?}");
        // Beside each other they are equal now: what is left over many pixels does no harm.
        let equal: Vec<f64> = rig
            .response
            .iter()
            .zip(&compared.table.gain)
            .map(|(response, gain)| response * (1.0 + f64::from(*gain) / 2_048.0))
            .collect();
        let beside: f64 =
            equal.windows(2).map(|pair| (pair[1] - pair[0]).powi(2)).sum::<f64>() / 255.0;
        assert!(beside.sqrt() < 0.004, "seed {seed}: {}", beside.sqrt());
        rig.response[90] = 0.0;
        let compared = compare(&rig.lit(1_800.0), &dark, &Pixels::UNCOMPARED).unwrap();
        assert_eq!((compared.bad, compared.table.gain[90]), (vec![90], Pixels::BAD));
    }
}

#[test]
fn light_that_is_not_even_or_not_dark_makes_no_table() {
    let mut rig = Rig::new(7);
    let (dark, even) = (rig.lit(0.0), rig.lit(1_800.0));
    let compare = |even: &Mean, dark: &Mean| compare(even, dark, &Pixels::UNCOMPARED);
    assert!(matches!(compare(&even, &even), Err(NoTable::NotDark { .. })));
    assert!(matches!(compare(&dark, &dark), Err(NoTable::Brightness { .. })));
    // A shadow's edge.
    let mut edge = even.clone();
    for code in &mut edge.codes[100..] {
        *code *= 0.9;
    }
    assert_eq!(compare(&edge, &dark), Err(NoTable::NotEven));
    // The gauge's two lines.
    let Some(lines) = rig.still(0.0).profile else { panic!() };
    assert!(compare(&lines, &dark).is_err());
    for k in 0..9 {
        rig.response[20 + 20 * k] = 0.5;
    }
    assert!(matches!(compare(&rig.lit(1_800.0), &dark), Err(NoTable::ManyBad { bad: 9 })));
}

#[test]
fn a_check_says_still_good_or_not() {
    let mut rig = Rig::new(8);
    let mut zeroed = finished(&mut rig).calibration;
    let check = |stand: &Stand, c: &Calibration| Check::of(stand, &gauge(), 0.012, c).unwrap();
    let stand = rig.stand(0.0);
    let good = check(&stand, &zeroed);
    assert_eq!(good.checked, Checked::StillGood, "{good:?}");
    assert!(good.expanded_mm < 0.06 && good.error_mm.abs() < 0.02, "{good:?}");
    zeroed.zero.0 += 300;
    let bad = check(&stand, &zeroed);
    assert_eq!(bad.checked, Checked::NotGood, "{bad:?}");
    close(bad.error_mm, 0.3 + good.error_mm, 1e-9);
    let said = bad.sentence().text(Style::default());
    assert!(said.contains("Not good any more"), "{said}");
    // A head that nobody zeroed: nothing to hold to.
    let never = check(&stand, &Calibration::nominal(HEAD));
    assert_eq!(never.checked, Checked::CannotTell, "{never:?}");
    rig.light = [0.0; 2];
    let dark = Check::of(&rig.stand(0.0), &gauge(), 0.012, &zeroed);
    assert!(matches!(dark, Err(ZeroError::NoSlit { why: NoSlit::NoLight, .. })));
}

/// Warning at 1.96, action at 3 standard uncertainties; between them it is too close to call.
#[test]
fn a_check_has_three_answers() {
    let checked = |error_mm: f64, u_mm: f64| Check::judged(3.0, error_mm, u_mm).checked;
    for sign in [-1.0, 1.0] {
        assert_eq!(checked(sign * 0.038, 0.02), Checked::StillGood);
        assert_eq!(checked(sign * 0.041, 0.02), Checked::CannotTell);
        assert_eq!(checked(sign * 0.059, 0.02), Checked::CannotTell);
        assert_eq!(checked(sign * 0.061, 0.02), Checked::NotGood);
    }
    assert_eq!(checked(0.0, 0.1), Checked::CannotTell);
    assert_eq!(checked(0.4, 0.1), Checked::NotGood);
}
