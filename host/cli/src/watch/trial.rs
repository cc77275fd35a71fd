//! A head for tests, reading by reading, on a clock that the test moves.

use super::stations::Kept;
use super::{Effect, Said, Watch};
use skimgauge_jobfile::Job;
use skimgauge_record::chain::Hash;
use skimgauge_session::Told;
use skimgauge_session::{Arrived, Event, HeadIs};
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
use skimgauge_shared::message::*;
use skimgauge_shared::reading::{Absence, Reading, Sample, Tilt};
use skimgauge_shared::sequence::{Placed, Position};
use skimgauge_shared::units::{
    CentiCelsius, Microdegrees, Micrometres, Microseconds, Millivolts, TenThousandths,
};
use std::time::Duration;

pub const TODAY: Date = Date { year: 2026, month: 6, day: 1 };
pub const SERIAL: SerialNumber = SerialNumber([1; 16]);
/// The gap comes to some 2.5 mm.
pub const SEATED: Sample<Micrometres> = Sample::Value(Micrometres(27_500));
pub const OFF: Sample<Micrometres> = Sample::Absent(Absence::NoSpot);

/// A watch of the practice job with a head that is up.
pub struct Trial {
    pub watch: Watch,
    number: u32,
    /// Degrees that the head stands turned by; while it is in the hand it never rests.
    pub level_deg: f64,
    pub in_hand: bool,
}

pub fn head() -> Box<HeadIs> {
    let mut calibration = Calibration::nominal(SERIAL);
    calibration.date = TODAY;
    let hello = Hello {
        protocol: PROTOCOL,
        firmware: Version { major: 0, minor: 1, patch: 0 },
        serial: Some(SERIAL),
        reset: ResetCause::Power,
        capabilities: Capabilities::EYE,
        at: Microseconds(0),
        made: 0,
        rate: Rate { per_second: 100, conversions: 2 },
        calibration: CalibrationCheck::Good,
    };
    Box::new(HeadIs {
        hello,
        calibration: CalibrationState { check: CalibrationCheck::Good, calibration },
    })
}

impl Trial {
    pub fn new() -> Self {
        Self::of(Job::parse("demo.toml", skimgauge_jobfile::demo_job()).unwrap())
    }

    pub fn of(job: Job) -> Self {
        let board = crate::jobs::unsurveyed(&job);
        let mut watch = Watch::new(job, board, TODAY, "port");
        watch.told(Duration::ZERO, Told::Head(Event::Up(head())));
        Self { watch, number: 0, level_deg: 0.0, in_hand: false }
    }

    pub fn now(&self) -> Duration {
        Duration::from_millis(u64::from(self.number) * 10)
    }

    /// Readings with this stand-off for so long.
    pub fn read(&mut self, stand_off: Sample<Micrometres>, ms: u32) {
        for _ in 0..ms / 10 {
            self.number += 1;
            let number = self.number;
            let at = Microseconds::from_millis(u64::from(number) * 10);
            let arrival = self.now();
            // A live sensor's last digit moves.
            let jitter = Micrometres([0, 7, -6, 3, -4][number as usize % 5]);
            let sway = if self.in_hand { (f64::from(number) * 0.05).sin() } else { 0.0 };
            let level =
                Microdegrees(((self.level_deg + sway) * 1e6) as i32 + 5_493 * (number % 3) as i32);
            let reading = Reading {
                sequence: number as u8,
                at_low_us: at.0 as u32,
                stand_off: stand_off.map(|s| s + jitter),
                eye: Sample::Value(TenThousandths(number as i16 % 7)),
                tilt: Sample::Value(Tilt { level, lean: Microdegrees(0) }),
            };
            let placed = Placed { position: Position { number, at }, lost: 0 };
            if number % 20 == 1 {
                let pulse = Pulse {
                    at,
                    made: number,
                    unsent: 0,
                    refused_frames: 0,
                    temperature: Sample::Value(CentiCelsius(2_000)),
                    supply: Sample::Value(Millivolts(5_000)),
                    light: Sample::Value(9_000),
                    latest_start_us: 0,
                };
                self.watch.told(arrival, Told::Head(Event::Pulse(pulse)));
            }
            self.watch
                .told(arrival, Told::Head(Event::Reading(Arrived { reading, placed, arrival })));
            if number.is_multiple_of(10) {
                drop(self.watch.tick(arrival));
            }
        }
    }

    /// Off the board, a while in the hand, and on again, at rest.
    pub fn carry(&mut self) {
        self.in_hand = true;
        self.read(OFF, 500);
        self.in_hand = false;
        self.read(SEATED, 2_000);
    }

    /// Says something, lets the head say who it is, and stores what follows. Takes that came of it.
    pub fn say(&mut self, said: Said) -> Vec<Kept> {
        let effects = self.watch.said(self.now(), said);
        self.follow(effects)
    }

    /// The head's button.
    pub fn button(&mut self, press: Press) -> Vec<Kept> {
        let at = Microseconds::from_millis(u64::from(self.number) * 10);
        let effects = self.watch.told(self.now(), Told::Head(Event::Button(press, at)));
        self.follow(effects)
    }

    pub fn follow(&mut self, effects: Vec<Effect>) -> Vec<Kept> {
        let now = self.now();
        let mut taken = Vec::new();
        for effect in effects {
            match effect {
                Effect::Ask(Request::Greet { .. }) => {
                    let effects = self.watch.told(now, Told::Head(Event::Same));
                    taken.extend(self.follow(effects));
                }
                Effect::Keep { station, kept, .. } => {
                    let kept = Kept { event: Some(Hash::of(&self.number.to_le_bytes())), ..*kept };
                    self.watch.kept(now, station, kept.clone());
                    taken.push(kept);
                }
                Effect::KeepTilt(tilt, _) => self.watch.kept_tilt(now, tilt),
                Effect::Ask(_) | Effect::Quit(_) => (),
            }
        }
        taken
    }

    /// Everything said since the last call.
    pub fn heard(&mut self) -> String {
        self.watch.take_untold().iter().map(|message| message.text.clone() + "\n").collect()
    }
}
