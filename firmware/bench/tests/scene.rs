//! What the head's sensors feel in the room, held against what is true there.

use skimgauge_bench::head::{
    Attitude, Characteristic, Head, NO_SPOT_V, Place, Plate, STANDOFF_V_PER_MM, Seat, Seating,
    StandoffError, TOO_NEAR_V,
};
use skimgauge_bench::noise::Noise;
use skimgauge_bench::part::{Analog, Motion};
use skimgauge_bench::room::board::Material;
use skimgauge_bench::scene::Scene;
use skimgauge_bench::{Bench, Fault, Room};

/// Without error, noise, material.
fn exact(seed: u64) -> Scene {
    let mut room = Room::new(seed);
    room.board.material = Material::default();
    let mut scene = Scene::with(room, Head::exact(), seed);
    scene.seating = Seating::EXACT;
    scene.set_seat(Seat::default());
    scene
}

/// 1 V at 20 mm to 5 V at 50 mm behind a divider of 0.5485, on an exact head.
fn standoff_mm(scene: &mut Scene, at_us: u64) -> f64 {
    20.0 + (scene.volts(0, at_us) / 0.5485 - 1.0) * 7.5
}

/// What an exact head makes of stand-off and middle.
fn gap_mm(scene: &mut Scene) -> f64 {
    standoff_mm(scene, 0) + scene.truth(0).middle_mm.unwrap() + scene.head.z0_mm()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn sigma(values: &[f64]) -> f64 {
    let middle = mean(values);
    (values.iter().map(|v| (v - middle).powi(2)).sum::<f64>() / (values.len() - 1) as f64).sqrt()
}

#[test]
fn an_exact_head_reads_the_true_gap_at_every_station_however_it_is_lifted() {
    for seed in 0..20 {
        let mut scene = exact(seed);
        for station in scene.room.stations() {
            scene.clip(station.x_mm, station.y_mm);
            let true_mm = scene.room.gap_mm(station.x_mm, station.y_mm);
            assert_eq!(scene.truth(0).gap_mm, Some(true_mm));
            let seated_mm = gap_mm(&mut scene);
            // What is left is the board's own bend between feet, spot and eye: most on a bump of
            // 0.15 mm and 80 mm.
            assert!((seated_mm - true_mm).abs() < 0.06, "{seed} {}: {seated_mm}", station.name);
            scene.lift_mm = 0.7;
            assert!((gap_mm(&mut scene) - seated_mm).abs() < 1e-9);
            scene.lift_mm = 0.0;
        }
    }
}

/// Lean times the distance from spot to eye: 0.08 mm under the upper foot are 2 mrad over 40 mm,
/// and 10 mm below the eye the laser sees the board 0.02 mm nearer than the eye does.
#[test]
fn lean_goes_into_the_gap_by_the_distance_from_spot_to_eye() {
    let mut scene = exact(1);
    scene.clip(300.0, -600.0);
    let plumb_mm = gap_mm(&mut scene);
    let [level, lean] = tilt_deg(&mut scene);
    scene.set_seat(Seat { feet_mm: [0.08, 0.0, 0.0], ..Seat::default() });
    assert!((gap_mm(&mut scene) - plumb_mm + 0.02).abs() < 1e-9);
    let [level_now, lean_now] = tilt_deg(&mut scene);
    assert!((lean_now - lean - 2e-3f64.to_degrees()).abs() < 1e-4);
    assert!((level_now - level).abs() < 1e-6);
    // A turn about the upright axis enters by what the spot is beside the eye's foot: nothing.
    scene.set_seat(Seat { feet_mm: [0.0, -0.06, 0.06], ..Seat::default() });
    assert!((gap_mm(&mut scene) - plumb_mm).abs() < 1e-9);
    scene.head.spot_off_deg = 0.5;
    assert!((gap_mm(&mut scene) - plumb_mm).abs() > 1e-4);
    scene.head.spot_off_deg = 0.0;
    scene.set_seat(Seat { swivel_mm: 0.005, ..Seat::default() });
    assert!((gap_mm(&mut scene) - plumb_mm + 0.005).abs() < 1e-9);
}

#[test]
fn a_translucent_board_moves_the_laser_and_nothing_else() {
    let mut scene = exact(2);
    let (before_mm, middle_mm) = (standoff_mm(&mut scene, 0), scene.truth(0).middle_mm);
    scene.room.board.material = Material { laser_mm: 0.2, ..Material::default() };
    assert!((standoff_mm(&mut scene, 0) - before_mm - 0.2).abs() < 1e-9);
    assert_eq!(scene.truth(0).middle_mm, middle_mm);
    scene.put(Place::Plate(Plate { laser_mm: -0.1, ..Plate::default() }), Attitude::Upright);
    assert!((standoff_mm(&mut scene, 0) - 33.0 + 0.1).abs() < 1e-9);
    scene.put(Place::Plate(Plate { block_mm: 4.0, ..Plate::default() }), Attitude::Upright);
    assert!((standoff_mm(&mut scene, 0) - 29.0).abs() < 1e-9);
}

#[test]
fn errors_of_the_standoff_sensor_are_those_set() {
    let mut scene = exact(1);
    scene.put(Place::Plate(Plate::default()), Attitude::Upright);
    scene.head.standoff_error =
        StandoffError { offset_mm: 0.1, scale: 0.01, quadratic_mm: 0.05, per_k_mm: 0.002 };
    scene.air_c = 25.0;
    for (lift_mm, error_mm) in
        [(2.0, 0.11), (17.0, 0.1 + 0.15 + 0.05 + 0.01), (-13.0, 0.1 - 0.15 + 0.05 + 0.01)]
    {
        scene.lift_mm = lift_mm;
        assert!((standoff_mm(&mut scene, 0) - 33.0 - lift_mm - error_mm).abs() < 1e-9);
    }
    scene.head.standoff_error = StandoffError::default();
    // 5 K and 50 ppm/K of what the converter sees at 33 mm.
    scene.lift_mm = 0.0;
    let cold_v = scene.volts(0, 0);
    scene.head.converter_gain_per_k = 50e-6;
    assert!((scene.volts(0, 0) - cold_v * 1.000_25).abs() < 1e-9);
    scene.head.converter_gain_per_k = 0.0;
    for (of, lost_v, near_v) in
        [(Characteristic::RISING, NO_SPOT_V, TOO_NEAR_V), (Characteristic::FALLING, 0.0, NO_SPOT_V)]
    {
        scene.head.characteristic = of;
        scene.lift_mm = 17.5;
        assert_eq!(scene.volts(0, 0), lost_v);
        scene.lift_mm = -14.0;
        assert_eq!(scene.volts(0, 0), near_v);
        scene.lift_mm = 1.0;
        let out_v = scene.volts(0, 0);
        scene.lift_mm = 0.0;
        assert!(((out_v - scene.volts(0, 0)).abs() - STANDOFF_V_PER_MM).abs() < 1e-9);
    }
}

/// The top corner of a 94 inch board, 16:10, the emitter 75 mm above it: 86 degrees, toward the
/// middle from either side.
#[test]
fn the_emitter_stands_at_86_degrees_from_the_top_corners() {
    let mut scene = exact(1);
    for (station, azimuth_deg) in [(0, 85.76), (2, -85.76), (1, 0.0), (5, 0.0)] {
        let station = scene.room.stations()[station];
        scene.clip(station.x_mm, station.y_mm);
        assert!((scene.emitter_deg() - azimuth_deg).abs() < 0.01, "{}", station.name);
        scene.turn_eye_to_emitter(3.0);
        assert!((scene.truth(0).away_deg - 3.0).abs() < 1e-9);
    }
    scene.turn_eye(170.0);
    assert_eq!(scene.eye_deg(), 100.0);
    scene.turn_eye(f64::NAN);
    assert_eq!(scene.eye_deg(), 100.0);
}

/// Height of the line's brightest pixel over the face as a scan of 2 ms has it, and how bright it
/// is over the others' median, codes.
fn peak(bench: &Bench) -> (f64, f64) {
    let now_us = bench.now_us() + 4_000;
    let scan = bench.pixel_scan(now_us, (now_us - 2_000) as f64, now_us as f64);
    let brightest = (0..scan.len()).max_by_key(|k| scan[*k]).unwrap();
    let mut sorted = scan;
    sorted.sort_unstable();
    let over = f64::from(scan[brightest]) - f64::from(sorted[128]);
    (bench.pixel_line(|line| line.height_mm(brightest as f64)), over)
}

#[test]
fn the_line_sees_the_sheet_where_the_truth_has_it_and_nothing_past_its_slit() {
    let bench = Bench::with_scene(exact(4), 4);
    let station = bench.scene(|scene| scene.room.stations()[2]);
    bench.scene(|scene| {
        scene.clip(station.x_mm, station.y_mm);
        scene.turn_eye_to_emitter(0.0);
    });
    let truth = bench.truth();
    let (at_mm, over) = peak(&bench);
    assert!((at_mm - 0.4 - truth.middle_mm.unwrap()).abs() < 0.3 && over > 300.0, "{at_mm} {over}");
    // As it was at the bottom, where the light comes straight down.
    bench.scene(|scene| scene.turn_eye(0.0));
    assert!(peak(&bench).1 < 60.0);
    bench.scene(|scene| {
        scene.turn_eye_to_emitter(0.0);
        scene.eye_covered = true;
    });
    assert!(peak(&bench).1 < 30.0);
}

#[test]
fn a_cold_emitter_is_brighter_and_stands_off_by_and_by_as_when_warm() {
    let mut scene = exact(5);
    scene.clip(0.0, -1200.0);
    let warm_mm = scene.truth(0).gap_mm.unwrap();
    let warm_up = scene.room.emitter.warm_up;
    scene.start_emitter_cold();
    let off_mm = |scene: &Scene, s: f64| scene.truth((s * 1e6) as u64).gap_mm.unwrap() - warm_mm;
    let cold_mm = warm_up.out_mm + warm_up.lean * (75.0 + 1200.0);
    assert!((off_mm(&scene, 0.0) - cold_mm).abs() < 1e-9 && cold_mm.abs() > 1e-3);
    let later_mm = off_mm(&scene, warm_up.seconds);
    assert!((later_mm / cold_mm - (-1.0f64).exp()).abs() < 1e-3);
}

/// What a face that was wiped does to seats, and what grit does: in the gap only through lean.
#[test]
fn seats_scatter_in_the_gap_as_the_body_says() {
    let mut scene = exact(6);
    let mut noise = Noise::new(6, 1);
    let mut of = |seating: Seating| {
        let gaps: Vec<f64> = (0..2_000)
            .map(|_| {
                scene.set_seat(seating.seat(0.0, &mut noise));
                gap_mm(&mut scene)
            })
            .collect();
        sigma(&gaps)
    };
    // 0.012 root 1.5 / 40 times 10 mm, and 0.005 / root 3 of play.
    assert!((of(Seating::WIPED) - 0.003_674f64.hypot(0.002_887)).abs() < 3e-4);
    // And 2 mrad / root 3 times 10 mm.
    let all = 0.011_547f64.hypot(0.003_674).hypot(0.002_887);
    assert!((of(Seating::GRITTY) - all).abs() < 5e-4);
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
    let mut now_us = 0;
    let mut look = |scene: &mut Scene| {
        now_us += 2000;
        let volts = [0, 1, 2, 3].map(|channel| scene.volts(channel, now_us));
        (volts, tilt_deg(scene), scene.temperature_c(now_us))
    };
    let (good, tilt, _) = look(&mut scene);
    assert!((1.3..1.7).contains(&good[0]) && (good[3] - 2.5).abs() < 0.01);
    let mut with = |fault| {
        scene.set_fault(fault, true);
        let seen = look(&mut scene);
        scene.set_fault(fault, false);
        seen
    };
    let (volts, _, _) = with(Fault::SpotLost);
    assert!((volts[0] - NO_SPOT_V).abs() < 0.01);
    let (volts, _, _) = with(Fault::StandoffTooNear);
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
    assert!(sigma(&glossy) > 0.02);
    let lost = glossy.iter().filter(|v| **v > 2.9).count();
    assert!((10..80).contains(&lost), "{lost}");
    let back = spread(Fault::Vibration);
    assert!((mean(&back) - good[0]).abs() < 0.002, "all taken back");
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
    bench.scene(|scene| scene.put(Place::Plate(Plate::default()), Attitude::Upright));
    bench.scene(|scene| scene.lift_mm = 2.0);
    let mut i2c = bench.i2c();
    i2c.write(0x48, &[1, 0x42, 0xE3]).unwrap();
    bench.advance_to(10_000);
    bench.scene(|scene| scene.lift_mm = -5.5);
    let mut word = [0; 2];
    i2c.write_read(0x48, &[0], &mut word).unwrap();
    assert_eq!(i16::from_be_bytes(word), 13_164);
    bench.advance_to(20_000);
    i2c.write_read(0x48, &[0], &mut word).unwrap();
    assert_eq!(i16::from_be_bytes(word), 8_776);
}
