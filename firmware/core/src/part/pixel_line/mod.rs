//! The line of pixels: start pulses, exposures, scans.
//!
//! A line of the common interface (start pulse, clock, analogue out) gathers light in all pixels at
//! once. A start pulse ends the gathering, and the clocks after it bring out pixel by pixel what
//! there was; at the [`INTEGRATION_CLOCK`]th of them the pixels are empty and gather anew. So each
//! scan takes two start pulses: one that throws away (*flush*, clocked as fast as the part bears),
//! and, an exposure later, one that reads, at a pace that the converter keeps up with.
//!
//! ```text
//!   flush |#|------- exposure -------|#### read ####|      |#|--- exposure ---|#### read ####|
//!                        ^ middle, every 11 111 us                  ^
//! ```
//!
//! The middles of the exposures are what is regular: 90 a second, whatever the exposure, so that
//! the stand-off can be sampled evenly around them. 90 and not 100, because mains light flickers at
//! 100 or 120 Hz: at 100 a second it would stand still or crawl in the readings, at 90 it passes
//! within a ninth or a third of a second.
//!
//! [`PixelLine::poll`] is called with the time; what is on the pins is behind [`Pins`].

pub mod exposure;
pub mod presence;

use crate::profile::{Scan, Seen};
use exposure::Control;
use skimgauge_shared::reading::Absence;
use skimgauge_shared::units::Microseconds;

/// The clock after a start pulse (its own is the first) with which the pixels have been emptied and
/// gather again. It differs from family to family of such parts: 18 in one, 1 in another;
/// `hardware/body/params.toml` says which is built in.
pub const INTEGRATION_CLOCK: u32 = 1;

/// From the middle of an exposure to the next: 90 a second.
pub const PERIOD: Microseconds = Microseconds(11_111);

/// Least and greatest exposure. The greatest leaves room for a read of 256 clocks of 4 us and a
/// flush in each period.
pub const EXPOSURES_US: (u32, u32) = (100, 9_900);

/// When the scans may be keeping step with the emitter's pulses they are shifted by this; no period
/// from 0.5 ms to 10 ms goes into it, or it into one, without a rest.
const SHIFT: Microseconds = Microseconds(1_370);

/// A read is 256 clocks of 4 us.
const READ: Microseconds = Microseconds(1_024);
/// When the samples are looked for again.
const LOOK_AGAIN: Microseconds = Microseconds(50);
/// Without samples for so long after a read began the line is down.
const SILENCE: Microseconds = Microseconds(5_000);
const RETRY: Microseconds = Microseconds(20_000);
/// Nothing has to be done for an exposure in less than this before its read.
const SHORTEST_LEFT: Microseconds = Microseconds(80);
/// An exposure that came out longer than this was not one: whoever calls stood still meanwhile.
const LONGEST: Microseconds = Microseconds(20_000);

/// A start pulse that was given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Started {
    /// When.
    pub at: Microseconds,
    /// Length of the clock that the pulse was given with, ns.
    pub first_clock_ns: u32,
    /// Length of each of the following clocks, ns.
    pub clock_ns: u32,
}

impl Started {
    /// When the pixels gather light again.
    fn gathering(&self) -> Microseconds {
        // At most 2^32 clocks' worth of ns: in 64 bits.
        let rest = u64::from(INTEGRATION_CLOCK.saturating_sub(1)) * u64::from(self.clock_ns);
        self.at.after(Microseconds((u64::from(self.first_clock_ns) + rest + 500) / 1_000))
    }
}

/// What drives the line: two pins and the converter behind the third.
pub trait Pins {
    /// Gives a start pulse and then, as fast as the part bears, as many clocks as empty it (one
    /// more than it has pixels).
    fn flush(&mut self) -> Result<Started, Absence>;

    /// Gives a start pulse and then one clock and one conversion for every pixel; comes back at
    /// once.
    fn read(&mut self) -> Result<Started, Absence>;

    /// The samples of the last read, once all of them are there; `false`: not yet.
    fn samples(&mut self, into: &mut Scan) -> Result<bool, Absence>;
}

/// How a scan was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Taken {
    /// How long its pixels gathered light; `None`: not known, and nothing can be read from it.
    pub exposure: Option<Microseconds>,
    /// The middle of that, or of what was planned.
    pub middle: Microseconds,
}

/// What [`PixelLine::poll`] found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polled {
    /// Nothing new.
    Nothing,
    /// A scan.
    Scan(Taken),
    /// The line is down, from now or still.
    Down(Absence),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// Before an exposure.
    Waiting,
    /// Gathering, since then; `None`: since nobody knows when.
    Exposing(Option<Microseconds>),
    /// Reading.
    Reading(Taken),
    Down(Absence),
}

/// The line and its timing.
pub struct PixelLine<P> {
    pins: P,
    state: State,
    control: Control,
    /// The middle of the exposure that comes or runs.
    middle: Microseconds,
    exposure_us: u32,
    /// Of the next thing to do.
    due: Microseconds,
    /// When a read is given up.
    silent: Microseconds,
    /// A read since the last time that a flush went wrong or everything stood still emptied the
    /// line.
    emptied: bool,
    /// The latest that a read began after its time, us, since somebody asked.
    latest_us: u16,
}

impl<P: Pins> PixelLine<P> {
    /// Not started: the first [`Self::poll`] starts it. `dark` and `stop` are the pixels' ends in
    /// codes.
    pub fn new(pins: P, dark: u16, stop: u16) -> Self {
        Self {
            pins,
            state: State::Down(Absence::Starting),
            control: Control::new(dark, stop),
            middle: Microseconds(0),
            exposure_us: EXPOSURES_US.1,
            due: Microseconds(0),
            silent: Microseconds(0),
            emptied: false,
            latest_us: 0,
        }
    }

    /// The latest that a read began after its time since the last call, us.
    pub fn take_latest_us(&mut self) -> u16 {
        core::mem::take(&mut self.latest_us)
    }

    /// Other ends of the pixels' range: the exposure is found anew.
    pub fn set_ends(&mut self, dark: u16, stop: u16) {
        self.control = Control::new(dark, stop);
    }

    /// When to call again.
    pub fn next_deadline(&self) -> Microseconds {
        self.due
    }

    /// The next thing to do is a start pulse, whose time makes the exposure.
    pub fn is_timing(&self) -> bool {
        matches!(self.state, State::Waiting | State::Exposing(_))
    }

    /// The exposure that the light asks for, us.
    pub fn exposure_us(&self) -> u32 {
        self.control.exposure_us()
    }

    /// What is behind.
    pub fn pins(&mut self) -> &mut P {
        &mut self.pins
    }

    /// Sets the exposure by what a scan showed. Call it for every scan, late or not: each is judged
    /// by its own exposure.
    pub fn adjust(&mut self, taken: &Taken, seen: &Seen) {
        if let Some(exposure) = taken.exposure {
            self.control.on(taken.middle, exposure, seen.brightest);
        }
    }

    /// Does what is due. A scan goes to `into`.
    pub fn poll(&mut self, now: Microseconds, into: &mut Scan) -> Polled {
        if now < self.due {
            return match self.state {
                State::Down(absence) => Polled::Down(absence),
                _ => Polled::Nothing,
            };
        }
        match self.state {
            State::Down(_) => {
                self.emptied = false;
                self.plan(now);
                Polled::Nothing
            }
            State::Waiting => self.flush(now),
            State::Exposing(since) => self.read(since),
            State::Reading(taken) => self.collect(now, taken, into),
        }
    }

    /// Plans the next exposure around the first middle of the raster that is still to be had.
    fn plan(&mut self, now: Microseconds) {
        self.exposure_us = self.control.exposure_us();
        if self.control.take_shift() {
            self.middle = self.middle.after(SHIFT);
        }
        let half = Microseconds(u64::from(self.exposure_us / 2));
        // The longest exposures leave a tenth of a millisecond between read and flush. One that comes
        // to begin late by a sixteenth of itself is so much shorter; it is not left out.
        let earliest = now.after(Microseconds(half.0 - half.0 / 8)).after(SHORTEST_LEFT);
        if earliest.since(self.middle) > Microseconds(2 * PERIOD.0) {
            // After a start or a standstill the raster begins anew.
            self.middle = earliest;
        }
        while self.middle < earliest {
            self.middle = self.middle.after(PERIOD);
        }
        self.state = State::Waiting;
        self.due = self.middle.since(half).max(now);
    }

    fn read_at(&self) -> Microseconds {
        self.middle.after(Microseconds(u64::from(self.exposure_us - self.exposure_us / 2)))
    }

    fn flush(&mut self, now: Microseconds) -> Polled {
        if now.after(SHORTEST_LEFT) > self.read_at() {
            // Too late for this one.
            self.plan(now);
            return Polled::Nothing;
        }
        match self.pins.flush() {
            Ok(started) => {
                // The first flush after a start empties what gathered for who knows how long, and
                // may leave some.
                self.state = State::Exposing(self.emptied.then(|| started.gathering()));
                self.due = self.read_at();
                Polled::Nothing
            }
            Err(absence) => self.fail(now, absence),
        }
    }

    fn read(&mut self, since: Option<Microseconds>) -> Polled {
        match self.pins.read() {
            Ok(started) => {
                let exposure = since.and_then(|since| exposure(since, started.at));
                let late = u16::try_from(started.at.since(self.due).0).unwrap_or(u16::MAX);
                self.latest_us = self.latest_us.max(late);
                let half = exposure.map_or(self.exposure_us / 2, |exposure| exposure.0 as u32 / 2);
                let middle = started.at.since(Microseconds(u64::from(half)));
                self.state = State::Reading(Taken { exposure, middle });
                self.due = started.at.after(READ);
                self.silent = started.at.after(SILENCE);
                Polled::Nothing
            }
            Err(absence) => self.fail(self.due, absence),
        }
    }

    fn collect(&mut self, now: Microseconds, taken: Taken, into: &mut Scan) -> Polled {
        match self.pins.samples(into) {
            Ok(true) => {
                self.emptied = true;
                self.middle = self.middle.after(PERIOD);
                self.plan(now);
                Polled::Scan(taken)
            }
            Ok(false) if now < self.silent => {
                self.due = now.after(LOOK_AGAIN);
                Polled::Nothing
            }
            Ok(false) => self.fail(now, Absence::NoAnswer),
            Err(absence) => self.fail(now, absence),
        }
    }

    fn fail(&mut self, now: Microseconds, absence: Absence) -> Polled {
        self.state = State::Down(absence);
        self.due = now.after(RETRY);
        Polled::Down(absence)
    }
}

/// From the emptying to the pulse that reads, if it can have been one.
fn exposure(since: Microseconds, until: Microseconds) -> Option<Microseconds> {
    let length = until.since(since);
    (length.0 > 0 && length <= LONGEST).then_some(length)
}
