//! How fast the simulation runs. `cargo bench -p skimgauge-bench`; prints a table, judges nothing.

use embedded_hal::i2c::I2c;
use embedded_hal::spi::SpiDevice;
use skimgauge_bench::noise::Noise;
use skimgauge_bench::{Bench, Room};
use std::hint::black_box;
use std::time::Instant;

fn row(what: &str, count: u64, work: impl FnOnce()) {
    let start = Instant::now();
    work();
    let each_ns = start.elapsed().as_nanos() as f64 / count as f64;
    println!("{what:<58} {each_ns:>12.0} ns");
}

fn main() {
    println!("{:<58} {:>15}", "work", "each");
    row("a room from its seed", 2_000, || {
        for seed in 0..2_000 {
            black_box(Room::new(seed));
        }
    });
    let room = Room::new(1);
    let mut noise = Noise::new(1, 1);
    row("one observed gap, without registers", 1_000_000, || {
        for k in 0..1_000_000 {
            black_box(room.observe_gap(f64::from(k % 1000), -300.0, &mut noise));
        }
    });
    row("one simulated second of the parts, 860 conversions, tilt", 600, || {
        let bench = Bench::new(1);
        let mut i2c = bench.i2c();
        i2c.write(0x48, &[1, 0x42, 0xE3]).ok();
        for second in 1..=600u64 {
            bench.advance_to(second * 1_000_000);
        }
        black_box(bench.conversions());
    });
    row("one converter read over embedded-hal I2C", 200_000, || {
        let bench = Bench::new(1);
        let mut i2c = bench.i2c();
        let mut word = [0; 2];
        for _ in 0..200_000 {
            i2c.write_read(0x48, &[0], &mut word).ok();
        }
        black_box(word);
    });
    row("one inclinometer frame over embedded-hal SPI", 200_000, || {
        let bench = Bench::new(1);
        let mut spi = bench.spi();
        for _ in 0..200_000 {
            spi.transfer_in_place(&mut [0x24, 0, 0, 0xC7]).ok();
        }
    });
}
