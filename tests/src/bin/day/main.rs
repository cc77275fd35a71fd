//! A day of watching at simulated speed: 8 million readings through the program's own machinery, with
//! the screen drawn, the page published to two that look on, and takes kept in a record.
//!
//! `cargo run --release -p skimgauge-tests --bin day -- [READINGS] > /dev/null`
//!
//! What it finds goes to the standard error: memory, open files and what was done, hour by hour.
//! Ends with status 1 where memory or open files grew, or something was shown or kept that should
//! not be.

mod counted;
mod head;
mod looks;
mod watched;

use std::process::ExitCode;

fn main() -> ExitCode {
    let readings = std::env::args().skip(1).find_map(|word| word.parse().ok());
    match watched::day(readings.unwrap_or(8_000_000), 24, 1_000) {
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
