//! Whole trims in simulated rooms, and what became of them:
//! `rooms [--rooms N] [--seed S] [--kind KIND] [--hands HANDS] [--band MM] [--threads N]`.
//!
//! Every kind of board that an installer meets, and some that nobody had in mind, 94 inch of 16:10,
//! on three adjusters 200 mm by 60 mm apart of 0.5 mm pitch; in half of the rooms something is wrong
//! besides (a pitch, a sense, a slipping thread, the head's seat, a misread station), and then, over
//! all kinds of boards, what nobody had in mind of hands and adjusters. What is judged and turned
//! comes from the sums of the guided trim; the truth is looked at on a grid of 33 by 21. What is
//! printed is the table of `host/metrology/doc/rooms.md`. The status is 1 where a goal is missed.

mod board;
mod closing;
mod looking;
mod one_at_a_time;
mod room;
mod tally;
mod trial;
mod turning;

use board::{KINDS, Kind};
use clap::Parser;
use room::{Hands, OTHER_HANDS};
use std::process::ExitCode;
use std::sync::atomic::{AtomicU64, Ordering};
use tally::Tally;
use trial::Who;

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
    /// Only these hands and adjusters.
    #[arg(long)]
    hands: Option<Hands>,
    /// Only this width of the band, mm.
    #[arg(long)]
    band: Option<f64>,
    /// Threads.
    #[arg(long, default_value_t = 1)]
    threads: u64,
    /// Without the rooms adjusted one at a time.
    #[arg(long)]
    alone: bool,
    /// Name on the error stream every room that missed something, by its seed.
    #[arg(long)]
    misses: bool,
    /// Tell on the error stream how each trim went.
    #[arg(long)]
    story: bool,
}

/// Widths of the band, mm.
const WIDTHS_MM: [f64; 3] = [3.0, 1.5, 1.0];

/// Rooms of one row of the table.
#[derive(Debug, Clone, Copy)]
enum Rooms {
    /// All of one kind of board, with what is usual besides.
    Of(Kind),
    /// The same, and a straightedge is run over the board when that is asked for.
    LookedOver(Kind),
    /// Every kind of board in turn, with these hands.
    With(Hands),
}

impl Rooms {
    fn all(args: &Args) -> Vec<Self> {
        let kinds = KINDS.into_iter().filter(|kind| args.kind.is_none_or(|only| only == *kind));
        let others = OTHER_HANDS.into_iter().filter(|_| args.kind.is_none());
        let rows = |kind| match kind {
            Kind::Dent => vec![Self::Of(kind), Self::LookedOver(kind)],
            _ => vec![Self::Of(kind)],
        };
        let all = kinds.flat_map(rows).chain(others.map(Self::With));
        all.filter(|rooms| args.hands.is_none_or(|only| rooms.hands() == only)).collect()
    }

    fn who(self, seed: u64) -> Who {
        let looks_over = matches!(self, Self::LookedOver(_));
        Who { kind: self.kind(seed), hands: self.hands(), looks_over }
    }

    fn hands(self) -> Hands {
        match self {
            Self::Of(_) | Self::LookedOver(_) => Hands::Usual,
            Self::With(hands) => hands,
        }
    }

    fn kind(self, seed: u64) -> Kind {
        match self {
            Self::Of(kind) | Self::LookedOver(kind) => kind,
            Self::With(_) => KINDS[seed as usize % KINDS.len()],
        }
    }

    fn name(self) -> String {
        match self {
            Self::Of(Kind::Dent) => String::from("dent, not looked over"),
            Self::LookedOver(Kind::Dent) => {
                String::from("dent, looked over: 90 % of those over 0.3 mm found")
            }
            Self::Of(kind) | Self::LookedOver(kind) => format!("{kind:?}").to_lowercase(),
            Self::With(Hands::Usual) => String::from("any"),
            Self::With(Hands::OneSeat) => String::from("any, one station's seat 3 times"),
            Self::With(Hands::Loose) => String::from("any, a quarter turn of play"),
            Self::With(Hands::Pitch) => String::from("any, pitches 35 % off"),
        }
    }
}

fn main() -> ExitCode {
    let args = Args::parse();
    let began = std::time::Instant::now();
    println!("{} rooms a row from seed {}\n", args.rooms, args.seed);
    println!("{}", Tally::HEAD);
    let mut missed = Vec::new();
    let widths = args.band.map_or(WIDTHS_MM.to_vec(), |width| vec![width]);
    for rooms in Rooms::all(&args) {
        for &width_mm in &widths {
            let name = rooms.name();
            let tally = over_rooms(&args, &name, |seed| {
                trial::run(rooms.who(seed), seed, width_mm, args.story)
            });
            let single = (!args.alone).then(|| {
                over_rooms(&args, &name, |seed| {
                    one_at_a_time::run(rooms.kind(seed), rooms.hands(), seed, width_mm)
                })
            });
            println!("{}", tally.row(&name, width_mm, single.as_ref()));
            missed.extend(tally.missed(&format!("{name}, {width_mm:.1} mm"), width_mm));
            for (seed, margin_mm, what) in tally.misses.iter().filter(|_| args.misses) {
                eprintln!("{name} {width_mm:.1}: {seed} {what}, best margin {margin_mm:.2} mm");
            }
        }
    }
    eprintln!("{:.0} s on {} threads", began.elapsed().as_secs_f64(), args.threads);
    println!("\nGoals missed: {}.\n", missed.len());
    for goal in &missed {
        println!("- {goal}");
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
