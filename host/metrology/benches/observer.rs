//! Ten million clean readings through the observer: readings a second, memory, false faults, share
//! of time in which a take could be made. `cargo bench -p skimgauge-metrology --bench observer [--
//! readings]`

#[path = "../tests/stream/mod.rs"]
mod stream;

use skimgauge_metrology::measure::Fault;
use std::collections::BTreeMap;
use std::time::Instant;

fn main() {
    let readings = std::env::args().filter_map(|a| a.parse().ok()).next().unwrap_or(10_000_000_u64);
    let mut stream = stream::Stream::new(1);
    let mut alarms: BTreeMap<Fault, u64> = BTreeMap::new();
    let (mut looks, mut takeable, mut longest_wait, mut wait) = (0_u64, 0_u64, 0_u64, 0_u64);
    let mut on: Vec<Fault> = Vec::new();
    println!("{:>12} {:>12} {:>12} {:>12}", "readings", "per second", "resident kB", "takeable");
    let start = Instant::now();
    for k in 1..=readings {
        stream.step();
        if k.is_multiple_of(10) {
            let live = stream.observer.live(stream.now_s());
            for fault in &live.faults {
                if !on.contains(fault) {
                    *alarms.entry(*fault).or_default() += 1;
                }
            }
            on = live.faults;
            looks += 1;
            if live.can_take.is_ok() {
                takeable += 1;
                wait = 0;
            } else {
                wait += 1;
                longest_wait = longest_wait.max(wait);
            }
        }
        if k.is_multiple_of((readings / 5).max(1)) {
            println!(
                "{k:>12} {:>12.0} {:>12} {:>11.4}%",
                k as f64 / start.elapsed().as_secs_f64(),
                resident_kb().map_or("?".into(), |kb| kb.to_string()),
                100.0 * takeable as f64 / looks as f64
            );
        }
    }
    let hours = readings as f64 / 360_000.0;
    let total: u64 = alarms.values().sum();
    println!(
        "false faults: {total} in {hours:.1} h of clean stream ({:.2} an hour)",
        total as f64 / hours
    );
    for (fault, count) in alarms {
        println!("  {:<28} {count}", fault.name());
    }
    println!("longest stretch in which no take could be made: {:.1} s", longest_wait as f64 * 0.1);
}

/// Resident memory, where the system tells it (Linux).
fn resident_kb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    status
        .lines()
        .find_map(|l| l.strip_prefix("VmRSS:")?.trim().strip_suffix("kB")?.trim().parse().ok())
}
