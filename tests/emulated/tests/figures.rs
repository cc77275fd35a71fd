//! What the image takes: flash, memory, stack, cycles, rate. Printed as a table and held against
//! limits.

use skimgauge_bench::Bench;
use skimgauge_emulated_tests::{SECOND, Session};
use skimgauge_emulator::place;
use skimgauge_image::elf;
use skimgauge_shared::message::{Report, Request};

/// The converter's own limit: three conversions a reading at 860 a second, which this very part may
/// be off by.
fn converter_limit(session: &mut Session) -> f64 {
    let bench = session.head.bench().clone();
    let before = bench.conversions();
    session.run(2 * SECOND);
    (bench.conversions() - before) as f64 / 2.0 / 3.0
}

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

    let rate = session.ask(&Request::SetRate { per_second: u16::MAX }, |report| match report {
        Report::Rate(rate) => Some(*rate),
        _ => None,
    });
    session.run(SECOND);
    session.forget();
    let limit = converter_limit(&mut session);
    let most = session.readings().len() as f64 / 2.0;
    let most_unsent = session.pulses().last().unwrap().unsent - unsent;
    let stack = session.head.figures().unwrap().deepest_stack;

    println!("| figure | value | limit |");
    println!("| --- | --- | --- |");
    println!("| flash | {} bytes | 65536 |", room.flash);
    println!("| static memory | {} bytes | 8192 |", room.static_memory);
    println!("| deepest stack | {stack} bytes | 8192 |");
    println!("| readings at 100/s | {:.1}/s, {unsent} unsent | 99.9 to 100.1 |", readings / 10.0);
    println!("| scans of the eye | {:.1}/s | 89.9 to 90.1 |", scans as f64 / 10.0);
    println!("| processor at 100/s and 90 scans/s, bus waits left out | {share:.2} % | 10 % |");
    println!("| bus waits at 100/s, slept through | {waits:.2} % | |");
    println!("| cycles per reading at 100/s | {cycles:.0} | |");
    println!("| from ready edge to transfer, mean | {latency_us:.1} us | |");
    println!("| latest start of a burst | {latest_start_us} us | 1300 |");
    println!(
        "| most readings ({} said) | {most:.1}/s, {most_unsent} unsent | {:.1} (90 % of {limit:.1}) |",
        rate.per_second,
        0.9 * limit
    );

    assert!(room.flash <= 64 * 1024);
    assert!(room.static_memory <= 8 * 1024);
    assert!(stack <= 8 * 1024);
    assert!((readings - 1000.0).abs() <= 1.0 && unsent == 0);
    assert!(share < 10.0);
    assert!((899..=901).contains(&scans));
    assert!(latest_start_us <= 1_300);
    assert!(most >= 0.9 * limit && most_unsent == 0);
}
