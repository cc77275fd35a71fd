//! Streams with known truth: what is settled, what is wrong, and that no doubtful number is ever
//! taken.

mod stream;

use skimgauge_metrology::measure::{
    Bearing, Fault, Limits, Material, NotTaken, Shown, Source, State,
};
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
use skimgauge_shared::light::{Fault as Scan, Light, Trust};
use skimgauge_shared::message::{CalibrationCheck, SerialNumber};
use skimgauge_shared::reading::{Absence, Sample, TiltSteps};
use skimgauge_shared::units::{Micrometres, Microseconds};
use stream::{Stream, TODAY, calibration};

fn settled(seed: u64) -> Stream {
    let mut stream = Stream::new(seed);
    stream.run(5.0);
    assert_eq!(stream.observer.live(stream.now_s()).state, State::Settled);
    stream
}

/// Steps until `fault` is said; the time it took, s.
fn found(stream: &mut Stream, fault: Fault, mut step: impl FnMut(&mut Stream)) -> f64 {
    let from = stream.at_us;
    for _ in 0..200 {
        step(stream);
        let live = stream.observer.live(stream.now_s());
        if live.faults.contains(&fault) {
            if fault.bearing() > Bearing::Notice {
                assert_eq!(live.gap_mm.good(), None, "{fault:?}");
                assert!(
                    live.can_take.is_err() && stream.observer.take(stream.now_s()).is_err(),
                    "{fault:?}"
                );
            }
            return (stream.at_us - from) as f64 * 1e-6;
        }
    }
    panic!("{fault:?} was not found in two seconds");
}

#[test]
fn a_still_head_settles_within_six_tenths_of_a_second_and_its_take_is_true() {
    for seed in 0..20 {
        let mut stream = Stream::new(seed);
        let mut took = None;
        for k in 0..200 {
            stream.step();
            if let Ok(take) = stream.observer.take(stream.now_s()) {
                took = Some((f64::from(k + 1) / 90.0, take));
                break;
            }
        }
        let (time_s, take) = took.expect("no take in two seconds");
        assert!(time_s < 0.6, "{time_s}");
        assert!((take.gap_mm - 3.0).abs() < 0.012, "{}", take.gap_mm);
        assert!(take.own_u_mm() < 0.02 && take.u_mm < 0.03, "{take:?}");
        assert!(take.effect_mm(Source::Slope).abs() < 0.002);
        assert!(take.readings >= 36 && take.temperature_c.is_some() && take.notices.is_empty());
    }
}

/// Stated scatter against the scatter of many takes, white noise: 0.0134 mm a reading.
#[test]
fn stated_scatter_is_the_scatter_of_takes() {
    let mut stream = settled(3);
    let (mut stated, mut errors) = (0.0, 0.0);
    let n = 300;
    for _ in 0..n {
        stream.run(2.1);
        let take = stream.observer.take(stream.now_s()).unwrap();
        stated += take.effect_mm(Source::Scatter).powi(2) / f64::from(n);
        errors += (take.gap_mm - 3.0).powi(2) / f64::from(n);
    }
    let ratio = (stated / errors).sqrt();
    assert!((0.9..1.4).contains(&ratio), "stated over actual {ratio}");
}

#[test]
fn nothing_for_a_quarter_of_a_second_is_stale() {
    let mut stream = settled(1);
    let now = stream.now_s();
    assert!(stream.observer.live(now + 0.24).gap_mm.good().is_some());
    let live = stream.observer.live(now + 0.26);
    assert_eq!(live.gap_mm, Shown::Absent { why: Fault::Stale });
    assert_eq!(live.lean_deg, Shown::Absent { why: Fault::Stale });
    assert_eq!(stream.observer.take(now + 0.26), Err(NotTaken::Fault { fault: Fault::Stale }));
}

#[test]
fn readings_that_come_late_are_stale_though_they_just_arrived() {
    let mut stream = settled(1);
    stream.offset_s += 0.4;
    assert!(found(&mut stream, Fault::Late, Stream::step) < 0.05);
}

/// Readings that lie in a queue are late; a head whose clock stood still is not, once a quick
/// answer shows it.
#[test]
fn a_head_whose_clock_stood_still_is_not_late_for_good() {
    let mut stream = settled(4);
    stream.offset_s += 3.0;
    stream.run(1.0);
    let late = |stream: &Stream| stream.observer.live(stream.now_s()).faults.contains(&Fault::Late);
    assert!(late(&stream));
    let head_s = |stream: &Stream| stream.at_us as f64 * 1e-6;
    // An answer that itself was long on its way shows nothing.
    let (at_s, now_s) = (head_s(&stream) - 3.0, stream.now_s());
    stream.observer.answered(at_s, 3.0, now_s);
    stream.run(0.1);
    assert!(late(&stream));
    let (at_s, now_s) = (head_s(&stream), stream.now_s());
    stream.observer.answered(at_s, 0.01, now_s);
    stream.run(0.1);
    assert!(!late(&stream));
    // And what is late from then on is found as before.
    stream.offset_s += 0.3;
    stream.step();
    assert!(late(&stream));
}

#[test]
fn every_absence_is_found_at_once() {
    for &absence in Absence::ALL {
        for channel in 0..3 {
            let mut stream = settled(2);
            let scene = &mut stream.scene;
            *[&mut scene.stand_off_absent, &mut scene.middle_absent, &mut scene.tilt_absent]
                [channel] = Some(absence);
            // Without a reason it may be a scan between two pulses.
            let steps = if channel == 1 && absence == Absence::NoMiddle { 12 } else { 1 };
            (0..steps).for_each(|_| stream.step());
            let live = stream.observer.live(stream.now_s());
            assert_eq!(live.faults.len(), 1, "{absence:?} {live:?}");
            assert_eq!(live.gap_mm.good(), None);
            assert!(stream.observer.take(stream.now_s()).is_err());
        }
    }
}

/// Whatever a scan says is wrong with the light: named, no gap, no take, and for a moment after it.
#[test]
fn every_fault_of_a_scan_is_named_and_nothing_is_good_or_taken() {
    for &scan in Scan::ALL {
        let mut stream = settled(2);
        stream.scene.scan = Some(scan);
        stream.scene.light = if scan == Scan::NoLight { Light::No } else { Light::Seen };
        let took = found(&mut stream, Fault::of_scan(scan), Stream::step);
        assert!(took < 0.15, "{scan:?}: {took}");
        // One in ten is enough for none to be good.
        let mut stream = settled(3);
        for k in 0..300 {
            stream.scene.scan = (k % 10 == 0).then_some(scan);
            stream.scene.light = Light::Seen;
            stream.step();
            let live = stream.observer.live(stream.now_s());
            let says_nothing = matches!(scan, Scan::NoLight | Scan::ExposureUnknown);
            assert_eq!(live.can_take.is_ok(), says_nothing, "{scan:?} {k} {live:?}");
            assert_eq!(live.gap_mm.good().is_some(), says_nothing, "{scan:?} {k}");
        }
    }
}

/// The emitter is switched off in a room whose light flickers: what the eye then says comes and
/// goes between no light, uneven light and light that may lie between pulses.
#[test]
fn with_the_emitter_off_there_is_no_gap_and_no_take() {
    let says = [
        (Scan::NoLight, Light::Waiting),
        (Scan::NoLight, Light::No),
        (Scan::UnevenRoomLight, Light::No),
        (Scan::TooMuchRoomLight, Light::Waiting),
        (Scan::Wider, Light::Waiting),
    ];
    for seed in 0..20 {
        let mut stream = settled(seed);
        let mut none = 0;
        for k in 0..900 {
            let (scan, light) = says[(stream.chance.uniform() * says.len() as f64) as usize];
            (stream.scene.scan, stream.scene.light) = (Some(scan), light);
            stream.step();
            let now_s = stream.now_s();
            let live = stream.observer.live(now_s);
            // What was before it was switched off may stand for as long as pulses leave out.
            if k >= 11 {
                assert!(matches!(live.gap_mm, Shown::Absent { .. }), "{k} {live:?}");
                assert!(stream.observer.take(now_s).is_err());
                let press = Microseconds(stream.at_us);
                assert!(stream.observer.take_by_button(now_s, press).is_err(), "{k}");
                none += 1;
            }
        }
        assert_eq!(none, 889);
    }
}

#[test]
fn light_that_the_room_pulls_is_doubtful_and_no_part_of_a_take() {
    let mut stream = settled(5);
    stream.scene.trust = Trust::RoomLight;
    assert!(found(&mut stream, Fault::RoomLightPulls, Stream::step) < 0.05);
    let live = stream.observer.live(stream.now_s());
    assert!(matches!(live.gap_mm, Shown::Doubtful { why: Fault::RoomLightPulls, .. }), "{live:?}");
    stream.run(1.0);
    stream.scene.trust = Trust::Sure;
    let mut waited = 0;
    while stream.observer.take(stream.now_s()).is_err() {
        stream.step();
        waited += 1;
    }
    // Held until it can be read, and then a window of its own, which has gathered meanwhile.
    assert!((80..100).contains(&waited), "{waited}");
    stream.scene.trust = Trust::Lopsided;
    stream.run(0.4);
    let live = stream.observer.live(stream.now_s());
    assert_eq!(live.gap_mm, Shown::Absent { why: Fault::TwoSheets });
}

#[test]
fn weak_light_and_a_mirrored_sheet_are_said_and_no_more() {
    let mut stream = settled(5);
    (stream.scene.height, stream.scene.exposure_us) = (300, 9_900);
    stream.run(0.5);
    let take = stream.observer.take(stream.now_s()).unwrap();
    assert_eq!(take.notices, [Fault::WeakLight]);
    let mut stream = settled(5);
    stream.scene.second = true;
    assert!(found(&mut stream, Fault::SecondSheet, Stream::step) < 0.05);
}

#[test]
fn a_zero_of_another_board_is_said_and_its_material_counted() {
    let mut stream = settled(5);
    let u_mm = stream.observer.take(stream.now_s()).unwrap().u_mm;
    stream.observer.zeroed(Material::elsewhere(0.2));
    let take = stream.observer.take(stream.now_s()).unwrap();
    assert_eq!(take.notices, [Fault::ZeroedElsewhere]);
    assert!((take.u_mm - u_mm.hypot(0.2 / 3f64.sqrt())).abs() < 1e-9, "{take:?}");
    // Held against the gauge on this board: what was found counts, and no more.
    stream.observer.zeroed(Material::checked(-0.03, 0.04));
    let take = stream.observer.take(stream.now_s()).unwrap();
    assert!(take.notices.is_empty() && (take.u_mm - u_mm.hypot(0.05)).abs() < 1e-9, "{take:?}");
}

#[test]
fn lost_readings_are_said() {
    let mut stream = settled(2);
    for _ in 0..50 {
        stream.number += 1;
        stream.at_us += stream::PERIOD_US;
        stream.lost = 1;
        stream.step();
    }
    let live = stream.observer.live(stream.now_s());
    assert_eq!(live.faults, [Fault::ReadingsLost]);
    assert_eq!(live.lost, 50);
}

#[test]
fn frozen_channels_are_found() {
    let mut stream = settled(4);
    let mut first = None;
    let took = found(&mut stream, Fault::StandOffFrozen, |s| {
        s.step_with(|r| r.stand_off = *first.get_or_insert(r.stand_off));
    });
    assert!(took < 0.3, "{took}");
    // Only the converter's own noise is left.
    let mut stream = settled(5);
    let (mut held, mut k) = (None, 0);
    let took = found(&mut stream, Fault::StandOffFrozen, |s| {
        s.step_with(|r| {
            let first = *held.get_or_insert(r.stand_off);
            k += 1;
            r.stand_off = first.map(|s| Micrometres(s.0 + k % 3 % 2));
        });
    });
    assert!(took < 0.3, "{took}");
    let mut stream = settled(5);
    let mut first = None;
    assert!(
        found(&mut stream, Fault::TiltFrozen, |s| s
            .step_with(|r| r.tilt = *first.get_or_insert(r.tilt)))
            < 0.3
    );
    let mut stream = settled(5);
    let mut first = None;
    assert!(
        found(&mut stream, Fault::EyeFrozen, |s| s
            .step_with(|r| r.middle = *first.get_or_insert(r.middle)))
            < 0.3
    );
}

#[test]
fn a_bad_spot_is_told_from_shaking() {
    let mut stream = settled(6);
    stream.scene.stand_off_noise_mm = 0.25;
    assert!(found(&mut stream, Fault::SpotErratic, Stream::step) < 0.3);
    let mut stream = settled(6);
    let mut k = 0;
    let took = found(&mut stream, Fault::SpotErratic, |s| {
        k += 1;
        s.scene.stand_off_absent = (k % 4 == 0).then_some(Absence::NoSpot);
        s.step();
    });
    assert!(took < 0.3, "{took}");
}

/// Feet and clip hardly matter: the body lifted, stand-off and light move against each other.
#[test]
fn a_seat_that_stands_off_reads_the_same_gap() {
    for lifted_mm in [-0.4, 0.3, 1.2] {
        let mut stream = settled(7);
        stream.scene.stand_off_absent = Some(Absence::NoSpot);
        stream.run(0.5);
        stream.scene.stand_off_absent = None;
        stream.scene.stand_off_mm += lifted_mm;
        stream.run(1.0);
        let take = stream.observer.take(stream.now_s()).unwrap();
        assert!((take.gap_mm - 3.0).abs() < 0.01 && take.u_mm < 0.03, "{take:?}");
    }
}

/// The inclinometer does not see it; the laser does.
#[test]
fn a_head_shifted_along_the_boards_normal_was_moved() {
    let mut stream = settled(7);
    stream.scene.stand_off_mm += 0.15;
    assert!(found(&mut stream, Fault::Knocked, Stream::step) < 0.3);
    assert_eq!(stream.observer.moves(), 1);
}

#[test]
fn a_head_that_does_not_stand_as_the_board_is_not_seated() {
    let mut stream = settled(8);
    stream.scene.lean_deg += 4.0;
    assert!(found(&mut stream, Fault::NotSeated, Stream::step) < 0.3);
}

#[test]
fn a_knock_is_found_and_the_head_settles_again() {
    for (gap, lean) in [(0.0, 0.4), (-0.15, 0.2), (0.3, -0.12)] {
        let mut stream = settled(9);
        stream.scene.gap_mm += gap;
        stream.scene.lean_deg += lean;
        assert!(found(&mut stream, Fault::Knocked, Stream::step) < 0.3);
        stream.run(2.5);
        let take = stream.observer.take(stream.now_s()).unwrap();
        assert!((take.gap_mm - 3.0 - gap).abs() < 0.02);
    }
}

#[test]
fn a_knock_that_displaced_the_head_is_held_until_it_stands_as_before_or_anew() {
    let mut stream = settled(16);
    stream.observer.hold_knocks(true);
    let knock = |stream: &mut Stream| {
        stream.scene.lean_deg += 0.2;
        stream.run(4.0);
        assert!(stream.observer.live(stream.now_s()).faults.contains(&Fault::Knocked));
        assert!(stream.observer.take(stream.now_s()).is_err());
    };
    // Pushed back.
    knock(&mut stream);
    stream.scene.lean_deg -= 0.2;
    stream.run(4.0);
    assert!(stream.observer.take(stream.now_s()).is_ok());
    // Clipped anew.
    knock(&mut stream);
    stream.scene.stand_off_absent = Some(Absence::NoSpot);
    stream.run(0.1);
    stream.scene.stand_off_absent = None;
    stream.run(2.0);
    assert!(stream.observer.take(stream.now_s()).is_ok());
    // A move that was meant.
    stream.observer.expect_move();
    stream.scene.lean_deg -= 0.2;
    stream.run(2.0);
    assert!(stream.observer.take(stream.now_s()).is_ok());
    knock(&mut stream);
}

/// A wall that hums turns an inclinometer to and fro with every swing: that is no knock. A knock on
/// a humming wall is one.
#[test]
fn shaking_that_turns_the_tilt_is_shaking_and_hides_no_knock() {
    const SWING_MM: f64 = 0.05;
    for hz in [7.0, 11.0, 13.0, 17.0, 19.0, 23.0] {
        for (knocked_at, until) in [(0, 400), (200, 500), (usize::MAX, 500)] {
            let mut stream = settled(17);
            stream.observer.hold_knocks(true);
            for k in 0..until {
                let swing = (std::f64::consts::TAU * hz * k as f64 / 90.0).sin();
                let rest = stream::Scene::default();
                stream.scene = stream::Scene {
                    gap_mm: rest.gap_mm + SWING_MM * swing,
                    level_deg: rest.level_deg
                        + swing
                            * (SWING_MM * 1e-3 * (std::f64::consts::TAU * hz).powi(2) / 9.81)
                                .to_degrees(),
                    lean_deg: rest.lean_deg + if k >= knocked_at { 0.3 } else { 0.0 },
                    ..rest
                };
                stream.step();
                let live = stream.observer.live(stream.now_s());
                let said = format!(
                    "{hz} Hz, knocked at {knocked_at}, reading {k}: {:?} {:?}",
                    live.state, live.faults
                );
                if k > 100 {
                    assert!(matches!(live.state, State::Vibrating { .. }), "{said}");
                }
                let knocked = live.faults.contains(&Fault::Knocked);
                if k > knocked_at.saturating_add(130) {
                    assert!(knocked && live.can_take.is_err(), "{said}");
                } else if k > 150 && k < knocked_at {
                    assert!(!knocked, "{said}");
                }
            }
        }
    }
}

#[test]
fn light_that_moves_before_a_head_at_rest_is_no_knock() {
    let mut stream = settled(9);
    let mut moving = 0;
    for k in 0..300 {
        // A quarter turn in half a second, three times over.
        let turned = if k % 100 < 50 { 0.0025 } else { 0.0 };
        stream.scene.gap_mm -= turned;
        stream.step();
        let live = stream.observer.live(stream.now_s());
        assert!(!live.faults.contains(&Fault::Knocked), "{live:?}");
        moving += u32::from(matches!(live.state, State::PlaneMoving | State::Drifting { .. }));
    }
    assert!(moving > 60, "{moving}");
    stream.run(2.0);
    let take = stream.observer.take(stream.now_s()).unwrap();
    assert!((take.gap_mm - 2.625).abs() < 0.02, "{}", take.gap_mm);
}

#[test]
fn the_heads_own_button_takes_what_was_before_the_press() {
    let mut stream = settled(10);
    stream.scene.gap_mm += 0.4;
    stream.run(0.2);
    stream.scene.gap_mm -= 0.4;
    stream.run(0.05);
    assert!(stream.observer.take(stream.now_s()).is_err());
    let released = Microseconds(stream.at_us);
    let take = stream.observer.take_by_button(stream.now_s(), released).unwrap();
    assert!((take.gap_mm - 3.0).abs() < 0.01, "{}", take.gap_mm);
    // Long after, the press means now, and now it is not settled.
    let later = Microseconds(stream.at_us + 2_000_000);
    assert!(stream.observer.take_by_button(stream.now_s(), later).is_err());
}

#[test]
fn supply_and_temperature_are_held_against_their_limits() {
    let mut stream = settled(11);
    stream.scene.supply_v = 4.2;
    assert!(found(&mut stream, Fault::SupplyLow, Stream::step) < 0.3);
    let mut stream = settled(11);
    stream.scene.temperature_c = 44.0;
    assert!(found(&mut stream, Fault::TemperatureOutOfRange, Stream::step) < 0.3);
}

#[test]
fn a_calibration_that_is_not_one_is_said_and_nothing_is_taken() {
    for (check, fault) in [
        (CalibrationCheck::Missing, Fault::CalibrationMissing),
        (CalibrationCheck::Damaged, Fault::CalibrationDamaged),
        (CalibrationCheck::OtherHead, Fault::CalibrationOtherHead),
        (CalibrationCheck::Unreadable, Fault::CalibrationUnreadable),
    ] {
        let mut stream = Stream::with(
            1,
            Limits::default(),
            CalibrationState { check, calibration: calibration() },
        );
        stream.run(3.0);
        assert!(found(&mut stream, fault, Stream::step) < 0.3);
    }
    let mut foreign = calibration();
    foreign.head = SerialNumber([8; 16]);
    let state = CalibrationState { check: CalibrationCheck::Good, calibration: foreign };
    let mut stream = Stream::with(1, Limits::default(), state);
    assert!(found(&mut stream, Fault::CalibrationOtherHead, Stream::step) < 0.3);
    let mut old = calibration();
    old.date = Date { year: 2025, month: 5, day: 31 };
    let state = CalibrationState { check: CalibrationCheck::Good, calibration: old };
    let mut stream = Stream::with(1, Limits::default(), state);
    stream.run(3.0);
    assert!(found(&mut stream, Fault::CalibrationOverdue, Stream::step) < 0.3);
    let take = stream.observer.take(stream.now_s()).unwrap();
    assert_eq!(take.notices, [Fault::CalibrationOverdue]);
}

/// No head was zeroed tomorrow: one of the two dates is wrong, and with it the age that a zeroing
/// is trusted by.
#[test]
fn a_zeroing_dated_after_today_is_doubted() {
    let dated = |date| {
        let state = CalibrationState {
            check: CalibrationCheck::Good,
            calibration: Calibration { date, ..calibration() },
        };
        let mut stream = Stream::with(1, Limits::default(), state);
        stream.run(3.0);
        stream
    };
    for date in
        [Date { day: TODAY.day + 1, ..TODAY }, Date { year: TODAY.year + 1, month: 1, day: 1 }]
    {
        let mut stream = dated(date);
        assert!(found(&mut stream, Fault::ZeroedAfterToday, Stream::step) < 0.3);
        let live = stream.observer.live(stream.now_s());
        assert!(
            matches!(live.gap_mm, Shown::Doubtful { why: Fault::ZeroedAfterToday, .. }),
            "{live:?}"
        );
        assert!(stream.observer.take(stream.now_s()).is_err());
    }
    let mut stream = dated(TODAY);
    assert!(stream.observer.take(stream.now_s()).is_ok());
}

/// Shows the states that a disturbance goes through.
fn states(seconds: f64, disturb: impl Fn(f64, &mut stream::Scene)) -> Vec<State> {
    let mut stream = settled(12);
    let mut seen = Vec::new();
    for k in 0..(seconds * 90.0) as usize {
        let rest = stream::Scene::default();
        stream.scene = rest;
        disturb(k as f64 / 90.0, &mut stream.scene);
        stream.step();
        seen.push(stream.observer.live(stream.now_s()).state);
    }
    seen
}

fn share(states: &[State], is: impl Fn(&State) -> bool) -> f64 {
    states.iter().filter(|s| is(s)).count() as f64 / states.len() as f64
}

#[test]
fn causes_are_told_apart_in_words() {
    let taken = |states: &[State]| share(states, |s| *s == State::Settled);
    let swing = |hz: f64, t: f64| (std::f64::consts::TAU * hz * t).sin();
    let vibrating = states(6.0, |t, s| s.gap_mm += 0.15 * swing(9.0, t));
    assert!(
        share(&vibrating[100..], |s| matches!(s, State::Vibrating { .. })) > 0.95,
        "{vibrating:?}"
    );
    let leaning = states(8.0, |t, s| {
        s.gap_mm += 0.12 * swing(0.35, t);
        s.lean_deg += 0.03 * swing(0.35, t);
    });
    assert!(share(&leaning[100..], |s| *s == State::Leaning) > 0.8, "{leaning:?}");
    assert!(
        share(&leaning, |s| matches!(s, State::Vibrating { .. } | State::Drifting { .. })) < 0.1,
        "{leaning:?}"
    );
    assert!(taken(&leaning[60..]) < 0.01, "{leaning:?}");
    let drifting = states(8.0, |t, s| s.gap_mm += 0.05 * t);
    assert!(share(&drifting[100..], |s| matches!(s, State::Drifting { .. })) > 0.9, "{drifting:?}");
    for &state in &drifting[200..] {
        if let State::Drifting { mm_per_min } = state {
            assert!((mm_per_min - 3.0).abs() < 1.5, "{mm_per_min}");
        }
    }
}

#[test]
fn warm_up_is_known_by_its_drift() {
    let warming = states(60.0, |t, s| {
        s.gap_mm += 0.08 * t / 60.0;
        s.temperature_c += 1.0 * t / 60.0;
    });
    let first =
        warming.iter().position(|s| matches!(s, State::WarmingUp { .. })).expect("not recognised");
    assert!(first < 4500, "{first}");
    assert!(share(&warming[first..], |s| matches!(s, State::WarmingUp { .. })) > 0.9);
    let creeping = states(60.0, |t, s| s.gap_mm += 0.08 * t / 60.0);
    assert!(creeping.iter().any(|s| matches!(s, State::Drifting { .. })));
    assert!(!creeping.iter().any(|s| matches!(s, State::WarmingUp { .. })));
}

/// Ten minutes here; the measured table runs hours.
#[test]
fn a_clean_stream_raises_no_alarm() {
    let mut stream = settled(14);
    let mut unsettled = 0;
    for _ in 0..54_000 {
        stream.step();
        if stream.number.is_multiple_of(5) {
            let live = stream.observer.live(stream.now_s());
            assert!(live.faults.is_empty(), "{:?}", live.faults);
            unsettled += u32::from(live.can_take.is_err());
        }
    }
    assert!(unsettled <= 20, "{unsettled}");
}

#[test]
fn what_comes_after_a_break_does_not_continue_what_was() {
    let mut stream = settled(15);
    stream.observer.link_broken();
    assert!(stream.observer.take(stream.now_s()).is_err());
    assert_eq!(stream.observer.live(stream.now_s()).state, State::Waiting);
    stream.step_with(|r| r.tilt = Sample::Value(TiltSteps { level: 0, lean: 0 }));
    assert!(stream.observer.take(stream.now_s()).is_err());
    // Another head: even the calibration is forgotten.
    stream.observer.greeted(Some(SerialNumber([9; 16])));
    stream.run(2.0);
    assert_eq!(
        stream.observer.live(stream.now_s()).gap_mm,
        Shown::Absent { why: Fault::CalibrationAwaited }
    );
}
