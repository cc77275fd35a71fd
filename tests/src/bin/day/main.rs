//! A day of watching at simulated speed: 8 million readings through the program's own machinery, with
//! the screen drawn, the page published to two that look on, and takes kept in a record.
//!
//! `cargo run --release -p skimgauge-tests --bin day -- [READINGS [HOURS [PULLS]]] > /dev/null`
//!
//! The head is pulled and put back `PULLS` (1000) times in `HOURS` (24) parts of the day.
//! What it finds goes to the standard error: memory, open files and what was done, hour by hour.
//! Ends with status 1 where memory or open files grew, or something was shown or kept that should
//! not be.

mod counted;
mod head;
mod looks;
mod watched;

use std::process::ExitCode;

fn main() -> ExitCode {
    let numbers: Vec<u32> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    let nth = |n: usize, usual| numbers.get(n).copied().unwrap_or(usual);
    match watched::day(nth(0, 8_000_000), nth(1, 24).into(), nth(2, 1_000)) {
        Ok(day) => {
            eprintln!("{day}");
            let wrong = day.wrong();
            wrong.iter().for_each(|what| eprintln!("WRONG: {what}"));
            ExitCode::from(u8::from(!wrong.is_empty()))
        }
        Err(why) => {
            eprintln!("the day ended early: {why:#}");
            ExitCode::FAILURE
        }
    }
}
