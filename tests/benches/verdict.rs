//! From the last byte of a reading received to its verdict: the whole way that a live number goes,
//! without the port.
//!
//! `cargo bench -p skimgauge-tests --bench verdict`
//!
//! The last byte completes the frame; the session decodes and places the reading, the observer
//! takes it in and says how the head is, and the gap is held against the band. Every reading is
//! timed by itself, after the head has settled.

use skimgauge_metrology::measure::{Limits, Observer};
use skimgauge_metrology::verdict::decide;
use skimgauge_procedure::takes::expanded;
use skimgauge_quantity::{Band, Mm};
use skimgauge_session::{Event, Session};
use skimgauge_shared::calibration::Date;
use skimgauge_shared::frame::{MAX_FRAME, encode};
use skimgauge_shared::message::Report;
use skimgauge_tests::stream;
use std::hint::black_box;
use std::time::{Duration, Instant};

const WARM: u32 = 1_000;
const READINGS: u32 = 100_000;
const BAND: Band<Mm> = Band { low: Mm(1.0), high: Mm(4.0) };

fn frame(report: &Report) -> Vec<u8> {
    let mut buffer = [0; MAX_FRAME];
    encode(report, &mut buffer).expect("every report fits").to_vec()
}

fn main() {
    let today = Date { year: 2026, month: 6, day: 1 };
    let mut observer = Observer::new(Limits::default(), today);
    let mut session = Session::new(None, Duration::ZERO);
    let mut ignore = |_: Event| ();
    session.poll(Duration::from_millis(5), &frame(&Report::Hello(stream::hello())), &mut ignore);
    let mut up = None;
    session.poll(Duration::from_millis(8), &frame(&stream::constants()), &mut |event| {
        if let Event::Up(head) = event {
            up = Some(head);
        }
    });
    let head = up.expect("the head is known");
    observer.greeted(head.hello.serial);
    observer.calibrated(head.calibration.clone());

    let mut took: Vec<[Duration; 2]> = Vec::with_capacity(READINGS as usize);
    let mut judged = [0_u32; 4];
    for number in 1..=READINGS + WARM {
        let now = Duration::from_micros(u64::from(number) * stream::PERIOD_US + 9_000);
        let now_s = now.as_secs_f64();
        let bytes = frame(&Report::Reading(stream::reading(number)));
        let (last, before) = bytes.split_last().expect("a frame has bytes");
        session.poll(now, before, &mut ignore);
        let mut decoded = Duration::ZERO;
        let started = Instant::now();
        session.poll(now, std::slice::from_ref(last), &mut |event| {
            if let Event::Reading(arrived) = event {
                decoded = started.elapsed();
                observer.reading(&arrived.reading, arrived.placed, now_s);
            }
        });
        let live = observer.live(now_s);
        let verdict = live
            .gap_mm
            .good()
            .map(|(gap_mm, u_mm)| decide(Mm(gap_mm), Mm(expanded(u_mm, None)), BAND));
        let elapsed = started.elapsed();
        if number > WARM {
            took.push([decoded, elapsed]);
            judged[verdict.map_or(3, |verdict| verdict as usize)] += 1;
        }
        black_box(&live);
        if number % stream::PULSE_EVERY == 0 {
            session.poll(now, &frame(&Report::Pulse(stream::pulse(number))), &mut |event| {
                if let Event::Pulse(pulse) = event {
                    observer.pulse(&pulse, now_s);
                }
            });
        }
        black_box(session.take_out());
    }
    let [within, outside, unsure, none] = judged;
    assert!(within > READINGS / 2, "the stream is not judged: {judged:?}");
    println!(
        "{READINGS} readings, each timed alone: {within} within, {outside} outside, {unsure} unsure, {none} without a good gap\n"
    );
    println!(
        "{:<34} {:>9} {:>9} {:>9} {:>9}",
        "from the last byte to", "median", "99 %", "99.9 %", "most"
    );
    for (name, at) in [("the reading decoded and placed", 0), ("the verdict", 1)] {
        let mut took: Vec<Duration> = took.iter().map(|times| times[at]).collect();
        took.sort_unstable();
        let share = |part: f64| {
            format!("{:.2} us", took[((took.len() - 1) as f64 * part) as usize].as_secs_f64() * 1e6)
        };
        println!(
            "{name:<34} {:>9} {:>9} {:>9} {:>9}",
            share(0.5),
            share(0.99),
            share(0.999),
            share(1.0)
        );
    }
}
