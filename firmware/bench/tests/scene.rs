//! What the head's sensors feel in the room, held against what is true there.

use skimgauge_bench::head::{
    Attitude, Head, NO_SPOT_V, Place, Plate, Seat, StandoffError, TOO_NEAR_V,
};
use skimgauge_bench::part::{Analog, Motion};
use skimgauge_bench::scene::Scene;
use skimgauge_bench::{Bench, Fault, Room};

fn exact(seed: u64) -> Scene {
    let mut scene = Scene::with(Room::new(seed), Head::exact(), seed);
    scene.set_seat(Seat::default());
    scene.stray_v = 0.0;
    scene
}

fn ratio(scene: &mut Scene, at_us: u64) -> f64 {
    let (a, b) = (scene.volts(1, at_us), scene.volts(2, at_us));
    (a - b) / (a + b)
}

fn standoff_mm(scene: &mut Scene, at_us: u64) -> f64 {
    20.0 + (scene.volts(0, at_us) - 0.25) / 0.15
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn sigma(values: &[f64]) -> f64 {
    let middle = mean(values);
    (values.iter().map(|v| (v - middle).powi(2)).sum::<f64>() / (values.len() - 1) as f64).sqrt()
}

#[test]
fn null_reading_of_an_exact_head_is_the_true_gap_at_every_station() {
    for seed in 0..20 {
        let mut scene = exact(seed);
        for station in scene.room.stations() {
            scene.clip(station.x_mm, station.y_mm);
            scene.set_seat(Seat::default());
            scene.roll_to_light(0.0);
            let gap_mm = scene.room.gap_mm(station.x_mm, station.y_mm);
            // A gap of less than half the sheet lets the board cut its foot, which moves r: there
            // the null is not exact.
            let r = ratio(&mut scene, 0);
            let thickness_mm = scene
                .room
                .sheet
                .thickness_at_mm(scene.room.emitter.distance_mm(station.x_mm, station.y_mm));
            if gap_mm > thickness_mm / 2.0 {
                assert!(r.abs() < 1e-9, "{seed} {}: {r}", station.name);
                assert!((standoff_mm(&mut scene, 0) + scene.head.z0_mm - gap_mm).abs() < 1e-9);
            }
            assert_eq!(scene.truth(0).gap_mm, Some(gap_mm));
        }
    }
}

/// Near the middle of a raised cosine of thickness w that the cells catch whole, `r = 4 e / w`:
/// `k_e = w / 4`, and the slope of r on stand-off is `-1/k_e`.
#[test]
fn rolling_the_slide_through_the_light_gives_the_eye_scale() {
    let mut scene = exact(1);
    let thickness_mm = 5.0;
    scene.put(Place::Plate(Plate { thickness_mm, ..Plate::default() }), Attitude::Upright);
    scene.set_seat(Seat::default());
    scene.set_slide_mm(29.95);
    let above = ratio(&mut scene, 0);
    scene.set_slide_mm(30.05);
    let below = ratio(&mut scene, 0);
    let slope_per_mm = (below - above) / 0.1;
    assert!((slope_per_mm + 4.0 / thickness_mm).abs() < 1e-3, "{slope_per_mm}");
}

#[test]
fn errors_of_the_standoff_sensor_are_those_set() {
    let mut scene = exact(1);
    scene.head.standoff_error =
        StandoffError { offset_mm: 0.1, scale: 0.01, quadratic_mm: 0.05, per_k_mm: 0.002 };
    scene.air_c = 25.0;
    for (slide_mm, error_mm) in
        [(28.5, 0.11), (37.0, 0.1 + 0.085 + 0.05 + 0.01), (20.0, 0.1 - 0.085 + 0.05 + 0.01)]
    {
        scene.set_slide_mm(slide_mm);
        assert!((standoff_mm(&mut scene, 0) - slide_mm - error_mm).abs() < 1e-9);
    }
    scene.set_slide_mm(38.0);
    assert_eq!(scene.volts(0, 0), NO_SPOT_V);
    scene.set_slide_mm(19.0);
    assert_eq!(scene.volts(0, 0), TOO_NEAR_V);
    assert_eq!(scene.slide_mm(), 19.0);
}

#[test]
fn block_on_the_plate_stands_for_the_board_face() {
    let mut scene = exact(1);
    let plate = Plate { block_mm: 4.0, light_mm: Some(9.0), ..Plate::default() };
    scene.put(Place::Plate(plate), Attitude::Upright);
    scene.set_seat(Seat::default());
    scene.roll_to_light(0.0);
    assert!((standoff_mm(&mut scene, 0) - 30.0).abs() < 1e-9);
    assert!(ratio(&mut scene, 0).abs() < 1e-9);
    assert_eq!(scene.truth(0).gap_mm, Some(5.0));
}

fn tilt_deg(scene: &mut Scene) -> [f64; 2] {
    let [x, y, z] = scene.acceleration_g(0);
    [x.atan2(y.hypot(z)).to_degrees(), y.atan2(x.hypot(z)).to_degrees()]
}

/// Two-position reversal: tilt is half the difference, zero error half the sum (see the scene's
/// `Attitude` for which turn serves which axis).
#[test]
fn reversal_separates_tilt_from_zero_error_on_both_axes() {
    let mut scene = exact(1);
    scene.head.tilt_offset_deg = [0.3, -0.2];
    scene.head.tilt_bias_g = [0.001, 0.002];
    let plate = Plate { level_deg: 0.5, lean_deg: -0.7, ..Plate::default() };
    scene.put(Place::Plate(plate), Attitude::Upright);
    scene.set_seat(Seat::default());
    let first = tilt_deg(&mut scene);
    scene.turn_head(Attitude::Reversed);
    let second = tilt_deg(&mut scene);
    for (axis, (tilt, offset)) in [(0.5, 0.3573), (-0.7, -0.0854)].into_iter().enumerate() {
        assert!(((first[axis] - second[axis]) / 2.0 - tilt).abs() < 1e-3, "{axis}");
        assert!(((first[axis] + second[axis]) / 2.0 - offset).abs() < 1e-3, "{axis}");
    }
    scene.turn_head(Attitude::UpsideDown);
    let [x, y, z] = scene.acceleration_g(0);
    assert!(z < -0.99);
    let level = x.atan2(y.hypot(z)).to_degrees();
    // Upside down the offset of level turns with the part, the bias does not.
    assert!((level - (-0.5 - 0.3 + 0.0573)).abs() < 1e-3, "{level}");
}

#[test]
fn head_on_the_emitter_feels_its_level_and_lean() {
    let mut scene = exact(4);
    scene.put(Place::Emitter, Attitude::Upright);
    scene.set_seat(Seat::default());
    let [level, lean] = tilt_deg(&mut scene);
    assert!((level - scene.room.emitter.level_deg).abs() < 1e-3);
    let plane = scene.room.emitter.touch_plane();
    assert!((lean - scene.room.board.lean_deg - plane.q.atan().to_degrees()).abs() < 1e-3);
    assert_eq!(scene.volts(0, 0), NO_SPOT_V);
}

#[test]
fn noise_of_the_standoff_is_white_with_a_slow_drift_under_it() {
    let mut scene = Scene::new(1);
    let values: Vec<f64> = (0..86_000u64).map(|k| standoff_mm(&mut scene, k * 1163)).collect();
    let steps: Vec<f64> = values.windows(2).map(|w| (w[1] - w[0]) / 2f64.sqrt()).collect();
    assert!((sigma(&steps) - 0.010).abs() < 0.0005, "{}", sigma(&steps));
    let means: Vec<f64> = values.chunks(8600).map(mean).collect();
    let wander_mm = sigma(&means);
    // White noise alone would leave 0.010 / sqrt(8600) = 0.1 um in a mean of 10 s; the drift is
    // some um.
    assert!((0.0005..0.02).contains(&wander_mm), "{wander_mm}");
}

#[test]
fn head_warms_up_over_minutes() {
    let mut scene = Scene::new(2);
    let warm_up_k = scene.head.warm_up_k;
    let cold = scene.truth(0).temperature_c;
    let warm = scene.truth(3_600_000_000).temperature_c;
    assert!((warm - cold - warm_up_k).abs() < 0.01);
    assert!((scene.temperature_c(3_600_000_000) - warm).abs() < 1.2);
}

#[test]
fn someone_leaning_and_a_shaking_wall_move_the_gap_and_let_go() {
    let mut scene = exact(1);
    scene.clip(200.0, -600.0);
    let at = |scene: &Scene, ms: u64| scene.truth(ms * 1000).gap_mm.unwrap();
    let still_mm = at(&scene, 0);
    scene.set_fault(Fault::SomeoneLeaning, true);
    assert!((at(&scene, 0) - still_mm).abs() < 1e-9, "it comes on by and by");
    assert!(at(&scene, 2000) - still_mm > 0.5);
    scene.set_fault(Fault::SomeoneLeaning, false);
    assert_eq!(at(&scene, 3000), still_mm);
    scene.set_fault(Fault::Vibration, true);
    let swing: Vec<f64> = (0..1000).map(|ms| at(&scene, ms) - still_mm).collect();
    // Amplitude over the square root of two.
    assert!((sigma(&swing) - 0.05 / 2f64.sqrt()).abs() < 1e-3);
    assert!(mean(&swing).abs() < 1e-3);
}

#[test]
fn every_fault_of_light_laser_supply_and_seat_shows_in_the_signals_and_goes_again() {
    let mut scene = Scene::new(3);
    let station = scene.room.stations()[3];
    scene.clip(station.x_mm, station.y_mm);
    scene.roll_to_light(0.0);
    let mut now_us = 0;
    let mut look = |scene: &mut Scene| {
        now_us += 2000;
        let volts = [0, 1, 2, 3].map(|channel| scene.volts(channel, now_us));
        (volts, tilt_deg(scene), scene.temperature_c(now_us))
    };
    let (good, tilt, _) = look(&mut scene);
    assert!(
        (0.25..2.8).contains(&good[0])
            && good[1] > 0.2
            && good[2] > 0.2
            && (good[3] - 2.5).abs() < 0.01
    );
    let mut with = |fault| {
        scene.set_fault(fault, true);
        let seen = look(&mut scene);
        scene.set_fault(fault, false);
        seen
    };
    let (volts, _, _) = with(Fault::NoLight);
    assert!(volts[1] < 0.06 && volts[2] < 0.06);
    let (volts, _, _) = with(Fault::TooMuchLight);
    assert!(volts[1] > 2.99 && volts[2] > 2.99);
    let (volts, _, _) = with(Fault::SpotLost);
    assert!((volts[0] - NO_SPOT_V).abs() < 0.01);
    let (volts, _, _) = with(Fault::SlideOutOfRange);
    assert!((volts[0] - TOO_NEAR_V).abs() < 0.01);
    let (volts, _, _) = with(Fault::SupplyLow);
    assert!((volts[3] - 2.1).abs() < 0.01);
    assert!(with(Fault::TooHot).2 > 55.0);
    assert!(with(Fault::TooCold).2 < -5.0);
    assert!((with(Fault::NotSeated).1[1] - tilt[1] - 0.8).abs() < 0.01);
    assert!((with(Fault::Knocked).1[0] - tilt[0] - 0.15).abs() < 0.01);
    let mut spread = |fault| {
        scene.set_fault(fault, true);
        let volts: Vec<f64> = (0..200u64).map(|k| scene.volts(0, 1_000_000 + k * 1163)).collect();
        scene.set_fault(fault, false);
        volts
    };
    let frozen = spread(Fault::StandoffFrozen);
    assert!(sigma(&frozen) < 60e-6, "the converter's noise only");
    let glossy = spread(Fault::GlossyPatch);
    assert!(sigma(&glossy) > 0.05);
    let lost = glossy.iter().filter(|v| **v > 3.0).count();
    assert!((10..80).contains(&lost), "{lost}");
    let back = spread(Fault::Vibration);
    assert!((mean(&back) - good[0]).abs() < 0.003, "all taken back");
}

#[test]
fn same_seed_gives_the_same_codes_through_all_the_registers() {
    use embedded_hal::i2c::I2c;
    let stream = |seed| {
        let bench = Bench::new(seed);
        let mut i2c = bench.i2c();
        i2c.write(0x48, &[1, 0x42, 0xE3]).unwrap();
        (0..200u64)
            .map(|k| {
                bench.advance_to(2_000 + k * 1_500);
                let mut word = [0; 2];
                i2c.write_read(0x48, &[0], &mut word).unwrap();
                i16::from_be_bytes(word)
            })
            .collect::<Vec<_>>()
    };
    assert_eq!(stream(11), stream(11));
    assert_ne!(stream(11), stream(12));
    assert!(stream(11).iter().all(|code| *code > 2_000), "{:?}", &stream(11)[..5]);
}

#[test]
fn change_of_the_scene_does_not_reach_back_in_time() {
    use embedded_hal::i2c::I2c;
    let bench = Bench::with_scene(exact(1), 1);
    bench.scene(|scene| scene.set_slide_mm(30.0));
    let mut i2c = bench.i2c();
    i2c.write(0x48, &[1, 0x42, 0xE3]).unwrap();
    bench.advance_to(10_000);
    bench.scene(|scene| scene.set_slide_mm(25.0));
    let mut word = [0; 2];
    i2c.write_read(0x48, &[0], &mut word).unwrap();
    assert_eq!(i16::from_be_bytes(word), 14_000);
    bench.advance_to(20_000);
    i2c.write_read(0x48, &[0], &mut word).unwrap();
    assert_eq!(i16::from_be_bytes(word), 8_000);
}
