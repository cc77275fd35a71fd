//! The ADS1115, free-running.
//!
//! In continuous mode the converter never rests: when a conversion ends its result is held for the
//! whole of the next one, and a channel selected meanwhile is converted after that (as the driver
//! crate `ads1x1x` documents for `select_channel`). So at each ready edge one result is read and
//! the channel after next is chosen, and 860 conversions a second stay 860: one at a time, in
//! single-shot mode, about 620 would be left at 400 kHz.

use super::i2c_absence;
use crate::hardware::ReadyLatch;
use ads1x1x::{
    Ads1x1x, ComparatorQueue, DataRate16Bit, Error, FullScaleRange, ModeChangeError, TargetAddr,
    channel, ic, mode,
};
use embedded_hal::i2c::I2c;
use skimgauge_shared::reading::Absence;
use skimgauge_shared::units::Microseconds;

/// What is wired to the converter; its inputs 1 and 2 are free.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) enum Input {
    /// Laser distance sensor.
    StandOff,
    /// Supply, halved.
    Supply,
}

/// A finished conversion.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Conversion<T> {
    /// What it was asked for.
    pub(crate) of: T,
    /// Code, 125 uV each.
    pub(crate) code: i16,
    /// Its middle.
    pub(crate) at: Microseconds,
}

/// What a call of [`Converter::service`] found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Served<T> {
    /// The conversion still runs.
    Nothing,
    /// A conversion ended; another runs.
    Done(Conversion<T>),
    /// A conversion ended that nothing can be said of.
    Unlabelled,
    /// The converter is down, from now or still.
    Down(Absence),
}

/// At 860 conversions a second, nominally. The part's own clock may be 10 % off.
pub(crate) const NOMINAL_PERIOD_US: u32 = 1_163;

const LONGEST_PERIOD_US: u32 = 1_300;
const SHORTEST_PERIOD_US: u32 = 1_040;

/// Without an edge for so long the converter is down.
const SILENCE: Microseconds = Microseconds(4_500);
/// After a start a conversion at the part's slow default rate (128 a second) may still run.
const FIRST_SILENCE: Microseconds = Microseconds(12_000);
const RETRY: Microseconds = Microseconds(20_000);
/// How soon the edge is looked for when its time has come.
const LOOK_AGAIN: Microseconds = Microseconds(30);

type Single<I2C> = Ads1x1x<I2C, ic::Ads1115, ic::Resolution16Bit, mode::OneShot>;
type Running<I2C> = Ads1x1x<I2C, ic::Ads1115, ic::Resolution16Bit, mode::Continuous>;

enum Mode<I2C> {
    Single(Single<I2C>),
    Running(Running<I2C>),
    /// Only within a change of mode.
    Changing,
}

/// The converter, and what it is converting. `T` says what a conversion is for.
pub(crate) struct Converter<I2C, R, T> {
    mode: Mode<I2C>,
    ready: R,
    down: Option<Absence>,
    retry_at: Microseconds,
    /// The conversion that runs now, and the one chosen to follow; `None`: not known.
    running: Option<T>,
    next: Option<T>,
    edge_at: Microseconds,
    silent_at: Microseconds,
    period_us: u32,
}

impl<I2C: I2c, R: ReadyLatch, T: Copy> Converter<I2C, R, T> {
    /// Not started: the first [`Self::service`] starts it.
    pub(crate) fn new(i2c: I2C, ready: R) -> Self {
        Self {
            mode: Mode::Single(Ads1x1x::new_ads1115(i2c, TargetAddr::default())),
            ready,
            down: Some(Absence::Starting),
            retry_at: Microseconds(0),
            running: None,
            next: None,
            edge_at: Microseconds(0),
            silent_at: Microseconds(0),
            period_us: NOMINAL_PERIOD_US,
        }
    }

    /// When to call again.
    pub(crate) fn next_deadline(&self, now: Microseconds) -> Microseconds {
        if self.down.is_some() {
            return self.retry_at;
        }
        let edge = Microseconds(self.edge_at.0 + u64::from(self.period_us));
        edge.max(now.after(LOOK_AGAIN))
    }

    /// Looks for a finished conversion. `choose` says what the conversion that starts at the given
    /// time is for, and on which input.
    pub(crate) fn service(
        &mut self,
        now: Microseconds,
        choose: impl FnOnce(Microseconds) -> (T, Input),
    ) -> Served<T> {
        if let Some(absence) = self.down {
            if now >= self.retry_at {
                self.start(now);
            }
            return self.down.map_or(Served::Nothing, |_| Served::Down(absence));
        }
        if !self.ready.take() {
            if now > self.silent_at {
                return self.fail(now, Absence::NoAnswer);
            }
            return Served::Nothing;
        }
        // In 32 bits, and without a division: this runs with every conversion.
        let elapsed =
            u32::try_from(now.since(self.edge_at).0).unwrap_or(u32::MAX / 8).min(u32::MAX / 8);
        // Seen this late, another conversion may have ended unseen, and the register may hold
        // either.
        let late = elapsed * 5 > self.period_us * 8;
        let early = elapsed * 5 < self.period_us * 2;
        if !late && !early {
            let period = (self.period_us * 15 + elapsed + 8) / 16;
            self.period_us = period.clamp(SHORTEST_PERIOD_US, LONGEST_PERIOD_US);
        }
        let half = Microseconds(u64::from(self.period_us / 2));
        let at = now.since(half);
        self.edge_at = now;
        self.silent_at = now.after(SILENCE);
        let (tag, input) = choose(now.after(Microseconds(u64::from(self.period_us))));
        let served = match self.read_and_select(input) {
            Err(absence) => return self.fail(now, absence),
            Ok(code) => match self.running {
                Some(of) if !late => Served::Done(Conversion { of, code, at }),
                _ => Served::Unlabelled,
            },
        };
        self.running = if late { None } else { self.next };
        self.next = Some(tag);
        served
    }

    fn read_and_select(&mut self, input: Input) -> Result<i16, Absence> {
        let Mode::Running(converter) = &mut self.mode else { return Err(Absence::NoAnswer) };
        let outcome = converter.read().and_then(|code| {
            match input {
                Input::StandOff => converter.select_channel(channel::SingleA0),
                Input::Supply => converter.select_channel(channel::SingleA3),
            }
            .map(|()| code)
        });
        outcome.map_err(|error| absence_of(&error))
    }

    fn fail(&mut self, now: Microseconds, absence: Absence) -> Served<T> {
        self.down = Some(absence);
        self.retry_at = now.after(RETRY);
        self.running = None;
        self.next = None;
        Served::Down(absence)
    }

    /// Sets everything anew: the part may have lost its power and its registers with it.
    fn start(&mut self, now: Microseconds) {
        self.retry_at = now.after(RETRY);
        let outcome = match core::mem::replace(&mut self.mode, Mode::Changing) {
            Mode::Single(converter) => Ok(converter),
            Mode::Running(converter) => {
                converter.into_one_shot().map_err(|ModeChangeError::I2C(error, converter)| {
                    self.mode = Mode::Running(converter);
                    i2c_absence(&error)
                })
            }
            Mode::Changing => return,
        };
        let started = outcome.and_then(|mut converter| {
            let set = converter
                .set_full_scale_range(FullScaleRange::Within4_096V)
                .and_then(|()| converter.set_data_rate(DataRate16Bit::Sps860))
                // With the comparator off the ready line stays silent; the crate's own call leaves
                // it off.
                .and_then(|()| converter.set_comparator_queue(ComparatorQueue::One))
                .and_then(|()| converter.use_alert_rdy_pin_as_ready());
            if let Err(error) = set {
                self.mode = Mode::Single(converter);
                return Err(absence_of(&error));
            }
            converter.into_continuous().map_err(|ModeChangeError::I2C(error, converter)| {
                self.mode = Mode::Single(converter);
                i2c_absence(&error)
            })
        });
        match started {
            Ok(converter) => {
                self.mode = Mode::Running(converter);
                self.ready.take();
                self.down = None;
                self.edge_at = now;
                self.silent_at = now.after(FIRST_SILENCE);
            }
            Err(absence) => self.down = Some(absence),
        }
    }
}

fn absence_of<E: embedded_hal::i2c::Error>(error: &Error<E>) -> Absence {
    match error {
        Error::I2C(error) => i2c_absence(error),
        Error::InvalidInputData => Absence::NoAnswer,
    }
}
