//! Simulated heads, seeded: zeroed, clipped to boards, taken, broken.
//!
//! `cargo run --release -p skimgauge-tests --bin heads -- [heads [first seed]]`
//!
//! For each head: the true error of the gap after zeroing, of one seat and of the mean of two, the
//! stated uncertainty against it, the time from clipping on to a take, one fault of the bench's
//! list (the next head has the next fault) and whether it was found within 0.3 s, and false faults
//! in clean stream. Everything runs through the head's own logic, its parts at register level, and
//! its bytes.

mod breaking;
mod stand;
mod zeroing;

use breaking::Broken;
use skimgauge_bench::Bench;
use skimgauge_bench::head::{Attitude, Place};
use skimgauge_bench::noise::Noise;
use skimgauge_metrology::coverage::t_factor;
use skimgauge_metrology::measure::{Fault, Limits, Source, Take, seats};
use stand::Stand;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

/// What one head came to.
#[derive(Debug, Default)]
struct One {
    not_zeroed: Option<String>,
    takes: Vec<Taken>,
    /// Means of two seats at each place.
    pairs: Vec<Taken>,
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
    let mut stand =
        Stand::new(bench, Limits { seat_u_mm: zeroing::SEAT_U_MM, ..Limits::default() });
    let mut one = One::default();
    stand.run(3.0);
    if let Err(why) = zeroing::zero(&mut stand, &mut noise) {
        one.not_zeroed = Some(why);
        return one;
    }
    for place in PLACES {
        let (first, second) =
            (seated(&mut stand, place, &mut noise), seated(&mut stand, place, &mut noise));
        // Without the seat's own scatter, which is part of what the take states.
        let truth_mm = stand.bench.truth().gap_mm.unwrap_or(f64::NAN);
        if let (Some((_, first)), Some((_, second))) = (&first, &second)
            && let Some((mean, _)) = seats::mean(&[first.clone(), second.clone()])
        {
            one.pairs.push(Taken::of(&mean, truth_mm, f64::NAN));
        }
        for seat in [first, second] {
            match seat {
                Some((time_s, take)) => one.takes.push(Taken::of(&take, truth_mm, time_s)),
                None => one.no_take += 1,
            }
        }
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

/// Lifted, clipped on anew, and taken as soon as it can be; how long that took, s.
fn seated(stand: &mut Stand, (x_mm, y_mm): (f64, f64), noise: &mut Noise) -> Option<(f64, Take)> {
    stand.bench.scene(|scene| scene.put(Place::Hand, Attitude::Upright));
    stand.run(0.5);
    stand.bench.scene(|scene| {
        scene.clip(x_mm, y_mm);
        // The thumb leaves the light a little off the eye's centre.
        scene.roll_to_light(noise.normal(0.05));
    });
    (1..=400).find_map(|k| {
        stand.tick(&[]);
        Some((f64::from(k) * 0.01, stand.observer.take(stand.now_s()).ok()?))
    })
}

impl Taken {
    fn of(take: &Take, truth_mm: f64, time_s: f64) -> Self {
        Self {
            error_mm: take.gap_mm - truth_mm,
            u_mm: take.u_mm,
            k: t_factor(0.95, take.dof.map_or(f64::INFINITY, f64::floor)).unwrap_or(f64::NAN),
            own_mm: take.effect_mm(Source::Scatter),
            zero_mm: take
                .parts
                .iter()
                .filter(|p| p.source.shared())
                .map(|p| p.effect_mm.powi(2))
                .sum::<f64>()
                .sqrt(),
            time_s,
        }
    }
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
        let mut all: Vec<(u64, One)> =
            handles.into_iter().flat_map(|h| h.join().unwrap_or_default()).collect();
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
    let pairs: Vec<&Taken> = all.iter().flat_map(|o| &o.pairs).collect();
    let missed: u32 = all.iter().map(|o| o.no_take).sum();
    println!("\ntakes: {}, not settled within 4 s: {missed}", takes.len());
    if takes.is_empty() || pairs.is_empty() {
        return;
    }
    println!("{:<50} {:>12} {:>12}", "gap after zeroing, mm", "one seat", "two seats");
    let line = |name: &str, f: &dyn Fn(&[&Taken]) -> f64| {
        println!("{name:<50} {:>12.4} {:>12.4}", f(&takes), f(&pairs));
    };
    line("error, mean", &|of| of.iter().map(|t| t.error_mm).sum::<f64>() / of.len() as f64);
    line("error, root mean square", &|of| rms(of, |t| t.error_mm));
    line("stated standard uncertainty, root mean square", &|of| rms(of, |t| t.u_mm));
    line("  of it from zero, scales and temperature", &|of| rms(of, |t| t.zero_mm));
    line("  of it scatter of the mean", &|of| rms(of, |t| t.own_mm));
    line("stated U (95 %), median", &|of| quantile(of, |t| t.k * t.u_mm, 0.5));
    line("stated U (95 %), 95th percentile", &|of| quantile(of, |t| t.k * t.u_mm, 0.95));
    line("|error|, 95th percentile", &|of| quantile(of, |t| t.error_mm.abs(), 0.95));
    line("errors within the stated U, %", &|of| {
        100.0 * of.iter().filter(|t| t.error_mm.abs() <= t.k * t.u_mm).count() as f64
            / of.len() as f64
    });
    println!("\n{:<50} {:>12}", "time from clipping to a take", "s");
    for (name, q) in [("median", 0.5), ("95th percentile", 0.95), ("99th percentile", 0.99)] {
        println!("{name:<50} {:>12.2}", quantile(&takes, |t| t.time_s, q));
    }
    let clean_h = all.iter().map(|o| o.clean_s).sum::<f64>() / 3600.0;
    let mut false_faults: BTreeMap<&str, u32> = BTreeMap::new();
    for (name, count) in all.iter().flat_map(|o| &o.false_faults) {
        *false_faults.entry(name).or_default() += count;
    }
    println!(
        "\nfalse faults in {clean_h:.2} h of clean stream: {}",
        false_faults.values().sum::<u32>()
    );
    for (name, count) in false_faults {
        println!("  {count:>6}  {name}");
    }
    breaking::print(all.iter().filter_map(|o| o.broken.as_ref()));
}

fn rms(of: &[&Taken], f: impl Fn(&Taken) -> f64) -> f64 {
    (of.iter().map(|t| f(t).powi(2)).sum::<f64>() / of.len() as f64).sqrt()
}

fn quantile(of: &[&Taken], f: impl Fn(&Taken) -> f64, q: f64) -> f64 {
    let mut values: Vec<f64> = of.iter().map(|t| f(t)).collect();
    values.sort_by(f64::total_cmp);
    values[((values.len() - 1) as f64 * q).round() as usize]
}
