//! What the image takes: flash, memory, stack, cycles, readings. Printed as a table and held against
//! limits.

use skimgauge_bench::Bench;
use skimgauge_emulated_tests::{SECOND, Session};
use skimgauge_emulator::place;
use skimgauge_image::elf;

#[test]
fn figures() {
    let file = std::fs::read(place::elf().unwrap_or_else(|missing| panic!("{missing}"))).unwrap();
    let room = elf::room(&file).unwrap();
    let mut session = Session::start(Bench::new(3));
    session.run(SECOND);

    session.forget();
    let before = session.head.figures().unwrap();
    let scans = session.head.scans();
    session.run(10 * SECOND);
    let scans = session.head.scans() - scans;
    let after = session.head.figures().unwrap();
    let readings = session.readings().len() as f64;
    let unsent = session.pulses().last().unwrap().unsent;
    let latest_start_us = session.pulses().iter().map(|pulse| pulse.latest_start_us).max().unwrap();
    let busy = after.busy - before.busy;
    let share = busy / 10e9 * 100.0;
    let waits = (after.waits - before.waits) / 10e9 * 100.0;
    let cycles = busy * after.clock_hz / 1e9 / readings;
    let served = (after.services - before.services) as f64;
    let latency_us = (after.latency_ns - before.latency_ns) / served / 1e3;

    let stack = after.deepest_stack;

    println!("| figure | value | limit |");
    println!("| --- | --- | --- |");
    println!("| flash | {} bytes | 65536 |", room.flash);
    println!("| static memory | {} bytes | 8192 |", room.static_memory);
    println!("| deepest stack | {stack} bytes | 8192 |");
    println!("| readings | {:.1}/s, {unsent} unsent | 89.9 to 90.1 |", readings / 10.0);
    println!("| scans of the eye | {:.1}/s | 89.9 to 90.1 |", scans as f64 / 10.0);
    println!("| processor, bus waits left out | {share:.2} % | 15 % |");
    println!("| bus waits, slept through | {waits:.2} % | |");
    println!("| cycles per reading | {cycles:.0} | |");
    println!("| from ready edge to transfer, mean | {latency_us:.1} us | |");
    println!("| latest start of a read of the pixels | {latest_start_us} us | 50 |");

    assert!(room.flash <= 64 * 1024);
    assert!(room.static_memory <= 8 * 1024);
    assert!(stack <= 8 * 1024);
    assert!((readings - 900.0).abs() <= 1.0 && unsent == 0);
    assert!(share < 15.0);
    assert!((899..=901).contains(&scans));
    assert!(latest_start_us <= 50);
}
