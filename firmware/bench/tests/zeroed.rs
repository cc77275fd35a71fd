//! A zeroed head measures the true gap.

use skimgauge_bench::Room;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head::{Characteristic, Head, Seat};
use skimgauge_bench::room::{Lights, Plan};
use skimgauge_bench::virtual_head::VirtualHead;
use skimgauge_bench::zeroed;
use skimgauge_shared::calibration::Date;
use skimgauge_shared::frame::{Decoder, Fed};
use skimgauge_shared::message::Report;

/// Means over two seconds at the first corner: gap, mm, level and lean, degrees; and how many
/// readings they are of.
fn read(bench: &Bench) -> ([f64; 3], usize) {
    let mut head = VirtualHead::new(bench.clone());
    let zeroed = zeroed::of(bench, Date { year: 2026, month: 1, day: 1 }, "test");
    assert!(zeroed::write(&mut head, &zeroed));
    bench.scene(|scene| {
        let station = scene.room.stations()[0];
        scene.clip(station.x_mm, station.y_mm);
        scene.set_seat(Seat::default());
        scene.turn_eye_to_emitter(5.0);
    });
    let constants = zeroed.calibration;
    let mut decoder = Decoder::new();
    let mut readings = Vec::new();
    let settled_us = bench.now_us() + 500_000;
    let until_us = bench.now_us() + 2_500_000;
    head.run_until(until_us, &[], &mut |sent| {
        for byte in sent {
            if let Fed::Message(Report::Reading(reading)) = decoder.feed(*byte)
                && u64::from(reading.at_low_us) > settled_us
                && let (Some(s), Some(m), Some(tilt)) =
                    (reading.stand_off.value(), reading.middle.value(), reading.tilt.value())
                && let Some(tilt) = constants.tilt(tilt).value()
            {
                let gap_mm = constants.gap(s, m).mm();
                readings.push([gap_mm, tilt.level.degrees(), tilt.lean.degrees()]);
            }
        }
    });
    let mean = |k: usize| readings.iter().map(|r| r[k]).sum::<f64>() / readings.len() as f64;
    ([mean(0), mean(1), mean(2)], readings.len())
}

fn check(bench: &Bench, what: &str, enough: usize) {
    let ([gap_mm, level_deg, lean_deg], readings) = read(bench);
    let truth = bench.truth();
    assert!(readings >= enough, "{what}: {readings} readings");
    assert!((gap_mm - truth.gap_mm.unwrap()).abs() < 0.03, "{what}: {gap_mm} against {truth:?}");
    assert!((level_deg - truth.level_deg).abs() < 0.03, "{what}: {level_deg} against {truth:?}");
    assert!((lean_deg - truth.lean_deg).abs() < 0.03, "{what}: {lean_deg} against {truth:?}");
}

/// At a top corner, 86 degrees, on boards that move the laser by up to 0.2 mm.
#[test]
fn a_zeroed_head_measures_the_true_gap_and_tilt() {
    for seed in 0..20 {
        let bench = Bench::new(seed);
        check(&bench, &format!("seed {seed}"), 160);
    }
}

/// Any emitter whose sheet stands within the window: thick and thin, pulsing, dimming; and a sensor
/// whose output falls with the distance.
#[test]
fn under_any_emitter_too() {
    for seed in 0..10 {
        let plan = Plan {
            light: Lights::any(),
            peak_to_valley_mm: (0.1, 0.4),
            start_gaps_mm: (4.0, 11.0),
            ..Plan::default()
        };
        let head = Head { characteristic: Characteristic::FALLING, ..Head::new(seed) };
        let bench = Bench::with(Room::planned(seed, &plan), head, seed);
        check(&bench, &format!("any {seed}"), 10);
    }
}

/// Its line of pixels put in as bought: the lowest pixel anywhere that the package's tolerances let
/// it be (`hardware/window.md`).
#[test]
fn with_a_line_as_bought_too() {
    for (seed, first_pixel_mm) in (0..9).zip([0.53, 0.96, 1.39].into_iter().cycle()) {
        let plan = Plan { start_gaps_mm: (4.0, 8.0), ..Plan::default() };
        let head = Head { first_pixel_mm, ..Head::new(seed) };
        let bench = Bench::with(Room::planned(seed, &plan), head, seed);
        check(&bench, &format!("first pixel at {first_pixel_mm}, seed {seed}"), 160);
    }
}
