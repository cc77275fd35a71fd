//! Whole trims in simulated rooms, and what became of them:
//! `rooms [--rooms N] [--seed S] [--kind KIND] [--band MM] [--threads N]`.
//!
//! Every kind of board that an installer meets, a 94 inch one of 16:10, on three adjusters 200 mm by
//! 60 mm apart of 0.5 mm pitch; in half of the rooms something is wrong besides (a pitch, a sense, a
//! slipping thread, the head's seat, a misread station). What is judged and turned comes from the
//! sums of the guided trim; the truth is looked at on a grid of 33 by 21. The status is 1 where a
//! goal is missed.

mod board;
mod one_at_a_time;
mod room;
mod tally;
mod trial;
mod turning;

use board::{KINDS, Kind};
use clap::Parser;
use std::process::ExitCode;
use std::sync::atomic::{AtomicU64, Ordering};
use tally::Tally;

/// Whole trims in simulated rooms.
#[derive(Debug, Parser)]
struct Args {
    /// How many rooms of each kind.
    #[arg(long, default_value_t = 200)]
    rooms: u64,
    /// The first room's seed; the others follow it.
    #[arg(long, default_value_t = 0)]
    seed: u64,
    /// Only this kind of board.
    #[arg(long)]
    kind: Option<Kind>,
    /// Only this width of the band, mm.
    #[arg(long)]
    band: Option<f64>,
    /// Threads.
    #[arg(long, default_value_t = 2)]
    threads: u64,
    /// Without the rooms adjusted one at a time.
    #[arg(long)]
    alone: bool,
}

/// Widths of the band, mm.
const WIDTHS_MM: [f64; 3] = [3.0, 1.5, 1.0];

fn main() -> ExitCode {
    let args = Args::parse();
    let began = std::time::Instant::now();
    println!("{} rooms of each kind from seed {}", args.rooms, args.seed);
    println!("{}", Tally::HEAD);
    let mut missed = Vec::new();
    let widths = args.band.map_or(WIDTHS_MM.to_vec(), |width| vec![width]);
    for kind in KINDS.into_iter().filter(|kind| args.kind.is_none_or(|only| only == *kind)) {
        for &width_mm in &widths {
            let name = format!("{:<8} {width_mm:.1} mm", format!("{kind:?}").to_lowercase());
            let tally = over_rooms(&args, &name, |seed| trial::run(kind, seed, width_mm));
            println!("{}", tally.row(&name));
            missed.extend(tally.missed(&name, width_mm));
            if !args.alone {
                let single =
                    over_rooms(&args, &name, |seed| one_at_a_time::run(kind, seed, width_mm));
                println!("{}", single.single_row(""));
            }
        }
    }
    println!("{:.0} s on {} threads", began.elapsed().as_secs_f64(), args.threads);
    for goal in &missed {
        println!("MISSED: {goal}");
    }
    if missed.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// All rooms, shared among threads; the sum does not depend on how many. Progress goes to the
/// error stream, a word each tenth.
fn over_rooms(args: &Args, name: &str, room: impl Fn(u64) -> Tally + Sync) -> Tally {
    let threads = args.threads.clamp(1, 64);
    let done = AtomicU64::new(0);
    let step = (args.rooms / 10).max(1);
    std::thread::scope(|scope| {
        let (room, done) = (&room, &done);
        let shares: Vec<_> = (0..threads)
            .map(|share| {
                scope.spawn(move || {
                    let mut tally = Tally::default();
                    for k in (share..args.rooms).step_by(threads as usize) {
                        tally.add(room(args.seed + k));
                        let count = done.fetch_add(1, Ordering::Relaxed) + 1;
                        if count.is_multiple_of(step) && args.rooms >= 1000 {
                            eprintln!("{name}: {count} of {}", args.rooms);
                        }
                    }
                    tally
                })
            })
            .collect();
        let mut whole = Tally::default();
        for share in shares {
            match share.join() {
                Ok(tally) => whole.add(tally),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        whole
    })
}
