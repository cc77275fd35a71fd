//! The line of pixels: start pulse and clock by pin and PWM, samples by the chip's own converter and DMA.
//!
//! Clock (TOP 499) and converter (a conversion every 192 of its cycles) come from one crystal, so only their start counts:
//! it is one routine, in memory, in one critical section, so that neither a flash cache nor an interrupt moves it. A
//! conversion then lies 1.14 us to 3.14 us after its pixel's clock edge, 0.86 us before the next.
//!
//! ```text
//! start  ___/~~~\_______________________________
//! clock  ______/~~~~~\_____/~~~~~\_____/~~~~~\__     a flush: the first as here, the others 0.256 us
//! sample         |########|  |########|              conversions of pixels 1 and 2
//! ```

use crate::pins;
use crate::sleep::{self, Lines};
use core::ptr;
use embedded_hal::digital::OutputPin;
use rp2040_hal::Timer;
use rp2040_hal::adc::{Adc, AdcPin};
use rp2040_hal::fugit::ExtU32;
use rp2040_hal::pac::{self, RESETS};
use rp2040_hal::pwm::{FreeRunning, Pwm4, Slice};
use rp2040_hal::timer::{Alarm, Alarm2};
use skimgauge_head::pixel_line::{Pins, Started};
use skimgauge_head::profile::{PIXELS, Scan};
use skimgauge_shared::reading::Absence;
use skimgauge_shared::units::Microseconds;

/// System clock cycles of a read's clock, and of a flush's: 4.000 us and 0.256 us at 125 MHz.
const READ_CYCLES: u32 = 500;
const FLUSH_CYCLES: u32 = 32;
const CYCLE_NS: u32 = 8;
/// The converter's cycles (48 MHz) from sample to sample: as long as a read's clock.
const CONVERTER_CYCLES: u16 = 192;
/// From here the clock's first edge is so many cycles away: the start pulse is up by then.
const BEFORE_EDGE: u32 = 40;
/// The converter is started so many cycles after the edge.
const TO_SAMPLE: u32 = 120;
/// The pixels and one clock more are through a flush after this; the alarm comes a little later.
const FLUSH_US: u32 = 4 + (PIXELS as u32 * FLUSH_CYCLES * CYCLE_NS).div_ceil(1_000) + 2;
/// And through a read.
const READ_US: u64 = (PIXELS as u64 + 1) * (READ_CYCLES * CYCLE_NS) as u64 / 1_000 + 1;
/// The clock's low half, with room to stop it there.
const LOW: core::ops::Range<u32> = READ_CYCLES / 2 + 10..READ_CYCLES - 60;
const WAKE: Lines = Lines::of(&[pac::Interrupt::TIMER_IRQ_2]);

/// The clock's slice: GPIO8 is its channel A.
const SLICE: usize = 4;

/// Registers that the start routine writes (RP2040 data sheet, 2.3.1.7, 4.5.3, 4.7.6, 4.9.6): set and clear aliases touch
/// nothing else.
const OUT_SET: *mut u32 = 0xD000_0014 as *mut u32;
const OUT_CLEAR: *mut u32 = 0xD000_0018 as *mut u32;
const COUNTER: *const u32 = (0x4005_0008 + 0x14 * SLICE) as *const u32;
const CLOCK_ON: *mut u32 = (0x4005_2000 + 0x14 * SLICE) as *mut u32;
const CONVERTER_ON: *mut u32 = 0x4004_E000 as *mut u32;
const START_MANY: u32 = 1 << 3;
const TIME: *const u32 = 0x4005_4028 as *const u32;
const START_PIN: u32 = 1 << 7;

/// The line at its pins.
pub(crate) struct Line {
    _start: pins::PixelStart,
    _clock: Slice<Pwm4, FreeRunning>,
    _pixels: AdcPin<pins::Pixels>,
    converter: pac::ADC,
    dma: pac::DMA,
    timer: Timer,
    alarm: Alarm2,
    /// Where the running read's samples go, and since when they do.
    samples: &'static mut Scan,
    reading: Option<Microseconds>,
}

/// What the line needs of the board.
pub(crate) struct Wires {
    pub(crate) start: pins::PixelStart,
    pub(crate) clock_pin: pins::PixelClock,
    pub(crate) clock: Slice<Pwm4, FreeRunning>,
    pub(crate) pixels: pins::Pixels,
    pub(crate) converter: pac::ADC,
    pub(crate) dma: pac::DMA,
    pub(crate) timer: Timer,
    pub(crate) alarm: Alarm2,
    pub(crate) samples: &'static mut Scan,
}

impl Line {
    /// At rest.
    pub(crate) fn new(wires: Wires, resets: &mut RESETS) -> Self {
        let Wires {
            mut start,
            clock_pin,
            mut clock,
            pixels,
            converter,
            dma,
            timer,
            mut alarm,
            samples,
        } = wires;
        let _ = start.set_low();
        clock.channel_a.output_to(clock_pin);
        let Ok(pixels) = AdcPin::new(pixels) else { panic!("the pixels' pin has no converter") };
        let converter = Adc::new(converter, resets).free();
        converter.cs().modify(|_, w| {
            #[expect(unsafe_code, reason = "a raw field value: the first input, GPIO26")]
            unsafe {
                w.ainsel().bits(0)
            }
        });
        converter.div().write(|w| {
            #[expect(
                unsafe_code,
                reason = "a raw field value: one less than the cycles of a sample"
            )]
            unsafe {
                w.int().bits(CONVERTER_CYCLES - 1)
            }
        });
        converter.fcs().write(|w| {
            #[expect(
                unsafe_code,
                reason = "a raw field value: ask for a transfer from the first sample on"
            )]
            unsafe { w.thresh().bits(1) }.en().set_bit().dreq_en().set_bit()
        });
        resets.reset().modify(|_, w| w.dma().set_bit());
        resets.reset().modify(|_, w| w.dma().clear_bit());
        while resets.reset_done().read().dma().bit_is_clear() {}
        alarm.enable_interrupt();
        let mut line = Self {
            _start: start,
            _clock: clock,
            _pixels: pixels,
            converter,
            dma,
            timer,
            alarm,
            samples,
            reading: None,
        };
        line.rest();
        line
    }

    fn clock() -> &'static pac::pwm::CH {
        #[expect(unsafe_code, reason = "this slice is the line's own")]
        unsafe {
            (*pac::PWM::ptr()).ch(SLICE)
        }
    }

    fn set_clock(cycles: u32) {
        #[expect(
            unsafe_code,
            reason = "raw counts; both take effect together when the counter wraps"
        )]
        unsafe {
            Self::clock().top().write(|w| w.bits(cycles - 1));
            Self::clock().cc().write(|w| w.bits(cycles / 2));
        }
    }

    /// Clock off, low, ready to be started just before its edge.
    fn rest(&mut self) {
        Self::set_clock(READ_CYCLES);
        critical_section::with(|_| {
            let clock = Self::clock();
            if clock.csr().read().en().bit_is_set() {
                // A fast clock cannot be stopped in its low half: by now it is a slow one, or about to be.
                while !LOW.contains(&clock.ctr().read().bits()) {}
            }
            clock.csr().modify(|_, w| w.en().clear_bit());
            #[expect(unsafe_code, reason = "a raw count, below the counter's end")]
            unsafe {
                clock.ctr().write(|w| w.bits(READ_CYCLES - BEFORE_EDGE));
            }
        });
    }

    /// A start pulse, and the clock runs.
    fn start(&self, sampling: bool) -> Started {
        let low_us = critical_section::with(|_| start_pulse(if sampling { START_MANY } else { 0 }));
        let now = self.timer.get_counter().ticks();
        // The pulse was less than an hour ago.
        let at = Microseconds(now - u64::from((now as u32).wrapping_sub(low_us)));
        Started { at, first_clock_ns: READ_CYCLES * CYCLE_NS, clock_ns: FLUSH_CYCLES * CYCLE_NS }
    }

    /// Throws away what the converter and its queue still hold: it would become the first pixel.
    fn empty_converter(&mut self) {
        self.converter.cs().modify(|_, w| w.start_many().clear_bit());
        while self.converter.cs().read().ready().bit_is_clear() {}
        while self.converter.fcs().read().empty().bit_is_clear() {
            self.converter.fifo().read();
        }
        self.converter.fcs().modify(|_, w| w.over().clear_bit_by_one().under().clear_bit_by_one());
    }

    fn fetch_samples(&mut self) {
        let channel = self.dma.ch(0);
        #[expect(
            unsafe_code,
            reason = "addresses for the DMA: `samples` is whole, is the line's own, and is read only once \
                                        the channel has come to rest"
        )]
        unsafe {
            channel.ch_read_addr().write(|w| w.bits(self.converter.fifo().as_ptr() as u32));
            channel.ch_write_addr().write(|w| w.bits(self.samples.as_mut_ptr() as u32));
            channel.ch_trans_count().write(|w| w.bits(PIXELS as u32));
            channel.ch_ctrl_trig().write(|w| {
                w.chain_to()
                    .bits(0)
                    .data_size()
                    .size_halfword()
                    .incr_write()
                    .set_bit()
                    .treq_sel()
                    .adc()
                    .en()
                    .set_bit()
            });
        }
    }
}

/// Raises the start pulse, starts the clock a little before its edge, takes the pulse back after it, and starts the
/// converter where a conversion lies between two edges; `converter` 0 starts none. The time of the edge, us.
#[expect(
    unsafe_code,
    reason = "in memory, where no flash cache moves it; the registers are the line's own or take bits singly"
)]
#[unsafe(link_section = ".data.start_pulse")]
#[inline(never)]
fn start_pulse(converter: u32) -> u32 {
    unsafe {
        ptr::write_volatile(OUT_SET, START_PIN);
        ptr::write_volatile(CLOCK_ON, 1);
        // The edge comes when the counter wraps.
        while ptr::read_volatile(COUNTER) >= READ_CYCLES / 2 {}
        let at = ptr::read_volatile(TIME);
        ptr::write_volatile(OUT_CLEAR, START_PIN);
        while ptr::read_volatile(COUNTER) < TO_SAMPLE {}
        ptr::write_volatile(CONVERTER_ON, converter);
        at
    }
}

impl Pins for Line {
    fn flush(&mut self) -> Result<Started, Absence> {
        let started = self.start(false);
        // From the second edge on.
        Self::set_clock(FLUSH_CYCLES);
        self.alarm.clear_interrupt();
        if self.alarm.schedule(FLUSH_US.micros()).is_ok() {
            while !self.alarm.finished() {
                sleep::until(WAKE);
            }
            self.alarm.clear_interrupt();
        }
        self.rest();
        Ok(started)
    }

    fn read(&mut self) -> Result<Started, Absence> {
        self.empty_converter();
        self.fetch_samples();
        let started = self.start(true);
        self.reading = Some(started.at);
        Ok(Started { clock_ns: READ_CYCLES * CYCLE_NS, ..started })
    }

    fn samples(&mut self, into: &mut Scan) -> Result<bool, Absence> {
        let Some(since) = self.reading else { return Ok(false) };
        let whole = self.timer.get_counter().ticks() - since.0 >= READ_US;
        if !whole || self.dma.ch(0).ch_ctrl_trig().read().busy().bit_is_set() {
            return Ok(false);
        }
        self.reading = None;
        self.rest();
        self.empty_converter();
        // What the DMA has written, no earlier look at this memory may stand for.
        core::sync::atomic::fence(core::sync::atomic::Ordering::SeqCst);
        into.copy_from_slice(&self.samples[..]);
        Ok(true)
    }
}
