//! The wire against other ways to say the same readings: bytes, encoding, decoding, side by side in one run.
//!
//! `cargo bench -p skimgauge-shared`
//!
//! A way without framing is no way over a cable, so each is measured with what it needs:
//!
//! - *as used*: the least that tells one reading from the next. Text ends with a line feed (a reader that starts in the
//!   middle skips to the next one). CBOR items tell their own end and protobuf messages stand behind their length, as its
//!   documentation advises: neither lets a reader find its place again after a lost byte, and none of them sees a
//!   flipped bit in a number.
//! - *as safe*: the same promise as our own frame makes, any loss or flip seen and the next reading found again. Text gets
//!   its CRC-32 as eight hexadecimal digits before the line feed; CBOR and protobuf get CRC-32, COBS and a separator.

use prost::Message as _;
use serde::{Deserialize, Serialize};
use skimgauge_shared::check::crc32;
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::message::Report;
use skimgauge_shared::reading::{Absence, Reading, Sample, Tilt};
use skimgauge_shared::units::{Microdegrees, Micrometres, TenThousandths};
use std::hint::black_box;
use std::io::Write;
use std::time::Instant;

const READINGS: usize = 50_000;
const ROUNDS: usize = 9;

/// The same reading as other formats carry it: flat, absences by their number, values absent with them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Flat {
    sequence: u8,
    at_low_us: u32,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    stand_off_um: Option<i32>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    eye_1e4: Option<i16>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    level_udeg: Option<i32>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    lean_udeg: Option<i32>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    absent: Option<[u8; 3]>,
}

/// A reading as protobuf has it. Zigzag (`sint32`) for what may be negative, as its documentation advises.
#[derive(Clone, PartialEq, prost::Message)]
struct Proto {
    #[prost(uint32, tag = "1")]
    sequence: u32,
    #[prost(uint32, tag = "2")]
    at_low_us: u32,
    #[prost(sint32, optional, tag = "3")]
    stand_off_um: Option<i32>,
    #[prost(sint32, optional, tag = "4")]
    eye_1e4: Option<i32>,
    #[prost(sint32, optional, tag = "5")]
    level_udeg: Option<i32>,
    #[prost(sint32, optional, tag = "6")]
    lean_udeg: Option<i32>,
    #[prost(bytes = "vec", tag = "7")]
    absent: Vec<u8>,
}

impl From<Reading> for Flat {
    fn from(reading: Reading) -> Self {
        let why = |absence: Option<Absence>| absence.map_or(0, |absence| absence as u8);
        let absent = [why(reading.stand_off.absence()), why(reading.eye.absence()), why(reading.tilt.absence())];
        let tilt = reading.tilt.value();
        Self {
            sequence: reading.sequence,
            at_low_us: reading.at_low_us,
            stand_off_um: reading.stand_off.value().map(|s| s.0),
            eye_1e4: reading.eye.value().map(|e| e.0),
            level_udeg: tilt.map(|t| t.level.0),
            lean_udeg: tilt.map(|t| t.lean.0),
            absent: (absent != [0; 3]).then_some(absent),
        }
    }
}

impl Flat {
    fn reading(self) -> Option<Reading> {
        fn sample<T>(value: Option<T>, why: u8) -> Option<Sample<T>> {
            match value {
                Some(value) => Some(Sample::Value(value)),
                None => Absence::from_code(why).map(Sample::Absent),
            }
        }
        let [s, e, t] = self.absent.unwrap_or_default();
        let tilt = self.level_udeg.zip(self.lean_udeg);
        Some(Reading {
            sequence: self.sequence,
            at_low_us: self.at_low_us,
            stand_off: sample(self.stand_off_um.map(Micrometres), s)?,
            eye: sample(self.eye_1e4.map(TenThousandths), e)?,
            tilt: sample(tilt.map(|(level, lean)| Tilt { level: Microdegrees(level), lean: Microdegrees(lean) }), t)?,
        })
    }
}

impl From<Flat> for Proto {
    fn from(flat: Flat) -> Self {
        Self {
            sequence: flat.sequence.into(),
            at_low_us: flat.at_low_us,
            stand_off_um: flat.stand_off_um,
            eye_1e4: flat.eye_1e4.map(i32::from),
            level_udeg: flat.level_udeg,
            lean_udeg: flat.lean_udeg,
            absent: flat.absent.map_or_else(Vec::new, |absent| absent.to_vec()),
        }
    }
}

impl Proto {
    fn flat(&self) -> Option<Flat> {
        Some(Flat {
            sequence: u8::try_from(self.sequence).ok()?,
            at_low_us: self.at_low_us,
            stand_off_um: self.stand_off_um,
            eye_1e4: self.eye_1e4.map(i16::try_from).transpose().ok()?,
            level_udeg: self.level_udeg,
            lean_udeg: self.lean_udeg,
            absent: if self.absent.is_empty() { None } else { Some(self.absent.as_slice().try_into().ok()?) },
        })
    }
}

/// Readings of a head at work: an hour in, clipped to a board, with its noise; one in fifty without light or spot.
fn readings() -> Vec<Reading> {
    let mut state = 0x5EED_u64;
    let mut dice = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as u32
    };
    (0..READINGS as u32)
        .map(|number| {
            let mut spread = |wide: i32| (dice() % (2 * wide as u32 + 1)) as i32 - wide;
            let mut reading = Reading {
                sequence: number as u8,
                at_low_us: 3_600_000_000_u32.wrapping_add(number.wrapping_mul(10_000)),
                stand_off: Sample::Value(Micrometres(27_500 + spread(60))),
                eye: Sample::Value(TenThousandths(-700 + spread(150) as i16)),
                tilt: Sample::Value(Tilt {
                    level: Microdegrees(120_000 + spread(9_000)),
                    lean: Microdegrees(-340_000 + spread(9_000)),
                }),
            };
            match spread(100) {
                -100 | -99 => reading.eye = Sample::Absent(Absence::NoLight),
                99 | 100 => reading.stand_off = Sample::Absent(Absence::NoSpot),
                _ => (),
            }
            reading
        })
        .collect()
}

fn seal(body: &mut Vec<u8>, out: &mut Vec<u8>) {
    body.extend(crc32(body).to_le_bytes());
    let from = out.len();
    out.resize(from + cobs::max_encoding_length(body.len()) + 1, 0);
    let length = cobs::encode(body, &mut out[from..]);
    out.truncate(from + length);
    out.push(0);
}

/// Every sealed frame's body, its checksum checked.
fn unseal(bytes: &mut [u8], mut each: impl FnMut(&[u8])) {
    for frame in bytes.split_mut(|byte| *byte == 0) {
        let Ok(length) = cobs::decode_in_place(frame) else { continue };
        if let Some((body, check)) = frame[..length].split_last_chunk::<4>()
            && crc32(body) == u32::from_le_bytes(*check)
        {
            each(body);
        }
    }
}

fn checked_line(from: usize, out: &mut Vec<u8>) {
    let check = crc32(&out[from..]);
    writeln!(out, "*{check:08X}").expect("a vector takes every byte");
}

/// Every line, its checksum checked where it has one.
fn lines(bytes: &[u8], checked: bool, mut each: impl FnMut(&str)) {
    for line in bytes.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
        let Ok(line) = std::str::from_utf8(line) else { continue };
        if !checked {
            each(line);
        } else if let Some((body, check)) = line.rsplit_once('*')
            && u32::from_str_radix(check, 16) == Ok(crc32(body.as_bytes()))
        {
            each(body);
        }
    }
}

fn csv_line(flat: &Flat, out: &mut Vec<u8>) {
    let [s, e, t] = flat.absent.unwrap_or_default();
    write!(out, "{},{},", flat.sequence, flat.at_low_us).expect("a vector takes every byte");
    let mut field = |value: Option<i32>, why: u8, end: &str| match value {
        Some(value) => write!(out, "{value}{end}").expect("a vector takes every byte"),
        None => write!(out, "!{why}{end}").expect("a vector takes every byte"),
    };
    field(flat.stand_off_um, s, ",");
    field(flat.eye_1e4.map(i32::from), e, ",");
    field(flat.level_udeg, t, ",");
    field(flat.lean_udeg, t, "");
}

fn csv_read(line: &str) -> Option<Flat> {
    let mut fields = line.split(',');
    let mut flat = Flat {
        sequence: fields.next()?.parse().ok()?,
        at_low_us: fields.next()?.parse().ok()?,
        stand_off_um: None,
        eye_1e4: None,
        level_udeg: None,
        lean_udeg: None,
        absent: None,
    };
    let mut absent = [0; 3];
    let mut field = |channel: usize| -> Option<Option<i32>> {
        let field = fields.next()?;
        match field.strip_prefix('!') {
            Some(why) => {
                absent[channel] = why.parse().ok()?;
                Some(None)
            }
            None => Some(Some(field.parse().ok()?)),
        }
    };
    flat.stand_off_um = field(0)?;
    flat.eye_1e4 = field(1)?.map(i16::try_from).transpose().ok()?;
    flat.level_udeg = field(2)?;
    flat.lean_udeg = field(2)?;
    flat.absent = (absent != [0; 3]).then_some(absent);
    Some(flat)
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
    out.extend_from_slice(encode(&Report::Reading(*reading), &mut buffer).expect("every reading fits"));
}

fn ours_read(bytes: &mut [u8], out: &mut Vec<Reading>) {
    let mut decoder = Decoder::new();
    for byte in bytes {
        if let Fed::Message(Report::Reading(reading)) = decoder.feed(*byte) {
            out.push(reading);
        }
    }
}

/// A reading's fields without their names.
type Nameless = (u8, u32, Option<i32>, Option<i16>, Option<i32>, Option<i32>, Option<[u8; 3]>);

fn cbor_tuple(flat: &Flat) -> Nameless {
    (flat.sequence, flat.at_low_us, flat.stand_off_um, flat.eye_1e4, flat.level_udeg, flat.lean_udeg, flat.absent)
}

fn of_cbor_tuple(bytes: impl std::io::Read) -> Option<Flat> {
    let (sequence, at_low_us, stand_off_um, eye_1e4, level_udeg, lean_udeg, absent) =
        ciborium::from_reader(bytes).ok()?;
    Some(Flat { sequence, at_low_us, stand_off_um, eye_1e4, level_udeg, lean_udeg, absent })
}

fn ways() -> Vec<Way> {
    const OK: &str = "a vector takes every byte";
    vec![
        Way { name: "skimgauge", framing: "CRC-32, COBS, separator", encode: ours, decode: ours_read },
        Way {
            name: "CSV text",
            framing: "line feed",
            encode: |reading, _, out| {
                csv_line(&Flat::from(*reading), out);
                out.push(b'\n');
            },
            decode: |bytes, out| lines(bytes, false, |line| out.extend(csv_read(line).and_then(Flat::reading))),
        },
        Way {
            name: "CSV text",
            framing: "CRC-32 in hex, line feed",
            encode: |reading, _, out| {
                let from = out.len();
                csv_line(&Flat::from(*reading), out);
                checked_line(from, out);
            },
            decode: |bytes, out| lines(bytes, true, |line| out.extend(csv_read(line).and_then(Flat::reading))),
        },
        Way {
            name: "JSON lines",
            framing: "line feed",
            encode: |reading, _, out| {
                serde_json::to_writer(&mut *out, &Flat::from(*reading)).expect(OK);
                out.push(b'\n');
            },
            decode: |bytes, out| {
                lines(bytes, false, |line| {
                    out.extend(serde_json::from_str::<Flat>(line).ok().and_then(Flat::reading));
                });
            },
        },
        Way {
            name: "JSON lines",
            framing: "CRC-32 in hex, line feed",
            encode: |reading, _, out| {
                let from = out.len();
                serde_json::to_writer(&mut *out, &Flat::from(*reading)).expect(OK);
                checked_line(from, out);
            },
            decode: |bytes, out| {
                lines(bytes, true, |line| {
                    out.extend(serde_json::from_str::<Flat>(line).ok().and_then(Flat::reading));
                });
            },
        },
        Way {
            name: "CBOR map",
            framing: "none: tells its own end",
            encode: |reading, _, out| ciborium::into_writer(&Flat::from(*reading), out).expect(OK),
            decode: |bytes, out| {
                let mut rest = &*bytes;
                while let Ok(flat) = ciborium::from_reader::<Flat, _>(&mut rest) {
                    out.extend(flat.reading());
                }
            },
        },
        Way {
            name: "CBOR map",
            framing: "CRC-32, COBS, separator",
            encode: |reading, body, out| {
                body.clear();
                ciborium::into_writer(&Flat::from(*reading), &mut *body).expect(OK);
                seal(body, out);
            },
            decode: |bytes, out| {
                unseal(bytes, |body| out.extend(ciborium::from_reader::<Flat, _>(body).ok().and_then(Flat::reading)));
            },
        },
        Way {
            name: "CBOR array",
            framing: "none: tells its own end",
            encode: |reading, _, out| ciborium::into_writer(&cbor_tuple(&Flat::from(*reading)), out).expect(OK),
            decode: |bytes, out| {
                let mut rest = &*bytes;
                while let Some(flat) = of_cbor_tuple(&mut rest) {
                    out.extend(flat.reading());
                }
            },
        },
        Way {
            name: "CBOR array",
            framing: "CRC-32, COBS, separator",
            encode: |reading, body, out| {
                body.clear();
                ciborium::into_writer(&cbor_tuple(&Flat::from(*reading)), &mut *body).expect(OK);
                seal(body, out);
            },
            decode: |bytes, out| unseal(bytes, |body| out.extend(of_cbor_tuple(body).and_then(Flat::reading))),
        },
        Way {
            name: "protobuf",
            framing: "its length before it",
            encode: |reading, _, out| Proto::from(Flat::from(*reading)).encode_length_delimited(out).expect(OK),
            decode: |bytes, out| {
                let mut rest = &*bytes;
                while !rest.is_empty() {
                    let Ok(proto) = Proto::decode_length_delimited(&mut rest) else { return };
                    out.extend(proto.flat().and_then(Flat::reading));
                }
            },
        },
        Way {
            name: "protobuf",
            framing: "CRC-32, COBS, separator",
            encode: |reading, body, out| {
                body.clear();
                Proto::from(Flat::from(*reading)).encode(body).expect(OK);
                seal(body, out);
            },
            decode: |bytes, out| {
                unseal(bytes, |body| {
                    out.extend(Proto::decode(body).ok().and_then(|proto| proto.flat()).and_then(Flat::reading));
                });
            },
        },
    ]
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
    println!("{READINGS} readings of a head at work, 2 in 100 with an absence; best of {ROUNDS} rounds\n");
    println!("{:<12} {:<26} {:>6} {:>6} {:>12} {:>12}", "format", "framing", "bytes", "most", "encoded/s", "decoded/s");
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
        println!("{:<12} {:<26} {mean:>6.1} {most:>6} {encoded:>12.0} {decoded:>12.0}", way.name, way.framing);
    }
    println!(
        "\nWithout a checksum a flipped bit in a number goes unseen; without a separator a lost byte loses the rest."
    );
}
