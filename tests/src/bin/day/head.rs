//! What a head says in a day: it is pulled out and put back a thousand times, restarts, is changed
//! for another and back, and the computer sleeps.

use skimgauge_session::recording::MAGIC;
use skimgauge_shared::calibration::{Calibration, CalibrationState};
use skimgauge_shared::frame::{MAX_FRAME, encode};
use skimgauge_shared::message::{Answer, CalibrationCheck, Hello, Report, SerialNumber, Token};
use skimgauge_shared::units::Microseconds;
use skimgauge_tests::stream::{self, PERIOD_US, PULSE_EVERY};
use std::io::{self, Read};

/// Another head, whose readings nobody may take for this one's.
const OTHER: SerialNumber = SerialNumber(*b"another of tests");
const HOUR_US: u64 = 3_600_000_000;
/// Between pulling a head and its greeting.
const PULLED_US: u64 = 3_000_000;

/// A day as a recording, made as it is read.
pub(crate) struct Day {
    left: u32,
    /// Readings between two pulls.
    pull_every: u32,
    pulls: u32,
    /// Readings since the head's start.
    made: u32,
    /// Time since the piece before.
    since_us: u64,
    bytes: Vec<u8>,
    given: usize,
}

impl Day {
    pub(crate) fn new(readings: u32, pulls: u32) -> Self {
        let mut day = Self {
            left: readings,
            pull_every: (readings / pulls.max(1)).max(2),
            pulls: 0,
            made: 0,
            since_us: 5_000,
            bytes: MAGIC.to_vec(),
            given: 0,
        };
        day.greets();
        day
    }

    fn piece(&mut self, bytes: &[u8]) {
        self.bytes.extend(u32::try_from(self.since_us).unwrap_or(u32::MAX).to_le_bytes());
        self.bytes.extend((bytes.len() as u32).to_le_bytes());
        self.bytes.extend(bytes);
        self.since_us = 0;
    }

    fn says(&mut self, report: &Report) {
        let mut buffer = [0; MAX_FRAME];
        let frame = encode(report, &mut buffer).expect("every report fits").to_vec();
        self.piece(&frame);
    }

    fn greets(&mut self) {
        let at = Microseconds(1_000_000 + u64::from(self.made) * PERIOD_US);
        self.says(&Report::Hello(Hello { at, made: self.made, ..stream::hello() }));
        self.says(&stream::constants());
    }

    fn reads(&mut self) {
        self.made += 1;
        self.left -= 1;
        self.since_us += PERIOD_US;
        self.says(&Report::Reading(stream::reading(self.made)));
        if self.made.is_multiple_of(PULSE_EVERY) {
            self.says(&Report::Sheet(stream::sheet(self.made)));
            self.says(&Report::Pulse(stream::pulse(self.made)));
        }
        if self.left.is_multiple_of(self.pull_every) && self.left > 0 {
            self.pulls += 1;
            self.happens();
        }
    }

    fn lost(&mut self, for_us: u64) {
        self.since_us = 50_000;
        self.piece(&[]);
        self.since_us = for_us;
    }

    fn happens(&mut self) {
        match self.pulls % 10 {
            // It restarts, with nobody to see it; and is greeted again.
            0 => {
                self.made = 0;
                self.since_us = 100_000;
                self.greets();
            }
            // Another is put in, and then the first again.
            4 => {
                self.lost(PULLED_US);
                let hello = Hello {
                    serial: Some(OTHER),
                    at: Microseconds(9_000),
                    made: 7,
                    ..stream::hello()
                };
                self.says(&Report::Hello(hello));
                let theirs = CalibrationState {
                    check: CalibrationCheck::Good,
                    calibration: Calibration::nominal(OTHER),
                };
                self.says(&Report::Answer(Token(2), Answer::Calibration(theirs)));
                for _ in 0..20 {
                    self.since_us += PERIOD_US;
                    self.says(&Report::Reading(stream::reading(self.made)));
                }
                self.lost(PULLED_US);
                self.greets();
            }
            // The computer sleeps for an hour, the head goes on; every hundredth time, or a day would
            // have four.
            7 if self.pulls % 100 == 7 => {
                self.since_us = HOUR_US;
                self.made += (HOUR_US / PERIOD_US) as u32;
                self.greets();
            }
            // Pulled out and put back: it has started anew, or hung on another supply and gone on.
            n => {
                self.lost(PULLED_US);
                self.made = if n % 2 == 0 { 0 } else { self.made + (PULLED_US / PERIOD_US) as u32 };
                self.greets();
            }
        }
    }
}

impl Read for Day {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.given == self.bytes.len() {
            self.bytes.clear();
            self.given = 0;
            while self.left > 0 && self.bytes.len() < 1 << 14 {
                self.reads();
            }
        }
        let count = (&self.bytes[self.given..]).read(into)?;
        self.given += count;
        Ok(count)
    }
}
