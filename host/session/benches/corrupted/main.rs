//! A thousand million corrupted bytes through a session: no reading is told that was not sent.
//!
//! `cargo bench -p skimgauge-session --bench corrupted [-- BYTES [SEED]]` (10^9 without). Prints where it
//! stands every fiftieth. Ends with status 1 where something was told that was not sent.
//!
//! # What chance alone gives
//! A frame carries CRC-32/ISO-HDLC. A frame that was changed beyond what the polynomial always finds
//! (any burst of up to 32 bits; up to five single bits in any frame of 128 bytes, Koopman's tables,
//! from memory) passes with a chance of 2^-32. A frame here has 21 bytes on the average: 10^9 bytes
//! are 4.8 * 10^7 frames, so that if every one of them were changed beyond recognition, 0.011 would
//! pass: one run in ninety. What passes must then still be a message: a tag that there is (10 of
//! 256), every number in its range, every absence, fault and state one that has a name, no byte left
//! over. And a reading must go on from the one before in time: within 10 s and the way of the
//! bytes, of the 4295 s that its short time has (`Session::jumped`). That is a thousandth of a
//! thousandth again: a false reading in 10^9 bytes has a chance of some 10^-6, and one is a fault,
//! not bad luck.

#[path = "wire.rs"]
mod wire;

use std::time::Instant;

fn main() -> std::process::ExitCode {
    let words: Vec<u64> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    let bytes = words.first().copied().unwrap_or(1_000_000_000);
    let mut wire = wire::Wire::new(words.get(1).copied().unwrap_or(1));
    let begun = Instant::now();
    let mut next = 0;
    while wire.told.bytes < bytes && wire.told.false_ones.is_empty() {
        wire.go_on();
        if wire.told.bytes >= next {
            next += bytes / 50;
            let seconds = begun.elapsed().as_secs_f64();
            let rate = wire.told.bytes as f64 / seconds.max(1e-3) * 1e-6;
            println!("{:>6.1} s, {rate:.1} MB/s: {}", seconds, wire.told);
        }
    }
    println!("in all: {}", wire.told);
    wire.told.false_ones.iter().for_each(|what| println!("NOT SENT: {what}"));
    std::process::ExitCode::from(u8::from(!wire.told.false_ones.is_empty()))
}
