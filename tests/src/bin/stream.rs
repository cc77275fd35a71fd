//! Writes a recording of N readings to standard output, for trying what a long day does to a
//! command:
//!
//! `cargo run --release -p skimgauge-tests --bin stream -- 1000000 | skimgauge watch --job JOB
//! --from - --json`

use std::io::{BufWriter, Write};
use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(readings) = std::env::args().nth(1).and_then(|count| count.parse().ok()) else {
        eprintln!("How many readings? For example: stream 1000000");
        return ExitCode::from(2);
    };
    let mut out = BufWriter::with_capacity(1 << 16, std::io::stdout().lock());
    match skimgauge_tests::stream::write(readings, &mut out).and_then(|()| out.flush()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("The recording cannot be written on: {why}.");
            ExitCode::from(2)
        }
    }
}
