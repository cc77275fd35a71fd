//! The bench: room, parts, bus and pins under one simulated clock.
//!
//! Two ways in. A host program takes the embedded-hal handles ([`Bench::i2c`], [`Bench::spi`],
//! [`Bench::delay`], the pins); they move the clock on by what the wire would take. An emulator,
//! whose image makes its own time, calls the byte entry points (`i2c_start` to `spi_exchange`) with
//! its own `now_us`. Both meet the same parts, and everything is `Clone`, `Send` and cheap to hand
//! around.

use crate::bus::{BenchDelay, BenchI2c, BenchSpi};
use crate::head::Head;
use crate::noise::Noise;
use crate::part::converter::{self, Converter};
use crate::part::inclinometer::{Inclinometer, InclinometerFault};
use crate::part::memory::{self, Memory};
use crate::part::pixel_line::{Broken, Line, PITCH_MM};
use crate::pin::{Button, Buzzer, Lamp, PixelPins, ReadyEdges, ReadyPin};
use crate::room::Room;
use crate::room::fault::Fault;
use crate::scene::{Scene, Truth};
use crate::wiring::Wiring;
use skimgauge_head::profile::{PIXELS, Scan};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Who was addressed by the last start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Target {
    Nobody,
    Converter,
    Memory,
}

pub(crate) struct World {
    pub(crate) clock_ns: u64,
    pub(crate) scene: Scene,
    converter: Converter,
    inclinometer: Inclinometer,
    memory: Memory,
    line: Line,
    last_scan: Option<Scan>,
    target: Target,
    power_cut_us: Option<u64>,
    powered: bool,
    contents_before_fault: Option<Vec<u8>>,
    pub(crate) button_pressed: bool,
    pub(crate) lamp_on: bool,
    pub(crate) buzzer_hz: Option<u32>,
    seed: u64,
}

impl World {
    pub(crate) fn now_us(&self) -> u64 {
        self.clock_ns / 1000
    }

    pub(crate) fn advance_ns(&mut self, ns: u64) {
        self.clock_ns = self.clock_ns.saturating_add(ns);
        self.meet_power_cut();
    }

    fn advance_to(&mut self, now_us: u64) {
        self.clock_ns = self.clock_ns.max(now_us.saturating_mul(1000));
        self.meet_power_cut();
    }

    fn meet_power_cut(&mut self) {
        let Some(at_us) = self.power_cut_us.take_if(|at_us| *at_us * 1000 <= self.clock_ns) else {
            return;
        };
        self.powered = false;
        self.target = Target::Nobody;
        self.converter.advance_to(at_us, &mut self.scene);
        self.memory.cut_power(at_us, self.seed);
    }

    fn restore_power(&mut self) {
        let now_us = self.now_us();
        self.powered = true;
        self.converter.power_cycle(now_us);
        self.inclinometer.power_cycle(now_us);
        self.memory.cut_power(now_us, self.seed);
        self.scene.switch_on(now_us);
        self.target = Target::Nobody;
    }

    /// Brings all parts to the clock.
    fn settle(&mut self) {
        let now_us = self.now_us();
        if self.powered {
            self.converter.advance_to(now_us, &mut self.scene);
            self.inclinometer.advance_to(now_us, &mut self.scene);
            self.memory.advance_to(now_us);
        }
        self.scene.advance_to(now_us);
    }

    pub(crate) fn bus_is_stuck(&self) -> bool {
        self.scene.has(Fault::BusStuck)
    }

    pub(crate) fn start(&mut self, address: u8, write: bool) -> bool {
        self.target = Target::Nobody;
        if !self.powered || self.bus_is_stuck() {
            return false;
        }
        let now_us = self.now_us();
        match address {
            converter::ADDRESS if !self.scene.has(Fault::ConverterSilent) => {
                self.converter.advance_to(now_us, &mut self.scene);
                if self.converter.start(write) {
                    self.target = Target::Converter;
                }
            }
            memory::ADDRESS | memory::SERIAL_ADDRESS if !self.scene.has(Fault::MemorySilent) => {
                self.memory.advance_to(now_us);
                if self.memory.start(address, write) {
                    self.target = Target::Memory;
                }
            }
            _ => {}
        }
        self.target != Target::Nobody
    }

    pub(crate) fn write_byte(&mut self, byte: u8) -> bool {
        if !self.powered || self.bus_is_stuck() {
            return false;
        }
        let now_us = self.now_us();
        match self.target {
            Target::Nobody => false,
            Target::Converter => {
                self.converter.advance_to(now_us, &mut self.scene);
                self.converter.write_byte(byte)
            }
            Target::Memory => {
                self.memory.advance_to(now_us);
                self.memory.write_byte(byte)
            }
        }
    }

    pub(crate) fn read_byte(&mut self) -> u8 {
        if self.bus_is_stuck() {
            return 0x00;
        }
        match self.target {
            _ if !self.powered => 0xFF,
            Target::Nobody => 0xFF,
            Target::Converter => self.converter.read_byte(),
            Target::Memory => self.memory.read_byte(),
        }
    }

    pub(crate) fn stop(&mut self) {
        let now_us = self.now_us();
        // Every part sees a stop; the one addressed may act on it.
        if self.powered && !self.bus_is_stuck() {
            self.converter.stop();
            self.memory.advance_to(now_us);
            self.memory.stop();
        }
        self.target = Target::Nobody;
    }

    pub(crate) fn select(&mut self, selected: bool) {
        if self.powered {
            self.inclinometer.select(selected);
        }
    }

    pub(crate) fn exchange(&mut self, byte: u8) -> u8 {
        if !self.powered {
            return 0x00;
        }
        let now_us = self.now_us();
        self.inclinometer.advance_to(now_us, &mut self.scene);
        self.inclinometer.exchange_byte(byte)
    }

    pub(crate) fn ready_pin(&mut self) -> bool {
        if !self.powered {
            return false;
        }
        let now_us = self.now_us();
        self.converter.advance_to(now_us, &mut self.scene);
        self.converter.ready_pin()
    }

    pub(crate) fn ready_edges(&mut self) -> u64 {
        if self.powered {
            let now_us = self.now_us();
            self.converter.advance_to(now_us, &mut self.scene);
        }
        self.converter.ready_edges()
    }

    fn set_fault(&mut self, fault: Fault, on: bool) {
        self.settle();
        if self.scene.has(fault) == on {
            return;
        }
        self.scene.set_fault(fault, on);
        match fault {
            Fault::ConverterFrozen => self.converter.set_frozen(on),
            Fault::CalibrationMissing | Fault::CalibrationDamaged => self.spoil_memory(fault, on),
            Fault::PixelsDead => self.kill_pixels(on),
            Fault::CalibrationOfOtherHead => {
                let mut serial = self.scene.head.serial;
                if on {
                    serial[15] ^= 0x5A;
                    serial[14] ^= 0xC3;
                }
                self.memory.set_serial(serial);
            }
            _ => {}
        }
        self.inclinometer.set_fault(self.inclinometer_fault());
    }

    fn spoil_memory(&mut self, fault: Fault, on: bool) {
        if on {
            let contents =
                self.contents_before_fault.get_or_insert_with(|| self.memory.contents().to_vec());
            let mut spoilt = contents.clone();
            if fault == Fault::CalibrationMissing {
                spoilt.fill(0xFF);
            } else {
                let mut noise = Noise::new(self.seed, 50);
                // One flipped bit in every page that holds anything, so that no copy is spared.
                for page in spoilt.chunks_mut(memory::PAGE) {
                    let written: Vec<usize> =
                        (0..page.len()).filter(|k| page[*k] != 0xFF).collect();
                    if !written.is_empty() {
                        let which = written[(noise.bits() % written.len() as u64) as usize];
                        page[which] ^= 1 << (noise.bits() % 8);
                    }
                }
            }
            self.memory.contents_mut().copy_from_slice(&spoilt);
        } else if let Some(contents) = self.contents_before_fault.take() {
            self.memory.contents_mut().copy_from_slice(&contents);
        }
    }

    /// Two pixels, of which one is where the light's middle stands, or in the line's. (Side by side
    /// they would part the sheet in two, and be called that.)
    fn kill_pixels(&mut self, on: bool) {
        self.line.broken.clear();
        if on {
            let now_us = self.now_us();
            let middle_mm = self.scene.truth(now_us).middle_mm;
            let middle = middle_mm.map_or(PIXELS / 2, |mm| (mm / PITCH_MM).max(0.0) as usize);
            let first = middle.min(PIXELS - 9);
            self.line.broken.extend([first, first + 8].map(|at| (at, Broken::Dead)));
        }
    }

    fn inclinometer_fault(&self) -> InclinometerFault {
        [
            (Fault::InclinometerSilent, InclinometerFault::High),
            (Fault::InclinometerFrames, InclinometerFault::Checksum),
            (Fault::InclinometerStatusTwo, InclinometerFault::StatusTwo),
            (Fault::InclinometerStatusError, InclinometerFault::StatusError),
            (Fault::InclinometerSelfTest, InclinometerFault::SelfTest),
            (Fault::InclinometerFrozen, InclinometerFault::Frozen),
        ]
        .into_iter()
        .find(|(fault, _)| self.scene.has(*fault))
        .map_or(InclinometerFault::None, |(_, fault)| fault)
    }
}

/// A handle to the bench. Clones are handles to the same bench.
#[derive(Clone)]
pub struct Bench {
    world: Arc<Mutex<World>>,
}

impl Bench {
    /// The bench of a seed: its room, its head, its noise; the head blank, clipped to the top of
    /// the image.
    pub fn new(seed: u64) -> Self {
        Self::with_scene(Scene::new(seed), seed)
    }

    /// A bench with a given room and head; `seed` for the noise alone.
    pub fn with(room: Room, head: Head, seed: u64) -> Self {
        Self::with_scene(Scene::with(room, head, seed), seed)
    }

    /// A bench round a given scene.
    pub fn with_scene(scene: Scene, seed: u64) -> Self {
        let head = &scene.head;
        let mut line = Line::new(seed);
        line.first_mm = head.first_pixel_mm;
        let world = World {
            clock_ns: 0,
            converter: Converter::new(head.converter_period_error),
            inclinometer: Inclinometer::new(head.inclinometer_serial, seed, 0),
            memory: Memory::new(head.serial),
            line,
            last_scan: None,
            target: Target::Nobody,
            power_cut_us: None,
            powered: true,
            contents_before_fault: None,
            button_pressed: false,
            lamp_on: false,
            buzzer_hz: None,
            seed,
            scene,
        };
        Self { world: Arc::new(Mutex::new(world)) }
    }

    pub(crate) fn world(&self) -> MutexGuard<'_, World> {
        // A panic elsewhere leaves the simulated parts in some state of theirs: still good to go on
        // with.
        self.world.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The clock, us since the bench was made.
    pub fn now_us(&self) -> u64 {
        self.world().now_us()
    }

    /// Moves the clock to `now_us` (never back) and all parts with it.
    pub fn advance_to(&self, now_us: u64) {
        let mut world = self.world();
        world.advance_to(now_us);
        world.settle();
    }

    /// When the converter's running conversion ends, us; `None` in power-down. The next moment at
    /// which something happens on the bench by itself.
    pub fn conversion_ends_us(&self) -> Option<u64> {
        self.world().converter.conversion_ends_us()
    }

    /// Looks at or changes the scene (room, seat, eye) at the clock's time; what was sensed
    /// before stays as it was.
    pub fn scene<R>(&self, f: impl FnOnce(&mut Scene) -> R) -> R {
        let mut world = self.world();
        world.settle();
        f(&mut world.scene)
    }

    /// What is true now.
    pub fn truth(&self) -> Truth {
        let world = self.world();
        world.scene.truth(world.now_us())
    }

    /// Sets or takes back a fault.
    pub fn set_fault(&self, fault: Fault, on: bool) {
        self.world().set_fault(fault, on);
    }

    /// Sets or takes back something wrong with how the head was built.
    pub fn set_wiring(&self, wiring: Wiring, on: bool) {
        let mut world = self.world();
        world.settle();
        world.scene.set_wiring(wiring, on);
    }

    /// Sets a fault of the inclinometer that has no name in [`Fault`]; the next
    /// [`Bench::set_fault`] takes it back.
    pub fn set_inclinometer_fault(&self, fault: InclinometerFault) {
        let mut world = self.world();
        world.settle();
        world.inclinometer.set_fault(fault);
    }

    /// Cuts the power of all parts at `at_us` (now, if that has passed): a write cycle that runs
    /// then leaves its page torn.
    pub fn cut_power_at(&self, at_us: u64) {
        let mut world = self.world();
        let at_us = at_us.max(world.now_us());
        world.power_cut_us = Some(at_us);
        world.meet_power_cut();
    }

    /// Power back on: all parts start anew, the memory keeps what it has.
    pub fn restore_power(&self) {
        self.world().restore_power();
    }

    /// Whether the parts have power.
    pub fn is_powered(&self) -> bool {
        self.world().powered
    }

    /// The memory's bytes, past the wire.
    pub fn memory_contents(&self) -> Vec<u8> {
        self.world().memory.contents().to_vec()
    }

    /// Puts `bytes` into the memory at `at`, past the wire. Bytes beyond its end are left out.
    pub fn set_memory(&self, at: usize, bytes: &[u8]) {
        let mut world = self.world();
        let end = at.saturating_add(bytes.len()).min(memory::SIZE);
        if let Some(room) = world.memory.contents_mut().get_mut(at..end) {
            room.copy_from_slice(&bytes[..room.len()]);
        }
    }

    /// Write cycles that the memory has begun.
    pub fn memory_write_cycles(&self) -> u64 {
        self.world().memory.write_cycles()
    }

    /// Conversions that the converter has finished.
    pub fn conversions(&self) -> u64 {
        self.world().converter.conversions()
    }

    /// Presses or releases the button.
    pub fn press_button(&self, pressed: bool) {
        self.world().button_pressed = pressed;
    }

    /// Whether the lamp is lit.
    pub fn lamp_is_on(&self) -> bool {
        let world = self.world();
        world.lamp_on && !world.scene.is_wired(Wiring::LampDark)
    }

    /// What the buzzer sounds, Hz; `None` when silent.
    pub fn buzzer_hz(&self) -> Option<u32> {
        let world = self.world();
        world.buzzer_hz.filter(|_| !world.scene.is_wired(Wiring::BuzzerSilent))
    }

    /// The I2C bus.
    pub fn i2c(&self) -> BenchI2c {
        BenchI2c::new(self.clone())
    }

    /// The inclinometer's SPI.
    pub fn spi(&self) -> BenchSpi {
        BenchSpi::new(self.clone())
    }

    /// A delay that moves the clock.
    pub fn delay(&self) -> BenchDelay {
        BenchDelay::new(self.clone())
    }

    /// The button's pin: low while pressed.
    pub fn button(&self) -> Button {
        Button::new(self.clone())
    }

    /// The level of the converter's ALERT/RDY.
    pub fn ready(&self) -> ReadyPin {
        ReadyPin::new(self.clone())
    }

    /// The edges of the converter's ALERT/RDY, as an interrupt latches them.
    pub fn ready_edges(&self) -> ReadyEdges {
        ReadyEdges::new(self.clone())
    }

    /// The lamp's pin.
    pub fn lamp(&self) -> Lamp {
        Lamp::new(self.clone())
    }

    /// The buzzer's pin.
    pub fn buzzer(&self) -> Buzzer {
        Buzzer::new(self.clone())
    }

    /// The pins of the eye's line of pixels.
    pub fn pixel_pins(&self) -> PixelPins {
        PixelPins::new(self.clone())
    }

    /// The eye's line of pixels: its constants, and what is wrong with it.
    pub fn pixel_line<R>(&self, f: impl FnOnce(&mut Line) -> R) -> R {
        f(&mut self.world().line)
    }

    /// What the eye's line of pixels gives at `now_us` after an exposure between two times, us.
    pub fn pixel_scan(&self, now_us: u64, from_us: f64, to_us: f64) -> Scan {
        let mut world = self.world();
        world.advance_to(now_us);
        let World { scene, line, powered, last_scan, .. } = &mut *world;
        if !*powered || scene.has(Fault::PixelsUnplugged) {
            return [0; PIXELS];
        }
        if let Some(scan) = last_scan.filter(|_| scene.has(Fault::PixelsFrozen)) {
            return scan;
        }
        // As things were in the exposure's middle.
        let light = scene.eye_light(f64::midpoint(from_us, to_us).max(0.0) as u64);
        let mut scan = line.scan(&light, from_us, to_us);
        if scene.is_wired(Wiring::PixelsUpsideDown) {
            scan.reverse();
        }
        if scene.is_wired(Wiring::PixelClock) {
            scan = line.held(line.dark_v);
        }
        if scene.is_wired(Wiring::PixelsAtStop) {
            scan = line.held(line.stop_v);
        }
        *last_scan = Some(scan);
        scan
    }

    /// A start or repeated start on I2C at `now_us`, with a seven-bit address; `true` if
    /// acknowledged.
    pub fn i2c_start(&self, now_us: u64, address: u8, write: bool) -> bool {
        let mut world = self.world();
        world.advance_to(now_us);
        world.start(address, write)
    }

    /// A byte from the master on I2C; `true` if acknowledged.
    pub fn i2c_write(&self, now_us: u64, byte: u8) -> bool {
        let mut world = self.world();
        world.advance_to(now_us);
        world.write_byte(byte)
    }

    /// A byte to the master on I2C.
    pub fn i2c_read(&self, now_us: u64) -> u8 {
        let mut world = self.world();
        world.advance_to(now_us);
        world.read_byte()
    }

    /// A stop on I2C.
    pub fn i2c_stop(&self, now_us: u64) {
        let mut world = self.world();
        world.advance_to(now_us);
        world.stop();
    }

    /// Whether the I2C lines are held low.
    pub fn i2c_is_stuck(&self) -> bool {
        self.world().bus_is_stuck()
    }

    /// Chip select of the inclinometer; `true` selects.
    pub fn spi_select(&self, now_us: u64, selected: bool) {
        let mut world = self.world();
        world.advance_to(now_us);
        world.select(selected);
    }

    /// One byte both ways on SPI.
    pub fn spi_exchange(&self, now_us: u64, byte: u8) -> u8 {
        let mut world = self.world();
        world.advance_to(now_us);
        world.exchange(byte)
    }

    /// Level of the converter's ALERT/RDY at `now_us`; `true` is high.
    pub fn ready_level(&self, now_us: u64) -> bool {
        let mut world = self.world();
        world.advance_to(now_us);
        world.ready_pin()
    }

    /// Whether the button is pressed.
    pub fn button_is_pressed(&self) -> bool {
        let world = self.world();
        let wired = |wiring| world.scene.is_wired(wiring);
        !wired(Wiring::ButtonOpen) && (world.button_pressed || wired(Wiring::ButtonStuck))
    }
}
