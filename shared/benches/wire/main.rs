//! The wire against other ways to say the same readings: bytes, encoding, decoding, side by side in
//! one run.
//!
//! `cargo bench -p skimgauge-shared`
//!
//! A way without framing is no way over a cable, so each is measured with what it needs:
//!
//! - *as used*: the least that tells one reading from the next. Text ends with a line feed (a
//!   reader that starts in the middle skips to the next one). CBOR items tell their own end and
//!   protobuf messages stand behind their length, as its documentation advises: neither lets a
//!   reader find its place again after a lost byte, and none of them sees a flipped bit in a
//!   number.
//! - *as safe*: the same promise as our own frame makes, any loss or flip seen and the next reading
//!   found again. Text gets its CRC-32 as eight hexadecimal digits before the line feed; CBOR and
//!   protobuf get CRC-32, COBS and a separator.

mod binary;
mod flat;
mod text;

use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::light::{Fault, Light, LightState, Trust};
use skimgauge_shared::message::Report;
use skimgauge_shared::reading::{Absence, Reading, Sample, TiltSteps};
use skimgauge_shared::units::Micrometres;
use std::hint::black_box;
use std::time::Instant;

const READINGS: usize = 50_000;
const ROUNDS: usize = 9;

/// Readings of a head at work: an hour in, clipped to a board, with its noise; one in fifty without
/// light or spot.
fn readings() -> Vec<Reading> {
    let mut state = 0x5EED_u64;
    let mut dice = move || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as u32
    };
    (0..READINGS as u32)
        .map(|number| {
            let mut spread = |wide: i32| (dice() % (2 * wide as u32 + 1)) as i32 - wide;
            let mut reading = Reading {
                sequence: number as u8,
                at_low_us: 3_600_000_000_u32.wrapping_add(number.wrapping_mul(11_111)),
                stand_off: Sample::Value(Micrometres(33_000 + spread(60))),
                middle: Sample::Value(Micrometres(2_600 + spread(60))),
                tilt: Sample::Value(TiltSteps {
                    level: 22 + spread(2) as i16,
                    lean: -62 + spread(2) as i16,
                }),
                state: LightState::new(None, Light::Seen, Trust::Sure, false),
            };
            match spread(100) {
                -100 | -99 => {
                    let fault = Some(Fault::NoLight);
                    reading.state = LightState::new(fault, Light::No, Trust::NotYet, false);
                    reading.middle = Sample::Absent(Absence::NoMiddle);
                }
                99 | 100 => reading.stand_off = Sample::Absent(Absence::NoSpot),
                _ => (),
            }
            reading
        })
        .collect()
}

type Encode = fn(&Reading, &mut Vec<u8>, &mut Vec<u8>);
type Decode = fn(&mut [u8], &mut Vec<Reading>);

struct Way {
    name: &'static str,
    framing: &'static str,
    encode: Encode,
    decode: Decode,
}

fn ours(reading: &Reading, _: &mut Vec<u8>, out: &mut Vec<u8>) {
    let mut buffer = [0; MAX_FRAME];
    out.extend_from_slice(
        encode(&Report::Reading(*reading), &mut buffer).expect("every reading fits"),
    );
}

fn ours_read(bytes: &mut [u8], out: &mut Vec<Reading>) {
    let mut decoder = Decoder::new();
    for byte in bytes {
        if let Fed::Message(Report::Reading(reading)) = decoder.feed(*byte) {
            out.push(reading);
        }
    }
}

fn ways() -> Vec<Way> {
    let mut ways = vec![Way {
        name: "skimgauge",
        framing: "CRC-32, COBS, separator",
        encode: ours,
        decode: ours_read,
    }];
    for more in
        [text::csv(), text::json(), binary::cbor_map(), binary::cbor_array(), binary::protobuf()]
    {
        ways.extend(more);
    }
    ways
}

/// The best of the rounds: what the machine can do when nothing else keeps it busy.
fn rate(mut work: impl FnMut()) -> f64 {
    let best = (0..ROUNDS)
        .map(|_| {
            let started = Instant::now();
            work();
            started.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min);
    READINGS as f64 / best
}

fn main() {
    let readings = readings();
    println!(
        "{READINGS} readings of a head at work, 2 in 100 with an absence; best of {ROUNDS} rounds\n"
    );
    println!(
        "{:<12} {:<26} {:>6} {:>6} {:>12} {:>12}",
        "format", "framing", "bytes", "most", "encoded/s", "decoded/s"
    );
    for way in ways() {
        let mut body = Vec::new();
        let mut out = Vec::with_capacity(READINGS * 256);
        let (mut whole, mut most) = (0, 0);
        for reading in &readings {
            (way.encode)(reading, &mut body, &mut out);
            most = most.max(out.len() - whole);
            whole = out.len();
        }
        let sent = out.clone();
        let mut got = Vec::with_capacity(READINGS);
        (way.decode)(&mut sent.clone(), &mut got);
        assert_eq!(got, readings, "{}: not every reading comes back", way.name);
        let encoded = rate(|| {
            out.clear();
            for reading in &readings {
                (way.encode)(black_box(reading), &mut body, &mut out);
            }
            black_box(&out);
        });
        // Decoding in place needs its own bytes each round; the copies are made beforehand.
        let mut copies: Vec<Vec<u8>> = (0..ROUNDS).map(|_| sent.clone()).collect();
        let decoded = rate(|| {
            let mut bytes = copies.pop().unwrap_or_default();
            got.clear();
            (way.decode)(black_box(&mut bytes), &mut got);
            black_box(&got);
        });
        let mean = whole as f64 / READINGS as f64;
        println!(
            "{:<12} {:<26} {mean:>6.1} {most:>6} {encoded:>12.0} {decoded:>12.0}",
            way.name, way.framing
        );
    }
    println!(
        "\nWithout a checksum a flipped bit in a number goes unseen; without a separator a lost byte loses the rest."
    );
}
