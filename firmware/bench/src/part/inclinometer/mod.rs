//! The two-axis inclinometer: an SCL3300 at register level.
//!
//! Frames are 32 bits, most significant first: operation (write flag, register, return status), 16
//! bits of data, CRC-8. The answer to a request comes with the next frame. Requests, replies and
//! the CRC are checked against the published frames of `tests/data/scl3300_frames.csv`; the return
//! status and the status words of the start-up follow them. The bits of the status and error words
//! are those that the driver crate `scl3300` 0.5 names. From memory of the data sheet: the 2 kHz
//! inner rate, noise density, first-order low-pass, the length of a reset. Angle registers follow
//! the formulas of the Linux driver for this part (`ANG_X = atan2(X, sqrt(Y^2 + Z^2))`, and so on
//! in turn).

mod frame;

use super::Motion;
use crate::noise::Noise;
use frame::{crc8, frame};

const ACC_X: u8 = 0x01;
const SELF_TEST: u8 = 0x04;
const TEMPERATURE: u8 = 0x05;
const STATUS: u8 = 0x06;
const ERROR_1: u8 = 0x07;
const ERROR_2: u8 = 0x08;
const ANGLE_X: u8 = 0x09;
const ANGLE_ENABLE: u8 = 0x0C;
const COMMAND: u8 = 0x0D;
const WHO_AM_I: u8 = 0x10;
const SERIAL_1: u8 = 0x19;
const SERIAL_2: u8 = 0x1A;
const SELECT_BANK: u8 = 0x1F;

const COMMAND_POWER_DOWN: u16 = 0x04;
const COMMAND_RESET: u16 = 0x20;

/// Status word: the supply came up. The published start-up frames carry it with the mode change.
const STATUS_POWER: u16 = 1 << 4;
const STATUS_MODE_CHANGED: u16 = 1 << 1;
const STATUS_POWERED_DOWN: u16 = 1 << 2;
const STATUS_SATURATED: u16 = 1 << 6;
const STATUS_TEMPERATURE: u16 = 1 << 5;
const STATUS_DIGITAL: u16 = 1 << 9;

/// Reset to first answer, us: reading its own memory (data sheet, from memory: 1 ms after a
/// software reset).
pub const RESET_US: u64 = 1_000;
/// Inner sampling period, us.
const STEP_US: u64 = 500;
/// After a longer gap only the last second is run: the low-pass has forgotten what came before.
const LONGEST_CATCH_UP_US: u64 = 1_000_000;
/// Noise density of one axis, g per root hertz (0.001 degrees per root hertz, data sheet, from
/// memory).
const NOISE_G_PER_ROOT_HZ: f64 = 17.5e-6;

/// What a faulty inclinometer puts on the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum InclinometerFault {
    /// None.
    #[default]
    None,
    /// The line stays low: all bytes 0x00.
    Low,
    /// The line stays high, as when the part is unplugged from a pulled-up line: all bytes 0xFF.
    High,
    /// Every reply has a wrong CRC.
    Checksum,
    /// One reply in so many has a wrong CRC; 0 means none.
    ChecksumOneIn(u32),
    /// Return status 2, a reserved value, in every reply.
    StatusTwo,
    /// Return status 3 (error) in every reply; the status word shows a saturated element.
    StatusError,
    /// Return status 0 (starting up) in every reply: the start never ends.
    StatusStartUp,
    /// The self-test output stands beyond every mode's limit.
    SelfTest,
    /// Accelerations, angles and temperature no longer change.
    Frozen,
}

/// An SCL3300.
#[derive(Debug, Clone)]
pub struct Inclinometer {
    serial: [u16; 2],
    noise: Noise,
    fault: InclinometerFault,
    mode: u8,
    bank: u8,
    angles_enabled: u16,
    powered_down: bool,
    ready_us: u64,
    live: u16,
    latched: u16,
    filtered_g: [f64; 3],
    primed: bool,
    temperature_c: f64,
    now_us: u64,
    reply: [u8; 4],
    request: [u8; 4],
    position: usize,
    selected: bool,
    frames: u64,
}

impl Inclinometer {
    /// A part just powered up at `now_us`. `serial` holds the SERIAL1 and SERIAL2 registers; `seed`
    /// its noise.
    pub fn new(serial: [u16; 2], seed: u64, now_us: u64) -> Self {
        let mut part = Self {
            serial,
            noise: Noise::new(seed, 40),
            fault: InclinometerFault::None,
            mode: 1,
            bank: 0,
            angles_enabled: 0,
            powered_down: false,
            ready_us: 0,
            live: 0,
            latched: 0,
            filtered_g: [0.0; 3],
            primed: false,
            temperature_c: 25.0,
            now_us,
            reply: [0; 4],
            request: [0; 4],
            position: 0,
            selected: false,
            frames: 0,
        };
        part.reset();
        part
    }

    /// Power lost and back at `now_us`.
    pub fn power_cycle(&mut self, now_us: u64) {
        self.now_us = self.now_us.max(now_us);
        self.reset();
        self.primed = false;
        self.selected = false;
    }

    /// Sets what is wrong with the part.
    pub fn set_fault(&mut self, fault: InclinometerFault) {
        self.fault = fault;
    }

    /// Carries sampling and low-pass on to `now_us`.
    pub fn advance_to(&mut self, now_us: u64, motion: &mut dyn Motion) {
        if self.powered_down {
            self.now_us = self.now_us.max(now_us);
            return;
        }
        let earliest_us = now_us.saturating_sub(LONGEST_CATCH_UP_US) / STEP_US * STEP_US;
        let mut step_us = (self.now_us / STEP_US * STEP_US).max(earliest_us) + STEP_US;
        let cut_off_hz = match self.mode {
            1 => 40.0,
            2 => 70.0,
            _ => 10.0,
        };
        let share = 1.0 - (-core::f64::consts::TAU * cut_off_hz * STEP_US as f64 * 1e-6).exp();
        // White noise of this density, sampled at 1 / STEP_US, has this much in each sample.
        let sample_g = NOISE_G_PER_ROOT_HZ * (0.5e6 / STEP_US as f64).sqrt();
        while step_us <= now_us {
            let felt_g = motion.acceleration_g(step_us);
            if self.fault != InclinometerFault::Frozen {
                for (filtered_g, felt_g) in self.filtered_g.iter_mut().zip(felt_g) {
                    let sample_g = felt_g + self.noise.normal(sample_g);
                    *filtered_g += (sample_g - *filtered_g) * if self.primed { share } else { 1.0 };
                }
                self.primed = true;
            }
            step_us += STEP_US;
        }
        if self.fault != InclinometerFault::Frozen {
            self.temperature_c = motion.temperature_c(now_us);
        }
        self.now_us = self.now_us.max(now_us);
    }

    /// Chip select: `true` selects. A frame cut short by a deselect is dropped.
    pub fn select(&mut self, selected: bool) {
        self.selected = selected;
        self.position = 0;
    }

    /// One byte both ways. Call [`Self::advance_to`] first. The fourth byte of a frame carries the
    /// request out.
    pub fn exchange_byte(&mut self, byte: u8) -> u8 {
        if !self.selected {
            return 0xFF;
        }
        match self.fault {
            InclinometerFault::Low => return 0x00,
            InclinometerFault::High => return 0xFF,
            _ => {}
        }
        // Bytes beyond the frame fall out of the shift register unheard.
        if self.position >= 4 {
            return 0x00;
        }
        self.request[self.position] = byte;
        let answer = self.reply[self.position];
        self.position += 1;
        if self.position == 4 {
            self.reply = self.respond(self.request);
        }
        answer
    }

    /// Whole frames carried out since the part was made.
    pub fn frames(&self) -> u64 {
        self.frames
    }

    fn reset(&mut self) {
        self.mode = 1;
        self.bank = 0;
        self.angles_enabled = 0;
        self.powered_down = false;
        self.ready_us = self.now_us + RESET_US;
        self.live = STATUS_POWER | STATUS_MODE_CHANGED;
        self.latched = self.live;
        self.reply = frame(0, 0, 0);
    }

    fn return_status(&self) -> u8 {
        match self.fault {
            InclinometerFault::StatusTwo => 2,
            InclinometerFault::StatusError => 3,
            InclinometerFault::StatusStartUp => 0,
            _ if self.now_us < self.ready_us => 0,
            _ if self.live != 0 => 3,
            _ => 1,
        }
    }

    fn respond(&mut self, request: [u8; 4]) -> [u8; 4] {
        self.frames += 1;
        if crc8(&request[..3]) != request[3] {
            self.live |= STATUS_DIGITAL;
            self.latched |= STATUS_DIGITAL;
            return self.spoil(frame(0, self.return_status(), 0));
        }
        let [operation, high, low, _] = request;
        let register = operation >> 2 & 0x1F;
        let status = self.return_status();
        let data = if operation & 0x80 != 0 {
            let data = u16::from_be_bytes([high, low]);
            self.write(register, data);
            data
        } else {
            self.read(register)
        };
        self.spoil(frame(operation & 0xFC, status, data))
    }

    fn spoil(&mut self, mut reply: [u8; 4]) -> [u8; 4] {
        let spoilt = match self.fault {
            InclinometerFault::Checksum => true,
            InclinometerFault::ChecksumOneIn(n) => {
                n > 0 && self.frames.is_multiple_of(u64::from(n))
            }
            _ => false,
        };
        if spoilt {
            reply[3] ^= 1 << (self.frames % 8);
        }
        reply
    }

    fn write(&mut self, register: u8, data: u16) {
        match register {
            COMMAND if data & COMMAND_RESET != 0 => self.reset(),
            COMMAND if data & COMMAND_POWER_DOWN != 0 => {
                self.powered_down = true;
                self.raise(STATUS_POWERED_DOWN);
            }
            COMMAND => {
                self.mode = (data & 0b11) as u8 + 1;
                if self.powered_down {
                    self.powered_down = false;
                    self.primed = false;
                }
                self.raise(STATUS_MODE_CHANGED);
            }
            ANGLE_ENABLE => self.angles_enabled = data,
            SELECT_BANK => self.bank = (data & 1) as u8,
            _ => {}
        }
    }

    fn raise(&mut self, flags: u16) {
        self.live |= flags;
        self.latched |= flags;
    }

    fn read(&mut self, register: u8) -> u16 {
        if self.bank == 1 {
            return match register {
                SERIAL_1 => self.serial[0],
                SERIAL_2 => self.serial[1],
                SELECT_BANK => 1,
                STATUS => self.read_status(),
                _ => 0,
            };
        }
        match register {
            ACC_X..=0x03 => (self.filtered_g[usize::from(register - ACC_X)] * self.codes_per_g())
                .round()
                .clamp(-32_768.0, 32_767.0) as i16 as u16,
            SELF_TEST => self.self_test() as u16,
            TEMPERATURE => {
                ((self.temperature_c + 273.0) * 18.9).round().clamp(0.0, 65_535.0) as u16
            }
            STATUS => self.read_status(),
            ERROR_1 => u16::from(self.fault == InclinometerFault::StatusError) << 10,
            ERROR_2 => {
                u16::from(self.live & STATUS_MODE_CHANGED != 0) << 9
                    | u16::from(self.powered_down) << 8
                    | u16::from(self.live & STATUS_POWER != 0) << 4
            }
            ANGLE_X..=0x0B if self.angles_enabled & 0x1F == 0x1F => {
                self.angle(usize::from(register - ANGLE_X))
            }
            ANGLE_ENABLE => self.angles_enabled,
            COMMAND => {
                u16::from(self.mode - 1) | if self.powered_down { COMMAND_POWER_DOWN } else { 0 }
            }
            WHO_AM_I => 0xC1,
            SELECT_BANK => 0,
            _ => 0,
        }
    }

    /// Reading clears what the return status shows at once; the word itself shows it once more. So
    /// the published start-up frames have it: 1B0012, then 190012, then 190000.
    fn read_status(&mut self) -> u16 {
        let mut word = self.latched;
        if self.live == 0 {
            self.latched = 0;
        }
        self.live = 0;
        if self.fault == InclinometerFault::StatusError {
            word |= STATUS_SATURATED;
        }
        if !(-40.0..=125.0).contains(&self.temperature_c) {
            word |= STATUS_TEMPERATURE;
        }
        word
    }

    fn codes_per_g(&self) -> f64 {
        match self.mode {
            1 => 6_000.0,
            2 => 3_000.0,
            _ => 12_000.0,
        }
    }

    fn self_test(&mut self) -> i16 {
        let offset = if self.fault == InclinometerFault::SelfTest { 5_000.0 } else { 0.0 };
        (offset + self.noise.normal(60.0)).round() as i16
    }

    fn angle(&self, axis: usize) -> u16 {
        let [along, a, b] = [0, 1, 2].map(|k| self.filtered_g[(axis + k) % 3]);
        let degrees = along.atan2(a.hypot(b)).to_degrees();
        (degrees / 90.0 * 16_384.0).round() as i16 as u16
    }
}

#[cfg(test)]
mod tests;
