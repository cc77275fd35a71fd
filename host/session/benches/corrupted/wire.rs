//! A head that answers, a wire that damages what it says, and a session at the other end.

#[path = "../../tests/head/mod.rs"]
mod head;

use head::constants;
use serde::ser::{Serialize, SerializeTuple, Serializer};
use skimgauge_numbers::Numbers;
use skimgauge_session::{Event, HeadIs, Refused, Session};
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, encode};
use skimgauge_shared::light::{Light, LightState, Shape, Sheet, Trust};
use skimgauge_shared::message::{Answer, Call, Hello, Press, Pulse, Rate, Report, Request};
use skimgauge_shared::reading::{Absence, Reading, Sample, TiltSteps};
use skimgauge_shared::units::{CentiCelsius, Micrometres, Microseconds, Millivolts};
use std::collections::VecDeque;
use std::fmt;
use std::time::Duration;

/// From reading to reading, at 90 a second.
const PERIOD_US: u64 = 11_111;
/// Readings that go out at once.
const BATCH: u32 = 32;
/// What was sent is remembered for so many messages: bytes that come twice come soon.
const REMEMBERED: usize = 512;

/// What came of it so far.
#[derive(Debug, Default)]
pub(crate) struct Told {
    /// Bytes that went through.
    pub(crate) bytes: u64,
    /// Damages done.
    pub(crate) damages: u64,
    /// Readings that the head sent.
    pub(crate) sent: u64,
    /// Readings that were told.
    pub(crate) readings: u64,
    /// Times that a head was known anew.
    pub(crate) ups: u64,
    /// Conversations given up.
    pub(crate) refused: u64,
    /// Stretches of bytes that were no message.
    pub(crate) skipped: u64,
    /// Readings that were told with another number than they were sent with.
    pub(crate) misplaced: u64,
    /// What was told and not sent.
    pub(crate) false_ones: Vec<String>,
}

impl fmt::Display for Told {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { bytes, damages, sent, readings, ups, refused, skipped, misplaced, false_ones } =
            self;
        write!(
            f,
            "{bytes} bytes, {damages} damages; {sent} readings sent, {readings} told, {} not sent, \
             {misplaced} misplaced; {skipped} skipped, \
             {ups} times up, {refused} given up",
            false_ones.len()
        )
    }
}

/// Head, wire and session.
pub(crate) struct Wire {
    numbers: Numbers,
    made: u32,
    session: Session,
    calls: Decoder,
    remembered: VecDeque<Report>,
    before: Vec<u8>,
    pub(crate) told: Told,
}

impl Wire {
    pub(crate) fn new(seed: u64) -> Self {
        Self {
            numbers: Numbers(seed),
            made: 0,
            session: Session::new(None, Duration::ZERO),
            calls: Decoder::new(),
            remembered: VecDeque::new(),
            before: Vec::new(),
            told: Told::default(),
        }
    }

    fn now(&self) -> Duration {
        Duration::from_micros(u64::from(self.made) * PERIOD_US)
    }

    /// A third of a second: what the head answers and measures, damaged, heard.
    pub(crate) fn go_on(&mut self) {
        let mut frames = self.answers();
        for _ in 0..BATCH {
            self.made += 1;
            self.told.sent += 1;
            let reading = self.reading();
            frames.push(self.framed(&Report::Reading(reading)));
            if self.made.is_multiple_of(18) {
                frames.push(self.framed(&Report::Sheet(sheet(self.made))));
                frames.push(self.framed(&Report::Pulse(pulse(self.made))));
            }
            if self.made.is_multiple_of(97) {
                frames
                    .push(self.framed(&Report::Button { press: Press::Short, at: at(self.made) }));
            }
        }
        let bytes = self.damaged(frames);
        self.hear(&bytes);
    }

    fn framed(&mut self, report: &Report) -> Vec<u8> {
        self.remembered.push_back(report.clone());
        if self.remembered.len() > REMEMBERED {
            self.remembered.pop_front();
        }
        let mut buffer = [0; MAX_FRAME];
        encode(report, &mut buffer).expect("every report fits").to_vec()
    }

    /// To what the session asked, which comes whole.
    fn answers(&mut self) -> Vec<Vec<u8>> {
        let mut frames = Vec::new();
        for byte in self.session.take_out() {
            let Fed::Message(Call { token, request }) = self.calls.feed::<Call>(byte) else {
                continue;
            };
            let report = match request {
                Request::Greet => Report::Hello(Hello { token, ..hello(self.made) }),
                Request::ReadCalibration => Report::Answer(token, Answer::Calibration(constants())),
                Request::Ping => Report::Answer(token, Answer::Pong { at: at(self.made) }),
                _ => Report::Answer(token, Answer::Unknown),
            };
            frames.push(self.framed(&report));
        }
        frames
    }

    fn reading(&mut self) -> Reading {
        let bits = self.numbers.bits();
        let length = |shift: u32, most: i32| {
            if bits >> shift & 31 == 0 {
                Sample::Absent(Absence::ALL[(bits >> 40) as usize % Absence::ALL.len()])
            } else {
                Sample::Value(Micrometres((bits >> shift) as i32 % most))
            }
        };
        Reading {
            sequence: self.made as u8,
            at_low_us: at(self.made).0 as u32,
            stand_off: length(0, 40_000),
            middle: length(8, 16_000),
            tilt: Sample::Value(TiltSteps {
                level: (bits >> 20) as i16,
                lean: (bits >> 30) as i16,
            }),
            state: LightState::new(None, Light::Seen, Trust::Sure, bits >> 63 == 1),
        }
    }

    /// One to 32 damages of a third of a second's bytes; every twentieth comes whole, so that the
    /// conversation comes about at all.
    fn damaged(&mut self, mut frames: Vec<Vec<u8>>) -> Vec<u8> {
        let numbers = &mut self.numbers;
        let whole = numbers.below(20) == 0;
        let count = if whole { 0 } else { 1 << numbers.below(6) };
        for _ in 0..count {
            let at = numbers.below(frames.len());
            match numbers.below(12) {
                0 => {
                    let next = (at + 1) % frames.len();
                    frames.swap(at, next);
                }
                1 => frames.insert(at, frames[at].clone()),
                2 => frames[at] = old_frame(numbers),
                _ => (),
            }
        }
        let mut bytes = frames.concat();
        for _ in 0..count {
            damage(numbers, &mut bytes, &self.before);
        }
        self.told.damages += count as u64;
        self.before.clone_from(&bytes);
        bytes
    }

    fn hear(&mut self, bytes: &[u8]) {
        let now = self.now();
        // Now and then the plug is pulled, too.
        if self.numbers.below(150) == 0 {
            self.session.begin_again(now);
        }
        let Self { session, remembered, told, numbers, .. } = self;
        told.bytes += bytes.len() as u64;
        let mut over = false;
        let mut events = Vec::new();
        let piece = 1 + numbers.below(200);
        for piece in bytes.chunks(piece) {
            session.poll(now, piece, &mut |event| events.push(event));
        }
        for event in events {
            over |= matches!(event, Event::Refused(_));
            if let Err(what) = look(&event, remembered, told) {
                told.false_ones.push(what);
            }
        }
        if over {
            // As whoever holds the port does: the same head is asked again.
            *session = Session::new(None, now);
        }
    }
}

/// Whether what is told was sent.
fn look(event: &Event, sent: &VecDeque<Report>, told: &mut Told) -> Result<(), String> {
    let was_sent = |report: Report| {
        // The newest first: it mostly is one of them.
        let known = sent.iter().rev().any(|sent| *sent == report);
        known.then_some(()).ok_or_else(|| format!("{report:?}"))
    };
    match event {
        Event::Reading(arrived) => {
            told.readings += 1;
            let low_us = at(arrived.placed.position.number).0 as u32;
            told.misplaced += u64::from(low_us != arrived.reading.at_low_us);
            was_sent(Report::Reading(arrived.reading))
        }
        Event::Sheet(sheet) => was_sent(Report::Sheet(*sheet)),
        Event::Pulse(pulse) => was_sent(Report::Pulse(*pulse)),
        Event::Button(press, at) => was_sent(Report::Button { press: *press, at: *at }),
        Event::Up(head) => {
            told.ups += 1;
            let HeadIs { hello: theirs, calibration } = &**head;
            let same = Hello { at: theirs.at, made: theirs.made, token: theirs.token, ..hello(0) };
            let known = *theirs == same && *calibration == constants();
            known.then_some(()).ok_or_else(|| format!("{head:?}"))
        }
        Event::RoundTrip { at, .. } => {
            let pong = |sent: &Report| matches!(sent, Report::Answer(_, Answer::Pong { at: there }) if there == at);
            sent.iter().any(pong).then_some(()).ok_or_else(|| format!("{event:?}"))
        }
        Event::Skipped { .. } => {
            told.skipped += 1;
            Ok(())
        }
        Event::Refused(Refused::OtherHead { found, .. }) => Err(format!("another head, {found:?}")),
        Event::Refused(_) => {
            told.refused += 1;
            Ok(())
        }
        Event::Same | Event::ClockJumped => Ok(()),
        Event::Answer(_, answer) => {
            let same = |sent: &Report| matches!(sent, Report::Answer(_, sent) if sent == answer);
            sent.iter().any(same).then_some(()).ok_or_else(|| format!("{event:?}"))
        }
        Event::Codes(_) | Event::Profile { .. } => Err(format!("{event:?}")),
        Event::Log(_) | Event::LastWords(_) => Err(format!("{event:?}")),
    }
}

/// One damage of the bytes themselves.
fn damage(numbers: &mut Numbers, bytes: &mut Vec<u8>, before: &[u8]) {
    if bytes.is_empty() {
        return;
    }
    let at = numbers.below(bytes.len());
    let run = at..(at + 1 + numbers.below(48)).min(bytes.len());
    let byte = numbers.bits() as u8;
    match numbers.below(12) {
        0 | 1 => bytes[at] ^= 1 << (byte % 8),
        2 => bytes[at] = byte,
        3 => drop(bytes.remove(at)),
        4 => bytes.insert(at, bytes[at]),
        5 => bytes.insert(at, byte),
        6 => bytes[run].fill(0),
        7 => bytes[run].fill(0xFF),
        8 => bytes[run].iter_mut().for_each(|byte| *byte = numbers.bits() as u8),
        9 => drop(bytes.drain(run)),
        10 => bytes.truncate(at),
        // A buffer that comes once more, or a part of it.
        _ => {
            let from = numbers.below(before.len() + 1);
            let end = (from + numbers.below(120)).min(before.len());
            drop(bytes.splice(at..at, before[from..end].iter().copied()));
        }
    }
}

/// A whole frame with a good checksum that says nothing here: protocol 1's tags.
fn old_frame(numbers: &mut Numbers) -> Vec<u8> {
    let mut payload = vec![1 + numbers.below(15) as u8];
    payload.extend((0..numbers.below(24)).map(|_| numbers.bits() as u8));
    let mut buffer = [0; MAX_FRAME];
    encode(&Raw(&payload), &mut buffer).expect("25 bytes fit").to_vec()
}

/// Bytes as a message, nothing added.
struct Raw<'a>(&'a [u8]);

impl Serialize for Raw<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut bytes = serializer.serialize_tuple(self.0.len())?;
        self.0.iter().try_for_each(|byte| bytes.serialize_element(byte))?;
        bytes.end()
    }
}

fn at(number: u32) -> Microseconds {
    Microseconds(1_000_000 + u64::from(number) * PERIOD_US)
}

fn hello(made: u32) -> Hello {
    let rate = Rate { per_second: 90, conversions: 8 };
    Hello { rate, ..head::hello(at(made), made) }
}

fn sheet(number: u32) -> Sheet {
    Sheet {
        sequence: number as u8,
        exposure: Some(Microseconds(3_000)),
        room: 40,
        brightest: 2_400,
        trust: Trust::Sure,
        shape: Some(Shape { width: Micrometres(1_500), height: 2_300, scatter: Micrometres(4) }),
        second: None,
        bad_pixel: None,
    }
}

fn pulse(number: u32) -> Pulse {
    Pulse {
        at: at(number),
        made: number,
        unsent: 0,
        refused_frames: 0,
        temperature: Sample::Value(CentiCelsius(2_150)),
        supply: Sample::Value(Millivolts(5_010)),
        tilt_status: 0,
        latest_start_us: 4,
    }
}
