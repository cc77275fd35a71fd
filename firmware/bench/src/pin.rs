//! The head's pins: button, conversion-ready, lamp, buzzer, the line of pixels.

use crate::bench::Bench;
use crate::part::pixel_line::Gathering;
use core::convert::Infallible;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use skimgauge_head::pixel_line::{Pins, Started};
use skimgauge_head::profile::Scan;
use skimgauge_shared::reading::Absence;
use skimgauge_shared::units::Microseconds;

/// What a buzzer sounds when its pin is simply set high, Hz.
const PLAIN_TONE_HZ: u32 = 2_000;

/// A flush keeps the chip for so long, ns.
const FLUSH_NS: u64 = 75_000;

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

/// Start pulse, clock and samples of the line of pixels. An unplugged one gives samples too: the
/// chip's converter sees the pull-down.
#[derive(Clone)]
pub struct PixelPins {
    bench: Bench,
    gathering: Gathering,
}

impl PixelPins {
    pub(crate) fn new(bench: Bench) -> Self {
        Self { bench, gathering: Gathering::new() }
    }

    fn now(&self) -> Microseconds {
        Microseconds(self.bench.now_us())
    }
}

impl Pins for PixelPins {
    fn flush(&mut self) -> Result<Started, Absence> {
        let started = self.gathering.flush(self.now());
        self.bench.world().advance_ns(FLUSH_NS);
        Ok(started)
    }

    fn read(&mut self) -> Result<Started, Absence> {
        Ok(self.gathering.read(self.now()))
    }

    fn samples(&mut self, into: &mut Scan) -> Result<bool, Absence> {
        let now = self.now();
        let Some((from_us, to_us)) = self.gathering.through(now) else { return Ok(false) };
        *into = self.bench.pixel_scan(now.0, from_us, to_us);
        Ok(true)
    }
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
        Ok(!self.bench.button_is_pressed())
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(self.bench.button_is_pressed())
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
