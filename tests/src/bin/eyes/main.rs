//! Simulated eyes, seeded: a line of pixels in front of a sheet of light and the room's, through
//! the head's own driver and sums.
//!
//! `cargo run --release -p skimgauge-tests --bin eyes -- [heads [first seed]]`
//!
//! Emitter off: is there ever a middle? On, in the same rooms: is a middle that is not called
//! doubtful within 0.02 mm? A mirrored sheet: named, or read past rightly? One scan's scatter
//! against the design's trial; and why 90 scans a second. Every number comes from a seed: two runs
//! print the same.

mod mirror;
mod rate;
mod rooms;
mod scatter;
mod stand;
mod table;

use stand::Kind;
use std::sync::atomic::{AtomicU64, Ordering};

/// One result for each seed, in order, on all cores.
fn each<T: Send>(first: u64, heads: u64, one: impl Fn(u64) -> T + Sync) -> Vec<T> {
    let next = AtomicU64::new(first);
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    let mut all: Vec<(u64, T)> = std::thread::scope(|scope| {
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
        handles.into_iter().flat_map(|handle| handle.join().unwrap_or_default()).collect()
    });
    all.sort_by_key(|(seed, _)| *seed);
    all.into_iter().map(|(_, one)| one).collect()
}

fn main() {
    let mut arguments = std::env::args().skip(1).filter_map(|a| a.parse::<u64>().ok());
    let heads = arguments.next().unwrap_or(10_000);
    let first = arguments.next().unwrap_or(0);
    println!("simulated eyes: {heads} of each kind from seed {first}\n\nemitter off");
    for kind in Kind::ALL {
        rooms::print_off(kind, &each(first, heads, |seed| rooms::off(seed, kind)));
    }
    println!("\nemitter on");
    for kind in Kind::ALL {
        rooms::print_on(kind, &each(first, heads, |seed| rooms::on(seed, kind)));
    }
    println!(
        "\nmirrored sheet, by its distance; nearer than {} thicknesses two sheets are one",
        mirror::APART
    );
    mirror::print(&each(first, heads, mirror::mirrored));
    println!("\none scan's middle, sheet 1.5 mm thick");
    scatter::print(heads.min(2_000));
    println!("\nmeans over half a second, within 30 s");
    rate::print();
}
