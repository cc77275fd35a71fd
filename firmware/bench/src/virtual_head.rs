//! A head without a board: the core's logic on the bench's parts, with a wire at each end.

use crate::bench::Bench;
use crate::bus::{BenchDelay, BenchI2c, BenchSpi};
use crate::pin;
use skimgauge_head::{Hardware, Head, Parts, ReadyLatch, Start};
use skimgauge_shared::message::{Capabilities, ResetCause, Version};
use skimgauge_shared::units::Microseconds;

/// The converter's edges, latched.
pub struct Edges(pin::ReadyEdges);

impl ReadyLatch for Edges {
    fn take(&mut self) -> bool {
        self.0.take() > 0
    }
}

/// The bench's buzzer.
pub struct Buzzer(pin::Buzzer);

impl skimgauge_head::Buzzer for Buzzer {
    fn sound(&mut self, pitch_hz: Option<u16>) {
        self.0.set_tone_hz(pitch_hz.map(u32::from));
    }
}

/// The bench as a board.
pub enum BenchBoard {}

impl Hardware for BenchBoard {
    type Bus = BenchI2c;
    type Ready = Edges;
    type Inclinometer = BenchSpi;
    type Delay = BenchDelay;
    type Line = pin::PixelPins;
    type Button = pin::Button;
    type Lamp = pin::Lamp;
    type Buzzer = Buzzer;
    type Log = ();
}

/// A head on a bench.
pub struct VirtualHead {
    bench: Bench,
    head: Head<BenchBoard>,
    next: Microseconds,
    room: Option<usize>,
    enters_loader: bool,
}

/// What a real head's image would say of itself, and that it is simulated.
pub fn start(reset: ResetCause) -> Start {
    Start {
        firmware: Version { major: 0, minor: 1, patch: 0 },
        reset,
        capabilities: Capabilities::BUZZER.with(Capabilities::SIMULATED),
        last_words: None,
    }
}

impl VirtualHead {
    /// Powered up now.
    pub fn new(bench: Bench) -> Self {
        Self::started(bench, start(ResetCause::Power))
    }

    /// Powered up now, with its own idea of itself.
    pub fn started(bench: Bench, start: Start) -> Self {
        let parts = Parts {
            converter: bench.i2c(),
            memory: bench.i2c(),
            ready: Edges(bench.ready_edges()),
            inclinometer: bench.spi(),
            delay: bench.delay(),
            line: bench.pixel_pins(),
            button: bench.button(),
            lamp: bench.lamp(),
            buzzer: Buzzer(bench.buzzer()),
            log: (),
        };
        let now = Microseconds(bench.now_us());
        let head = Head::new(parts, start, now);
        Self { bench, head, next: now, room: Some(usize::MAX), enters_loader: false }
    }

    /// The bench it stands on.
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// Whether it asked its board for the boot loader.
    pub fn enters_loader(&self) -> bool {
        self.enters_loader
    }

    /// Bytes that the link takes from now on; `None`: nobody listens.
    pub fn set_room(&mut self, room: Option<usize>) {
        self.room = room;
    }

    /// Runs until the bench's clock reaches `until_us`; `received` arrives now. What it sends goes
    /// to `send`.
    pub fn run_until(&mut self, until_us: u64, mut received: &[u8], send: &mut impl FnMut(&[u8])) {
        loop {
            let now_us = self.bench.now_us();
            let step = self.head.poll(Microseconds(now_us), received, self.room);
            received = &[];
            self.enters_loader |= step.enter_loader;
            send(step.send);
            self.next = step.next.min(step.on_time);
            // An edge wakes a real head too.
            let wake_us = self
                .bench
                .conversion_ends_us()
                .map_or(self.next.0, |edge_us| edge_us.min(self.next.0));
            let wake_us = wake_us.max(self.bench.now_us() + 1);
            if wake_us > until_us {
                self.bench.advance_to(until_us);
                return;
            }
            self.bench.advance_to(wake_us);
        }
    }
}
