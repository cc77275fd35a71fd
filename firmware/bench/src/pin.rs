//! The head's pins: button, conversion-ready, lamp, buzzer.

use crate::bench::Bench;
use core::convert::Infallible;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};

/// What a buzzer sounds when its pin is simply set high, Hz.
const PLAIN_TONE_HZ: u32 = 2_000;

/// The button, to ground with a pull-up: low while pressed.
#[derive(Clone)]
pub struct Button {
    bench: Bench,
}

/// The converter's ALERT/RDY, with a pull-up.
#[derive(Clone)]
pub struct ReadyPin {
    bench: Bench,
}

/// Counts the assertions of ALERT/RDY, as an edge interrupt does: none is missed, however late one
/// looks.
#[derive(Clone)]
pub struct ReadyEdges {
    bench: Bench,
    seen: u64,
}

/// The lamp; high lights it.
#[derive(Clone)]
pub struct Lamp {
    bench: Bench,
}

/// The buzzer.
#[derive(Clone)]
pub struct Buzzer {
    bench: Bench,
}

impl Button {
    pub(crate) fn new(bench: Bench) -> Self {
        Self { bench }
    }
}

impl ReadyPin {
    pub(crate) fn new(bench: Bench) -> Self {
        Self { bench }
    }
}

impl ReadyEdges {
    pub(crate) fn new(bench: Bench) -> Self {
        let seen = bench.world().ready_edges();
        Self { bench, seen }
    }

    /// Edges since the last call (or since this counter was made).
    pub fn take(&mut self) -> u64 {
        let edges = self.bench.world().ready_edges();
        let fresh = edges - self.seen;
        self.seen = edges;
        fresh
    }
}

impl Lamp {
    pub(crate) fn new(bench: Bench) -> Self {
        Self { bench }
    }
}

impl Buzzer {
    pub(crate) fn new(bench: Bench) -> Self {
        Self { bench }
    }

    /// Sounds a tone, Hz, or nothing.
    pub fn set_tone_hz(&mut self, tone_hz: Option<u32>) {
        self.bench.world().buzzer_hz = tone_hz.filter(|hz| *hz > 0);
    }
}

impl ErrorType for Button {
    type Error = Infallible;
}

impl InputPin for Button {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(!self.bench.world().button_pressed)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(self.bench.world().button_pressed)
    }
}

impl ErrorType for ReadyPin {
    type Error = Infallible;
}

impl InputPin for ReadyPin {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.bench.world().ready_pin())
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(!self.bench.world().ready_pin())
    }
}

impl ErrorType for Lamp {
    type Error = Infallible;
}

impl OutputPin for Lamp {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.bench.world().lamp_on = false;
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.bench.world().lamp_on = true;
        Ok(())
    }
}

impl ErrorType for Buzzer {
    type Error = Infallible;
}

impl OutputPin for Buzzer {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.set_tone_hz(None);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.set_tone_hz(Some(PLAIN_TONE_HZ));
        Ok(())
    }
}
