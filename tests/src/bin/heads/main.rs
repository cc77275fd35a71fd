//! Simulated heads, seeded, in simulated rooms: the head's own logic on its parts at register
//! level, its bytes, and the host's observer.
//!
//! `cargo run --release -p skimgauge-tests --bin heads -- [--heads N] [--from SEED] [--only PART] [--kind KIND]`
//!
//! | part | what is asked |
//! | --- | --- |
//! | `off` | emitter off in smooth, stepped, flickering light: is there ever a gap, or a take? |
//! | `on` | emitter on in the same rooms: is a gap that is shown as good within 0.02 mm? |
//! | `takes` | heads zeroed on the board, seats with all the grit that the body allows for: error, stated uncertainty, time from the hand off to a take |
//! | `faults` | faults on demand: found, named rightly, in time, never taken |
//! | `pulsing` | emitters that pulse: does a fault that comes and goes stay until it can be read? |
//! | `mirror` | a mirrored sheet: named, or read past rightly? |
//! | `scatter` | one scan's middle against the design's numerical trial |
//! | `lag` | light that moves, or goes: how soon does the live number say so, and does it stand still while the light does? |
//! | `rate` | 100 readings a second beat with mains light, 90 do not |
//!
//! Every number comes from a seed: two runs print the same. Ten thousand heads take some hours on
//! two cores; the default takes some minutes.

mod breaking;
mod lag;
mod line;
mod mirror;
mod pulsing;
mod rate;
mod rooms;
mod scatter;
mod stand;
mod table;
mod takes;
mod zeroing;

use clap::Parser;
use rooms::Kind;
use std::sync::atomic::{AtomicU64, Ordering};

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Part {
    Off,
    On,
    Takes,
    Faults,
    Pulsing,
    Mirror,
    Scatter,
    Lag,
    Rate,
}

#[derive(Debug, clap::Parser)]
struct Args {
    /// Simulated heads, of each kind of room.
    #[arg(long, default_value_t = 200)]
    heads: u64,
    /// The first seed.
    #[arg(long, default_value_t = 0)]
    from: u64,
    /// Only this part; may be given again.
    #[arg(long)]
    only: Vec<Part>,
    /// Of `off` and `on` only this kind of room; may be given again.
    #[arg(long)]
    kind: Vec<Kind>,
}

/// One result for each seed, in order, on all cores.
fn each<T: Send>(args: &Args, one: impl Fn(u64) -> T + Sync) -> Vec<T> {
    let next = AtomicU64::new(args.from);
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    let mut all: Vec<(u64, T)> = std::thread::scope(|scope| {
        let work = || {
            let mut done = Vec::new();
            loop {
                let seed = next.fetch_add(1, Ordering::Relaxed);
                if seed >= args.from + args.heads {
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
    let args = Args::parse();
    let wanted = |part: Part| args.only.is_empty() || args.only.contains(&part);
    println!("simulated heads: {} of each kind from seed {}", args.heads, args.from);
    let kinds = if args.kind.is_empty() { &Kind::ALL[..] } else { &args.kind };
    if wanted(Part::Off) {
        println!("\nemitter off");
        for kind in kinds.iter().copied() {
            rooms::print_off(kind, &each(&args, |seed| rooms::off(seed, kind)));
        }
    }
    if wanted(Part::On) {
        println!("\nemitter on: any emitter, any station, light alone (exact seat, zero, sensor)");
        for kind in kinds.iter().copied() {
            rooms::print_on(kind, &each(&args, |seed| rooms::on(seed, kind)));
        }
    }
    if wanted(Part::Takes) {
        takes::print(&each(&args, takes::one));
    }
    if wanted(Part::Faults) {
        println!("\nfaults on demand; to be found within 0.3 s (leaning and vibration: 1 s)");
        breaking::print(&each(&args, breaking::one));
    }
    if wanted(Part::Pulsing) {
        println!("\nemitters that pulse");
        pulsing::print(&each(&args, pulsing::one));
    }
    if wanted(Part::Mirror) {
        println!(
            "\nmirrored sheet, by its distance; nearer than {} thicknesses two sheets are one",
            mirror::APART
        );
        mirror::print(&each(&args, mirror::mirrored));
    }
    if wanted(Part::Scatter) {
        println!("\none scan's middle, sheet 1.5 mm thick");
        scatter::print(args.heads.min(2_000));
    }
    if wanted(Part::Lag) {
        println!("\nfrom the light to the live number");
        lag::print(&each(&args, lag::one));
    }
    if wanted(Part::Rate) {
        println!("\nmeans over half a second, within 30 s");
        rate::print();
    }
}
