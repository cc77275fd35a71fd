//! Simulated heads, seeded: zeroed, clipped to boards, taken, broken.
//!
//! `cargo run --release -p skimgauge-tests --bin heads -- [heads [first seed]]`
//!
//! For each head: the true error of the gap after zeroing, the stated uncertainty against it, the time from clipping on to
//! a take, one fault of the bench's list (the next head has the next fault) and whether it was found within 0.3 s, and
//! false faults in clean stream. Everything runs through the head's own logic, its parts at register level, and its bytes.

mod breaking;
mod stand;
mod zeroing;

use breaking::Broken;
use skimgauge_bench::Bench;
use skimgauge_bench::head::{Attitude, Place};
use skimgauge_bench::noise::Noise;
use skimgauge_metrology::coverage::t_factor;
use skimgauge_metrology::measure::{Fault, Limits, Source};
use stand::Stand;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

/// What one head came to.
#[derive(Debug, Default)]
struct One {
    not_zeroed: Option<String>,
    takes: Vec<Taken>,
    no_take: u32,
    broken: Option<Broken>,
    clean_s: f64,
    false_faults: BTreeMap<&'static str, u32>,
}

#[derive(Debug)]
struct Taken {
    error_mm: f64,
    u_mm: f64,
    k: f64,
    own_mm: f64,
    zero_mm: f64,
    time_s: f64,
}

/// Places on the board, mm.
const PLACES: [(f64, f64); 4] = [(-900.0, -20.0), (900.0, -20.0), (0.0, -1250.0), (850.0, -1200.0)];

fn one(seed: u64) -> One {
    let mut noise = Noise::new(seed, 77);
    let bench = Bench::new(seed);
    // It has been on for a while.
    bench.scene(|scene| scene.head.warm_up_s = 0.5);
    let mut stand = Stand::new(bench, Limits { seat_u_mm: zeroing::SEAT_U_MM, ..Limits::default() });
    let mut one = One::default();
    stand.run(3.0);
    if let Err(why) = zeroing::zero(&mut stand, &mut noise) {
        one.not_zeroed = Some(why);
        return one;
    }
    for (x_mm, y_mm) in PLACES {
        stand.bench.scene(|scene| scene.put(Place::Hand, Attitude::Upright));
        stand.run(0.5);
        stand.bench.scene(|scene| {
            scene.clip(x_mm, y_mm);
            // The thumb leaves the light a little off the eye's centre.
            scene.roll_to_light(noise.normal(0.05));
        });
        let mut taken = None;
        for k in 1..=400 {
            stand.tick(&[]);
            if let Ok(take) = stand.observer.take(stand.now_s()) {
                taken = Some((f64::from(k) * 0.01, take));
                break;
            }
        }
        let Some((time_s, take)) = taken else {
            one.no_take += 1;
            continue;
        };
        // Without the seat's own scatter, which is part of what the take states.
        let truth_mm = stand.bench.truth().gap_mm.unwrap_or(f64::NAN);
        let zero_mm = take.parts.iter().filter(|p| p.source.shared()).map(|p| p.effect_mm.powi(2)).sum::<f64>().sqrt();
        one.takes.push(Taken {
            error_mm: take.gap_mm - truth_mm,
            u_mm: take.u_mm,
            k: t_factor(0.95, take.dof.map_or(f64::INFINITY, f64::floor)).unwrap_or(f64::NAN),
            own_mm: take.effect_mm(Source::Scatter),
            zero_mm,
            time_s,
        });
    }
    // Clean stream on the last place.
    let mut on: Vec<Fault> = Vec::new();
    for _ in 0..200 {
        stand.run(0.05);
        let faults = stand.live().faults;
        for fault in faults.iter().filter(|f| !on.contains(f)) {
            *one.false_faults.entry(fault.name()).or_default() += 1;
        }
        on = faults;
        one.clean_s += 0.05;
    }
    stand.observer.hold_knocks(true);
    one.broken = Some(breaking::break_one(&mut stand, seed));
    one
}

fn main() {
    let mut arguments = std::env::args().skip(1).filter_map(|a| a.parse::<u64>().ok());
    let heads = arguments.next().unwrap_or(10_000);
    let first = arguments.next().unwrap_or(0);
    let next = AtomicU64::new(first);
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    let mut all: Vec<One> = std::thread::scope(|scope| {
        let work = || {
            let mut done = Vec::new();
            loop {
                let seed = next.fetch_add(1, Ordering::Relaxed);
                if seed >= first + heads {
                    return done;
                }
                done.push((seed, one(seed)));
            }
        };
        let handles: Vec<_> = (0..workers).map(|_| scope.spawn(work)).collect();
        let mut all: Vec<(u64, One)> = handles.into_iter().flat_map(|h| h.join().unwrap_or_default()).collect();
        all.sort_by_key(|(seed, _)| *seed);
        all.into_iter().map(|(_, one)| one).collect()
    });
    print(&mut all, heads, first);
}

fn print(all: &mut [One], heads: u64, first: u64) {
    println!("simulated heads: {heads} from seed {first}; finished {}", all.len());
    let mut failures: BTreeMap<String, u32> = BTreeMap::new();
    for why in all.iter().filter_map(|o| o.not_zeroed.clone()) {
        *failures.entry(why).or_default() += 1;
    }
    println!("not zeroed: {}", failures.values().sum::<u32>());
    for (why, count) in failures {
        println!("  {count:>6}  {why}");
    }
    let takes: Vec<&Taken> = all.iter().flat_map(|o| &o.takes).collect();
    let missed: u32 = all.iter().map(|o| o.no_take).sum();
    println!("\ntakes: {}, not settled within 4 s: {missed}", takes.len());
    if takes.is_empty() {
        return;
    }
    let n = takes.len() as f64;
    let rms = |f: &dyn Fn(&Taken) -> f64| (takes.iter().map(|t| f(t).powi(2)).sum::<f64>() / n).sqrt();
    let mean = |f: &dyn Fn(&Taken) -> f64| takes.iter().map(|t| f(t)).sum::<f64>() / n;
    let quantile = |f: &dyn Fn(&Taken) -> f64, q: f64| {
        let mut values: Vec<f64> = takes.iter().map(|t| f(t)).collect();
        values.sort_by(f64::total_cmp);
        values[((values.len() - 1) as f64 * q).round() as usize]
    };
    println!("{:<58} {:>9}", "gap after zeroing", "mm");
    println!("{:<58} {:>9.4}", "error, mean", mean(&|t| t.error_mm));
    println!("{:<58} {:>9.4}", "error, root mean square", rms(&|t| t.error_mm));
    println!("{:<58} {:>9.4}", "stated standard uncertainty, root mean square", rms(&|t| t.u_mm));
    println!("{:<58} {:>9.4}", "  of it from zero, scales and temperature", rms(&|t| t.zero_mm));
    println!("{:<58} {:>9.4}", "  of it scatter of the mean", rms(&|t| t.own_mm));
    println!("{:<58} {:>9.4}", "stated U (95 %), median", quantile(&|t| t.k * t.u_mm, 0.5));
    println!("{:<58} {:>9.4}", "stated U (95 %), 95th percentile", quantile(&|t| t.k * t.u_mm, 0.95));
    println!("{:<58} {:>9.4}", "|error|, 95th percentile", quantile(&|t| t.error_mm.abs(), 0.95));
    let inside = takes.iter().filter(|t| t.error_mm.abs() <= t.k * t.u_mm).count() as f64 / n;
    println!("{:<58} {:>8.2}%", "errors within the stated U", 100.0 * inside);
    println!("\n{:<58} {:>9}", "time from clipping to a take", "s");
    for (name, q) in [("median", 0.5), ("95th percentile", 0.95), ("99th percentile", 0.99)] {
        println!("{name:<58} {:>9.2}", quantile(&|t| t.time_s, q));
    }
    let clean_h = all.iter().map(|o| o.clean_s).sum::<f64>() / 3600.0;
    let mut false_faults: BTreeMap<&str, u32> = BTreeMap::new();
    for (name, count) in all.iter().flat_map(|o| &o.false_faults) {
        *false_faults.entry(name).or_default() += count;
    }
    println!("\nfalse faults in {clean_h:.2} h of clean stream: {}", false_faults.values().sum::<u32>());
    for (name, count) in false_faults {
        println!("  {count:>6}  {name}");
    }
    breaking::print(all.iter().filter_map(|o| o.broken.as_ref()));
}
