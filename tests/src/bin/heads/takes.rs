//! Takes of heads that were zeroed on the gauge, on their board: the true error of one seat and of the
//! mean of two, what is stated against it, the time from the hand off to a take, and what comes up
//! where nothing changes.

use crate::stand::{Stand, TODAY};
use crate::table::{Tally, quantile};
use crate::zeroing;
use skimgauge_bench::Bench;
use skimgauge_bench::head::{Attitude, Head, Place, Seating};
use skimgauge_bench::noise::Noise;
use skimgauge_bench::room::profile::{RoomLight, Shine};
use skimgauge_bench::room::{Lights, Plan, Room};
use skimgauge_bench::scene::Scene;
use skimgauge_bench::zeroed::Zeroed;
use skimgauge_metrology::coverage::t_factor;
use skimgauge_metrology::measure::{
    Fault, Limits, MATERIAL_MM, Material, NotTaken, Source, Take, seats,
};
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::message::SerialNumber;
use skimgauge_shared::pixels::Pixels;
use std::collections::BTreeMap;

/// The head stands within so much of the temperature at which it was zeroed, K.
const KELVIN: f64 = 2.0;
/// After so long without a take there is none, s.
const PATIENCE_S: f64 = 4.0;

/// What one head came to.
#[derive(Debug, Default)]
pub(crate) struct One {
    not_zeroed: Option<String>,
    takes: Vec<Taken>,
    /// Means of two seats at each place.
    pairs: Vec<Taken>,
    /// Takes on a board of another material than the one on which the head was zeroed.
    elsewhere: Vec<Taken>,
    not_taken: Vec<String>,
    /// Whether the emitter neither pulses nor dims.
    steady: bool,
    clean_s: f64,
    said: BTreeMap<&'static str, u32>,
}

#[derive(Debug)]
struct Taken {
    error_mm: f64,
    u_mm: f64,
    k: f64,
    own_mm: f64,
    shared_mm: f64,
    time_s: f64,
}

/// A head of this seed, not zeroed yet, on its board.
fn head(seed: u64, noise: &mut Noise) -> Stand {
    let plan = Plan {
        light: Lights::any(),
        // What thick sheets can be read at, too.
        start_gaps_mm: (3.2, 11.0),
        start_gap_mm: 5.0,
        ..Plan::default()
    };
    let mut scene = Scene::with(Room::planned(seed, &plan), Head::new(seed), seed);
    scene.seating = Seating::GRITTY;
    scene.light = RoomLight {
        slope: noise.uniform(-1.0, 1.0),
        flicker_hz: if noise.chance(0.5) { 100.0 } else { 120.0 },
        flicker: noise.uniform(0.0, 1.0),
        ..RoomLight::even(noise.uniform(0.0, 0.5))
    };
    // On for a while.
    scene.head.warm_up_s = 0.05;
    let bench = Bench::with_scene(scene, seed);
    let serial = bench.scene(|scene| scene.head.serial);
    let nominal = Zeroed {
        calibration: Calibration {
            date: TODAY,
            tilt_offset: Default::default(),
            ..Calibration::nominal(SerialNumber(serial))
        },
        pixels: Pixels::UNCOMPARED,
    };
    Stand::new(bench, &nominal, Limits::default())
}

/// One head at four stations, two seats each.
pub(crate) fn one(seed: u64) -> One {
    let mut noise = Noise::new(seed, 77);
    let mut stand = head(seed, &mut noise);
    let shine = stand.bench.scene(|scene| scene.room.emitter.shine);
    let mut one = One { steady: shine == Shine::STEADY, ..One::default() };
    stand.run(1.0);
    if let Err(why) = zeroing::zero(&mut stand, &mut noise) {
        one.not_zeroed = Some(why);
        return one;
    }
    // The day goes on: about as warm as when it was zeroed.
    stand.bench.scene(|scene| scene.air_c += noise.uniform(-KELVIN, KELVIN));
    let stations = stand.bench.scene(|scene| scene.room.stations());
    // Two corners at 86 degrees, the far side, and one besides.
    for station in [0, 2, 5, 1 + 2 * (seed % 4) as usize].map(|k: usize| stations[k]) {
        let place = (station.x_mm, station.y_mm);
        let seats = [seated(&mut stand, place, &mut noise), seated(&mut stand, place, &mut noise)];
        let true_mm = stand.bench.truth().gap_mm.unwrap_or(f64::NAN);
        let of = |take: &Take, time_s| Taken::of(take, true_mm, time_s);
        if let [Ok((_, first)), Ok((_, second))] = &seats
            && let Some((mean, _)) = seats::mean(&[first.clone(), second.clone()])
        {
            one.pairs.push(of(&mean, f64::NAN));
        }
        for seat in seats {
            match seat {
                Ok((time_s, take)) => one.takes.push(of(&take, time_s)),
                Err(why) => one.not_taken.push(why),
            }
        }
    }
    one.watch(&mut stand);
    // The head goes on to a board of another material, where the record knows nothing of its zero.
    stand.bench.scene(|scene| {
        scene.room.board.material.laser_mm += noise.uniform(-MATERIAL_MM, MATERIAL_MM);
    });
    stand.observer.zeroed(Material::elsewhere(MATERIAL_MM));
    for station in [&stations[1], &stations[5]] {
        let seat = seated(&mut stand, (station.x_mm, station.y_mm), &mut noise);
        let true_mm = stand.bench.truth().gap_mm.unwrap_or(f64::NAN);
        one.elsewhere.extend(seat.map(|(time_s, take)| Taken::of(&take, true_mm, time_s)));
    }
    one
}

impl One {
    /// A stream on the last place, where nothing changes.
    fn watch(&mut self, stand: &mut Stand) {
        let mut on: Vec<Fault> = stand.live().faults;
        for _ in 0..100 {
            stand.run(0.05);
            let faults = stand.live().faults;
            for fault in faults.iter().filter(|f| !on.contains(f)) {
                *self.said.entry(fault.name()).or_default() += 1;
            }
            on = faults;
            self.clean_s += 0.05;
        }
    }
}

/// Lifted, clipped on anew with the eye turned by hand, and taken as soon as it can be: how long
/// that took after the hand was off, s; or what stood in the way.
fn seated(
    stand: &mut Stand,
    (x_mm, y_mm): (f64, f64),
    noise: &mut Noise,
) -> Result<(f64, Take), String> {
    stand.bench.scene(|scene| scene.put(Place::Hand, Attitude::Upright));
    stand.run(0.5);
    stand.bench.scene(|scene| {
        scene.clip(x_mm, y_mm);
        scene.turn_eye_to_emitter(noise.uniform(-10.0, 10.0));
    });
    let mut last = None;
    for k in 1..=(PATIENCE_S * 100.0) as u32 {
        stand.tick(&[]);
        match stand.observer.take(stand.now_s()) {
            Ok(take) => return Ok((f64::from(k) * 0.01, take)),
            Err(NotTaken::Fault { fault }) => last = Some(fault.name().to_owned()),
            Err(NotTaken::Unsettled { .. }) => last = Some("unsettled".to_owned()),
            Err(NotTaken::Noisy { .. }) => last = Some("too noisy".to_owned()),
        }
    }
    Err(last.unwrap_or_default())
}

impl Taken {
    fn of(take: &Take, true_mm: f64, time_s: f64) -> Self {
        let shared = take.parts.iter().filter(|p| p.source.shared());
        Self {
            error_mm: take.gap_mm - true_mm,
            u_mm: take.u_mm,
            k: t_factor(0.95, take.dof.map_or(f64::INFINITY, f64::floor)).unwrap_or(f64::NAN),
            own_mm: take.effect_mm(Source::Scatter),
            shared_mm: shared.map(|p| p.effect_mm.powi(2)).sum::<f64>().sqrt(),
            time_s,
        }
    }
}

pub(crate) fn print(all: &[One]) {
    let takes: Vec<&Taken> = all.iter().flat_map(|o| &o.takes).collect();
    let pairs: Vec<&Taken> = all.iter().flat_map(|o| &o.pairs).collect();
    let missed: Vec<String> = all.iter().flat_map(|o| o.not_taken.clone()).collect();
    let not_zeroed: Vec<String> = all.iter().filter_map(|o| o.not_zeroed.clone()).collect();
    println!("\nheads zeroed on the gauge: {} of {}", all.len() - not_zeroed.len(), all.len());
    println!("  {}", Tally::of(not_zeroed.into_iter()));
    println!("\ntakes: {}, none within {PATIENCE_S} s: {}", takes.len(), missed.len());
    println!("  {}", Tally::of(missed.into_iter()));
    if takes.is_empty() || pairs.is_empty() {
        return;
    }
    println!("{:<50} {:>12} {:>12}", "gap, mm", "one seat", "two seats");
    let line = |name: &str, f: &dyn Fn(&[&Taken]) -> f64| {
        println!("{name:<50} {:>12.4} {:>12.4}", f(&takes), f(&pairs));
    };
    line("error, mean", &|of| of.iter().map(|t| t.error_mm).sum::<f64>() / of.len() as f64);
    line("error, root mean square", &|of| rms(of, |t| t.error_mm));
    line("stated standard uncertainty, root mean square", &|of| rms(of, |t| t.u_mm));
    line("  of it from zero, scale, temperature", &|of| rms(of, |t| t.shared_mm));
    line("  of it scatter of the mean", &|of| rms(of, |t| t.own_mm));
    line("stated U (95 %), median", &|of| at(of, |t| t.k * t.u_mm, 0.5));
    line("stated U (95 %), 95th percentile", &|of| at(of, |t| t.k * t.u_mm, 0.95));
    line("|error|, 95th percentile", &|of| at(of, |t| t.error_mm.abs(), 0.95));
    line("errors within the stated U, %", &|of| share(of, |t| t.error_mm.abs() <= t.k * t.u_mm));
    print_elsewhere(all);
    println!("\n{:<50} {:>12}", "time from the hand off to a take", "s");
    for (name, q) in [("median", 0.5), ("95th percentile", 0.95), ("99th percentile", 0.99)] {
        println!("{name:<50} {:>12.2}", at(&takes, |t| t.time_s, q));
    }
    for (steady, emitters) in [(true, "steady emitters"), (false, "pulsing and dimming ones")] {
        let of = || all.iter().filter(move |one| one.steady == steady);
        let hours = of().map(|one| one.clean_s).sum::<f64>() / 3600.0;
        let mut said: BTreeMap<&str, u32> = BTreeMap::new();
        for (name, count) in of().flat_map(|one| &one.said) {
            *said.entry(name).or_default() += count;
        }
        let heads = of().filter(|one| !one.said.is_empty()).count();
        println!(
            "\nwhere nothing changes, {emitters}, {hours:.2} h: {} faults came up, before {heads} heads of {}",
            said.values().sum::<u32>(),
            of().count()
        );
        for (name, count) in said {
            println!("  {count:>6}  {name}");
        }
    }
}

fn print_elsewhere(all: &[One]) {
    let takes: Vec<&Taken> = all.iter().flat_map(|o| &o.elsewhere).collect();
    println!(
        "\nzeroed on another material (up to {MATERIAL_MM} mm), one seat: {} takes",
        takes.len()
    );
    println!("{:<50} {:>12.4}", "error, root mean square", rms(&takes, |t| t.error_mm));
    println!("{:<50} {:>12.4}", "stated U (95 %), median", at(&takes, |t| t.k * t.u_mm, 0.5));
    let within = share(&takes, |t| t.error_mm.abs() <= t.k * t.u_mm);
    println!("{:<50} {within:>12.4}", "errors within the stated U, %");
}

fn share(of: &[&Taken], is: impl Fn(&Taken) -> bool) -> f64 {
    100.0 * of.iter().filter(|t| is(t)).count() as f64 / of.len() as f64
}

fn rms(of: &[&Taken], f: impl Fn(&Taken) -> f64) -> f64 {
    (of.iter().map(|t| f(t).powi(2)).sum::<f64>() / of.len() as f64).sqrt()
}

fn at(of: &[&Taken], f: impl Fn(&Taken) -> f64, q: f64) -> f64 {
    let mut values: Vec<f64> = of.iter().map(|t| f(t)).collect();
    values.sort_by(f64::total_cmp);
    quantile(&values, q)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The study's goals on few heads: U of one seat, what lies within it, and the time to a take.
    #[test]
    fn a_take_from_one_seat_is_known_to_0_06_mm_in_0_6_s() {
        let all: Vec<One> = (0..8).map(one).collect();
        let takes: Vec<&Taken> = all.iter().flat_map(|o| &o.takes).collect();
        assert!(takes.len() >= 45, "{}", takes.len());
        assert!(at(&takes, |t| t.k * t.u_mm, 0.5) <= 0.06);
        assert!(at(&takes, |t| t.time_s, 0.5) <= 0.6);
        let within = takes.iter().filter(|t| t.error_mm.abs() <= t.k * t.u_mm).count();
        // 94 % of 64, with what chance may take from so few.
        assert!(within * 100 >= takes.len() * 88, "{within} of {}", takes.len());
        // On another material U is honest, too: it counts what nobody knows.
        let elsewhere: Vec<&Taken> = all.iter().flat_map(|o| &o.elsewhere).collect();
        let within = elsewhere.iter().filter(|t| t.error_mm.abs() <= t.k * t.u_mm).count();
        assert!(elsewhere.len() >= 12 && within * 100 >= elsewhere.len() * 88, "{within}");
        assert!(elsewhere.iter().any(|t| t.error_mm.abs() > 0.06), "its material does nothing");
    }
}
