//! The board: its clocks started, its pins and buses handed out, and the head's parts as they are wired to it.

use crate::bus::Bus;
use crate::buzzer::Pitch;
use crate::line::{Line, Wires};
use crate::log::Log;
use crate::pins::{self, Pins};
use crate::ready::ReadyLine;
use core::cell::{Cell, RefCell};
use core::marker::PhantomData;
use cortex_m::singleton;
use embedded_hal::digital::OutputPin;
use embedded_hal::spi::MODE_0;
use embedded_hal_bus::i2c::RefCellDevice;
use embedded_hal_bus::spi::ExclusiveDevice;
use rp2040_hal::clocks::{Clock, init_clocks_and_plls};
use rp2040_hal::fugit::{ExtU32, RateExtU32};
use rp2040_hal::pwm::Slices;
use rp2040_hal::spi::{Disabled, Enabled, Spi};
use rp2040_hal::timer::{Alarm, Alarm0};
use rp2040_hal::usb::UsbBus;
use rp2040_hal::{Sio, Timer, Watchdog, pac};
use skimgauge_head::profile::{PIXELS, Scan};
use skimgauge_head::{Hardware, Parts};

const CRYSTAL_HZ: u32 = 12_000_000;

/// A poll takes a few milliseconds at most, and the head is polled every 5 ms.
const WATCHDOG_MS: u32 = 500;

type TiltBus<S> = Spi<S, pac::SPI0, (pins::TiltMosi, pins::TiltMiso, pins::TiltClock), 8>;
type Inclinometer = ExclusiveDevice<TiltBus<Enabled>, pins::TiltSelect, Timer>;

/// The head's parts on this board.
pub(crate) struct Wired<'a>(PhantomData<&'a ()>);

impl<'a> Hardware for Wired<'a> {
    type Bus = RefCellDevice<'a, Bus>;
    type Ready = &'a ReadyLine;
    type Inclinometer = Inclinometer;
    type Delay = Timer;
    type Line = Line;
    type Button = pins::Button;
    type Lamp = pins::Lamp;
    type Buzzer = Pitch;
    type Log = Log<'a>;
}

/// What the head and the loop that serves it both look at.
pub(crate) struct Shared {
    /// Converter and memory are on it.
    pub(crate) bus: RefCell<Bus>,
    /// The converter's ready line.
    pub(crate) ready: ReadyLine,
    /// Somebody listens at the link.
    pub(crate) listened: Cell<bool>,
}

/// What is the head's alone.
pub(crate) struct Own {
    inclinometer: Inclinometer,
    line: Line,
    button: pins::Button,
    lamp: pins::Lamp,
    buzzer: Pitch,
}

/// The board, started.
pub(crate) struct Board {
    pub(crate) watchdog: Watchdog,
    pub(crate) timer: Timer,
    /// For the loop to wake at the head's next deadline.
    pub(crate) wake: Alarm0,
    pub(crate) shared: Shared,
    pub(crate) own: Own,
    pub(crate) usb: UsbBus,
    /// The distance sensor's laser, off.
    pub(crate) laser: pins::LaserEnable,
}

impl Board {
    /// Starts clocks and watchdog, and everything that is wired.
    #[allow(clippy::too_many_lines, reason = "a step after the other, each only once")]
    pub(crate) fn start(pac: pac::Peripherals) -> Self {
        let mut resets = pac.RESETS;
        let mut watchdog = Watchdog::new(pac.WATCHDOG);
        let clocks = init_clocks_and_plls(
            CRYSTAL_HZ,
            pac.XOSC,
            pac.CLOCKS,
            pac.PLL_SYS,
            pac.PLL_USB,
            &mut resets,
            &mut watchdog,
        );
        let Ok(clocks) = clocks else { panic!("the clocks do not start") };
        watchdog.start(WATCHDOG_MS.millis());
        let system_clock = clocks.system_clock.freq();
        let mut timer = Timer::new(pac.TIMER, &mut resets, &clocks);
        let pins =
            Pins::new(pac.IO_BANK0, pac.PADS_BANK0, Sio::new(pac.SIO).gpio_bank0, &mut resets);
        let (Some(mut wake), Some(patience)) = (timer.alarm_0(), timer.alarm_1()) else {
            panic!("an alarm was taken twice")
        };
        wake.enable_interrupt();

        let (sda, scl) = (pins.sda.reconfigure(), pins.scl.reconfigure());
        let bus = Bus::new(pac.I2C0, sda, scl, timer, patience, system_clock, &mut resets);
        let tilt_pins = (
            pins.tilt_mosi.reconfigure(),
            pins.tilt_miso.reconfigure(),
            pins.tilt_clock.reconfigure(),
        );
        let tilt_bus = TiltBus::<Disabled>::new(pac.SPI0, tilt_pins);
        let tilt_bus = tilt_bus.init(&mut resets, clocks.peripheral_clock.freq(), 2.MHz(), MODE_0);
        let mut select: pins::TiltSelect = pins.tilt_select.reconfigure();
        let _ = select.set_high();
        let Ok(inclinometer) = ExclusiveDevice::new(tilt_bus, select, timer);
        let ready = ReadyLine::new(pins.ready.reconfigure());
        let slices = Slices::new(pac.PWM, &mut resets);
        let (Some(flushed), Some(samples)) = (timer.alarm_2(), singleton!(: Scan = [0; PIXELS]))
        else {
            panic!("the line was taken twice")
        };
        let wires = Wires {
            start: pins.pixel_start.reconfigure(),
            clock_pin: pins.pixel_clock.reconfigure(),
            clock: slices.pwm4,
            pixels: pins.pixels.reconfigure(),
            converter: pac.ADC,
            dma: pac.DMA,
            timer,
            alarm: flushed,
            samples,
        };
        let line = Line::new(wires, &mut resets);
        let button = pins.button.reconfigure();
        let lamp = pins.lamp.reconfigure();
        let mut laser: pins::LaserEnable = pins.laser_enable.reconfigure();
        let _ = laser.set_low();
        let buzzer = Pitch::new(slices.pwm6, pins.buzzer.reconfigure(), system_clock);

        let shared = Shared { bus: RefCell::new(bus), ready, listened: Cell::new(false) };
        let own = Own { inclinometer, line, button, lamp, buzzer };
        let usb =
            UsbBus::new(pac.USBCTRL_REGS, pac.USBCTRL_DPRAM, clocks.usb_clock, true, &mut resets);
        Self { watchdog, timer, wake, shared, own, usb, laser }
    }
}

/// The head's parts.
pub(crate) fn parts(shared: &Shared, own: Own, timer: Timer) -> Parts<Wired<'_>> {
    Parts {
        converter: RefCellDevice::new(&shared.bus),
        memory: RefCellDevice::new(&shared.bus),
        ready: &shared.ready,
        inclinometer: own.inclinometer,
        delay: timer,
        line: own.line,
        button: own.button,
        lamp: own.lamp,
        buzzer: own.buzzer,
        log: Log { listened: &shared.listened },
    }
}
