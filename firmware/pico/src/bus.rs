//! I2C0 as an `embedded-hal` bus whose waits are slept through: a transfer at 400 kHz takes 22 us a byte, which is 2 800
//! cycles. The general HAL waits for each byte awake, and waits for ever when a line is held low.
//!
//! Over 400 lines: one controller, whose registers no two files should know.

use crate::pins::{Scl, Sda};
use crate::sleep::{self, Lines};
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::InputPin;
use embedded_hal::i2c::{ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};
use rp2040_hal::Timer;
use rp2040_hal::fugit::{ExtU32, HertzU32};
use rp2040_hal::gpio::{OutputEnableOverride, OutputOverride};
use rp2040_hal::pac::{self, RESETS};
use rp2040_hal::timer::{Alarm, Alarm1};

/// Commands and answers that the controller can hold.
const FIFO_DEPTH: usize = 16;

/// What a transfer may take beyond its bytes, and for each byte (22.5 us at 400 kHz), before it is given up.
const PATIENCE_US: u32 = 500;
const PATIENCE_US_PER_BYTE: u32 = 60;

/// The bus's alarm goes off this late at most; it is set anew only when it has, as that costs more than a short transfer.
const ALARM_US: u32 = 10_000;

const WAKE: Lines = Lines::of(&[pac::Interrupt::I2C0_IRQ, pac::Interrupt::TIMER_IRQ_1]);

/// Why a transfer failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, defmt::Format)]
pub(crate) enum Error {
    /// No part acknowledged its address.
    NoAddress,
    /// A part acknowledged its address and then refused a byte.
    NoData,
    /// Another master, or a disturbance.
    ArbitrationLost,
    /// A line is held low and nine clocks did not free it.
    Stuck,
    /// The controller did not come to an end.
    Timeout,
    /// A transfer without bytes: the controller has no such thing.
    Empty,
}

impl embedded_hal::i2c::Error for Error {
    fn kind(&self) -> ErrorKind {
        match self {
            Self::NoAddress => ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address),
            Self::NoData => ErrorKind::NoAcknowledge(NoAcknowledgeSource::Data),
            Self::ArbitrationLost => ErrorKind::ArbitrationLoss,
            Self::Stuck | Self::Timeout => ErrorKind::Bus,
            Self::Empty => ErrorKind::Other,
        }
    }
}

/// The bus.
pub(crate) struct Bus {
    i2c: pac::I2C0,
    sda: Sda,
    scl: Scl,
    timer: Timer,
    alarm: Alarm1,
    system_clock: HertzU32,
    trouble: Option<Error>,
}

/// A place in a transaction.
#[derive(Clone, Copy)]
struct Place {
    operation: usize,
    byte: usize,
}

impl Place {
    const START: Self = Self { operation: 0, byte: 0 };

    /// Steps over what is empty.
    fn settle(mut self, operations: &[Operation<'_>]) -> Option<Self> {
        while self.byte >= length(operations.get(self.operation)?) {
            self = Self { operation: self.operation + 1, byte: 0 };
        }
        Some(self)
    }
}

fn length(operation: &Operation<'_>) -> usize {
    match operation {
        Operation::Read(bytes) => bytes.len(),
        Operation::Write(bytes) => bytes.len(),
    }
}

fn is_read(operation: &Operation<'_>) -> bool {
    matches!(operation, Operation::Read(_))
}

impl Bus {
    /// The bus at 400 kHz. `alarm` is the bus's own: it ends a wait that nothing else ends.
    pub(crate) fn new(
        i2c: pac::I2C0,
        sda: Sda,
        scl: Scl,
        timer: Timer,
        mut alarm: Alarm1,
        system_clock: HertzU32,
        resets: &mut RESETS,
    ) -> Self {
        resets.reset().modify(|_, w| w.i2c0().set_bit());
        resets.reset().modify(|_, w| w.i2c0().clear_bit());
        while resets.reset_done().read().i2c0().bit_is_clear() {}
        alarm.enable_interrupt();
        let bus = Self { i2c, sda, scl, timer, alarm, system_clock, trouble: None };
        bus.configure();
        bus
    }

    fn configure(&self) {
        let i2c = &self.i2c;
        i2c.ic_enable().write(|w| w.enable().disabled());
        i2c.ic_con().write(|w| {
            w.speed().fast();
            w.master_mode().enabled();
            w.ic_slave_disable().slave_disabled();
            w.ic_restart_en().enabled();
            w.tx_empty_ctrl().enabled()
        });
        i2c.ic_intr_mask().write(|w| {
            #[expect(
                unsafe_code,
                reason = "a raw register value: every interrupt of the controller off"
            )]
            unsafe {
                w.bits(0)
            }
        });
        // The controller adds 1 cycle to the low count, and 7 and the spike length to the high count (RP2040 data sheet,
        // 4.3.14.1, from memory). At 125 MHz and 400 kHz: 188 cycles low (1.5 us), 125 high (1.0 us), spikes of 48 ns.
        let period = self.system_clock.to_Hz() / 400_000;
        let low = period * 3 / 5;
        let spike = self.system_clock.to_Hz() / 20_833_333;
        let high = period - low;
        let hold = self.system_clock.to_Hz() / 3_333_333;
        #[expect(
            unsafe_code,
            reason = "raw counts; the registers take any, and these keep the bus's timing"
        )]
        unsafe {
            i2c.ic_fs_scl_lcnt().write(|w| w.ic_fs_scl_lcnt().bits((low - 1) as u16));
            i2c.ic_fs_scl_hcnt().write(|w| w.ic_fs_scl_hcnt().bits((high - 7 - spike) as u16));
            i2c.ic_fs_spklen().write(|w| w.ic_fs_spklen().bits(spike as u8));
            i2c.ic_sda_hold().write(|w| w.ic_sda_tx_hold().bits(hold as u16));
            i2c.ic_tx_tl().write(|w| w.tx_tl().bits(4));
        }
        i2c.ic_enable().write(|w| w.enable().enabled());
    }

    fn lines_are_free(&self) -> bool {
        let high = |pin: Result<bool, core::convert::Infallible>| pin.unwrap_or(false);
        high(self.sda.as_input().is_high()) && high(self.scl.as_input().is_high())
    }

    /// Nine clocks and a stop: a part cut off in the middle of a byte lets go of the data line (I2C-bus specification
    /// UM10204, 3.1.16).
    fn free_lines(&mut self) {
        self.scl.set_output_override(OutputOverride::AlwaysLow);
        self.sda.set_output_override(OutputOverride::AlwaysLow);
        self.sda.set_output_enable_override(OutputEnableOverride::Disable);
        for _ in 0..9 {
            self.scl.set_output_enable_override(OutputEnableOverride::Enable);
            self.pause();
            self.scl.set_output_enable_override(OutputEnableOverride::Disable);
            self.pause();
        }
        self.sda.set_output_enable_override(OutputEnableOverride::Enable);
        self.pause();
        self.sda.set_output_enable_override(OutputEnableOverride::Disable);
        self.pause();
        self.scl.set_output_enable_override(OutputEnableOverride::Normal);
        self.sda.set_output_enable_override(OutputEnableOverride::Normal);
        self.scl.set_output_override(OutputOverride::DontInvert);
        self.sda.set_output_override(OutputOverride::DontInvert);
    }

    fn pause(&self) {
        let mut timer = self.timer;
        timer.delay_us(5);
    }

    fn run(&mut self, address: u8, operations: &mut [Operation<'_>]) -> Result<(), Error> {
        let bytes: usize = operations.iter().map(length).sum();
        if bytes == 0 {
            return Err(Error::Empty);
        }
        if !self.lines_are_free() {
            self.free_lines();
            if !self.lines_are_free() {
                self.tell(Err(Error::Stuck));
                return Err(Error::Stuck);
            }
        }
        self.address(address);
        let patience_us = PATIENCE_US + PATIENCE_US_PER_BYTE * bytes as u32;
        let outcome = if bytes <= FIFO_DEPTH {
            self.transfer_short(operations, bytes, patience_us)
        } else {
            self.transfer(operations, bytes, patience_us)
        };
        if matches!(outcome, Err(Error::Timeout | Error::Stuck)) {
            self.configure();
        }
        self.tell(outcome);
        outcome
    }

    /// Logs a trouble of the bus when it begins. A part that does not answer is no trouble of the bus: a memory that
    /// writes does not.
    fn tell(&mut self, outcome: Result<(), Error>) {
        let trouble =
            outcome.err().filter(|error| !matches!(error, Error::NoAddress | Error::NoData));
        if trouble != self.trouble {
            self.trouble = trouble;
            match trouble {
                Some(error) => defmt::warn!("bus: {}", error),
                None => defmt::info!("bus: free"),
            }
        }
    }

    fn address(&self, address: u8) {
        let i2c = &self.i2c;
        // The address register takes a value only while the controller is off; turning it off also empties its queues.
        i2c.ic_enable().write(|w| w.enable().disabled());
        i2c.ic_tar().write(|w| {
            #[expect(unsafe_code, reason = "a raw field value; an address is 7 bits wide")]
            unsafe {
                w.ic_tar().bits(u16::from(address & 0x7F))
            }
        });
        i2c.ic_enable().write(|w| w.enable().enabled());
        i2c.ic_clr_intr().read();
        i2c.ic_clr_tx_abrt().read();
    }

    /// A transfer that the queues hold whole: asked at once, slept through, fetched at once. All of the converter's are.
    fn transfer_short(
        &mut self,
        operations: &mut [Operation<'_>],
        bytes: usize,
        patience_us: u32,
    ) -> Result<(), Error> {
        let start_us = self.timer.get_counter_low();
        let mut left = bytes;
        let mut reading = None;
        for operation in operations.iter().filter(|operation| length(operation) > 0) {
            let read = is_read(operation);
            let mut turn = reading.is_some_and(|was: bool| was != read);
            reading = Some(read);
            for at in 0..length(operation) {
                left -= 1;
                let data = if let Operation::Write(bytes) = operation { bytes[at] } else { 0 };
                self.command(data, read, core::mem::take(&mut turn), left == 0);
            }
        }
        loop {
            let raw = self.i2c.ic_raw_intr_stat().read();
            let aborted = raw.tx_abrt().bit_is_set();
            if raw.stop_det().bit_is_set() {
                if aborted {
                    return Err(self.why_aborted());
                }
                break;
            }
            self.doze(start_us, patience_us, aborted, false)?;
        }
        for operation in operations {
            if let Operation::Read(bytes) = operation {
                for byte in bytes.iter_mut() {
                    *byte = self.i2c.ic_data_cmd().read().dat().bits();
                }
            }
        }
        Ok(())
    }

    fn command(&self, data: u8, read: bool, turn: bool, last: bool) {
        self.i2c.ic_data_cmd().write(|w| {
            w.cmd().bit(read).restart().bit(turn).stop().bit(last);
            #[expect(unsafe_code, reason = "a raw field value; any byte may be sent")]
            unsafe {
                w.dat().bits(data)
            }
        });
    }

    /// Sleeps until the controller has something to say, within the transfer's patience.
    fn doze(
        &mut self,
        start_us: u32,
        patience_us: u32,
        aborted: bool,
        more: bool,
    ) -> Result<(), Error> {
        if self.timer.get_counter_low().wrapping_sub(start_us) >= patience_us {
            return Err(if self.lines_are_free() { Error::Timeout } else { Error::Stuck });
        }
        self.i2c.ic_intr_mask().write(|w| {
            #[expect(
                unsafe_code,
                reason = "a raw register value: every interrupt off but those named next"
            )]
            unsafe {
                w.bits(0);
            }
            w.m_stop_det().bit(true).m_tx_abrt().bit(!aborted).m_tx_empty().bit(more)
        });
        if self.alarm.finished() {
            self.alarm.clear_interrupt();
            // An alarm less than an hour away cannot be refused.
            let _ = self.alarm.schedule(ALARM_US.micros());
        }
        sleep::until(WAKE);
        Ok(())
    }

    fn transfer(
        &mut self,
        operations: &mut [Operation<'_>],
        bytes: usize,
        patience_us: u32,
    ) -> Result<(), Error> {
        let mut asked = Place::START.settle(operations);
        let mut answered = Place::START;
        let (mut left_to_ask, mut unanswered) = (bytes, 0_usize);
        let mut reading = None;
        let start_us = self.timer.get_counter_low();
        loop {
            let raw = self.i2c.ic_raw_intr_stat().read();
            let aborted = raw.tx_abrt().bit_is_set();
            let stopped = raw.stop_det().bit_is_set();
            while self.i2c.ic_rxflr().read().rxflr().bits() > 0 {
                let byte = self.i2c.ic_data_cmd().read().dat().bits();
                answered = keep(operations, answered, byte);
                unanswered = unanswered.saturating_sub(1);
            }
            if aborted && stopped {
                return Err(self.why_aborted());
            }
            if stopped && left_to_ask == 0 && unanswered == 0 {
                return Ok(());
            }
            while let Some(place) = asked
                && !aborted
                && unanswered < FIFO_DEPTH
                && self.i2c.ic_status().read().tfnf().bit_is_set()
            {
                let operation = &operations[place.operation];
                let read = is_read(operation);
                let data = match operation {
                    Operation::Read(_) => 0,
                    Operation::Write(bytes) => bytes[place.byte],
                };
                let turn = reading.is_some_and(|was: bool| was != read);
                left_to_ask -= 1;
                self.command(data, read, turn, left_to_ask == 0);
                unanswered += usize::from(read);
                reading = Some(read);
                asked = Place { byte: place.byte + 1, ..place }.settle(operations);
            }
            self.doze(start_us, patience_us, aborted, asked.is_some())?;
        }
    }

    fn why_aborted(&self) -> Error {
        let source = self.i2c.ic_tx_abrt_source().read();
        let error = if source.abrt_7b_addr_noack().bit_is_set() {
            Error::NoAddress
        } else if source.abrt_txdata_noack().bit_is_set() {
            Error::NoData
        } else {
            Error::ArbitrationLost
        };
        self.i2c.ic_clr_tx_abrt().read();
        error
    }
}

/// Puts an answer where it belongs and says where the next one goes.
fn keep(operations: &mut [Operation<'_>], mut place: Place, answer: u8) -> Place {
    while let Some(operation) = operations.get_mut(place.operation) {
        if let Operation::Read(bytes) = operation
            && let Some(byte) = bytes.get_mut(place.byte)
        {
            *byte = answer;
            return Place { byte: place.byte + 1, ..place };
        }
        place = Place { operation: place.operation + 1, byte: 0 };
    }
    place
}

impl ErrorType for Bus {
    type Error = Error;
}

impl I2c for Bus {
    fn transaction(&mut self, address: u8, operations: &mut [Operation<'_>]) -> Result<(), Error> {
        self.run(address, operations)
    }
}
