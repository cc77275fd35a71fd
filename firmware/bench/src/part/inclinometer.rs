//! The two-axis inclinometer: an SCL3300 at register level.
//!
//! Frames are 32 bits, most significant first: operation (write flag, register, return status), 16 bits of data, CRC-8.
//! The answer to a request comes with the next frame. Requests, replies and the CRC are checked against the
//! published frames of `tests/data/scl3300_frames.csv`; the return status and the status words of the start-up follow them.
//! The bits of the status and error words are those that the driver crate `scl3300` 0.5 names. From memory of the data
//! sheet: the 2 kHz inner rate, noise density, first-order low-pass, the length of a reset. Angle registers follow the formulas of the Linux driver for this part
//! (`ANG_X = atan2(X, sqrt(Y^2 + Z^2))`, and so on in turn).

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

/// Reset to first answer, us: reading its own memory (data sheet, from memory: 1 ms after a software reset).
pub const RESET_US: u64 = 1_000;
/// Inner sampling period, us.
const STEP_US: u64 = 500;
/// After a longer gap only the last second is run: the low-pass has forgotten what came before.
const LONGEST_CATCH_UP_US: u64 = 1_000_000;
/// Noise density of one axis, g per root hertz (0.001 degrees per root hertz, data sheet, from memory).
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
    /// A part just powered up at `now_us`. `serial` holds the SERIAL1 and SERIAL2 registers; `seed` its noise.
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

    /// One byte both ways. Call [`Self::advance_to`] first. The fourth byte of a frame carries the request out.
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
            InclinometerFault::ChecksumOneIn(n) => n > 0 && self.frames.is_multiple_of(u64::from(n)),
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
            TEMPERATURE => ((self.temperature_c + 273.0) * 18.9).round().clamp(0.0, 65_535.0) as u16,
            STATUS => self.read_status(),
            ERROR_1 => u16::from(self.fault == InclinometerFault::StatusError) << 10,
            ERROR_2 => {
                u16::from(self.live & STATUS_MODE_CHANGED != 0) << 9
                    | u16::from(self.powered_down) << 8
                    | u16::from(self.live & STATUS_POWER != 0) << 4
            }
            ANGLE_X..=0x0B if self.angles_enabled & 0x1F == 0x1F => self.angle(usize::from(register - ANGLE_X)),
            ANGLE_ENABLE => self.angles_enabled,
            COMMAND => u16::from(self.mode - 1) | if self.powered_down { COMMAND_POWER_DOWN } else { 0 },
            WHO_AM_I => 0xC1,
            SELECT_BANK => 0,
            _ => 0,
        }
    }

    /// Reading clears what the return status shows at once; the word itself shows it once more. So the published start-up
    /// frames have it: 1B0012, then 190012, then 190000.
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
mod tests {
    use super::frame::crc8;
    use super::frame::tests::rows;
    use super::{Inclinometer, InclinometerFault, RESET_US};
    use crate::part::Motion;
    use proptest::prelude::*;

    struct Still([f64; 3], f64);

    impl Motion for Still {
        fn acceleration_g(&mut self, _: u64) -> [f64; 3] {
            self.0
        }
        fn temperature_c(&mut self, _: u64) -> f64 {
            self.1
        }
    }

    fn transfer(part: &mut Inclinometer, request: u32) -> u32 {
        part.select(true);
        let reply = request.to_be_bytes().map(|byte| part.exchange_byte(byte));
        part.select(false);
        u32::from_be_bytes(reply)
    }

    fn started(motion: &mut Still) -> Inclinometer {
        let mut part = Inclinometer::new([0xF7DA, 0x3CE5], 1, 0);
        part.advance_to(RESET_US, motion);
        for request in [0xB400_0338, 0xB000_1F6F] {
            transfer(&mut part, request);
        }
        part.advance_to(500_000, motion);
        for _ in 0..3 {
            transfer(&mut part, 0x1800_00E5);
        }
        part
    }

    fn value(part: &mut Inclinometer, request: u32) -> i16 {
        transfer(part, request);
        (transfer(part, request) >> 8) as u16 as i16
    }

    #[test]
    fn every_published_request_is_answered_by_its_own_operation() {
        let mut part = started(&mut Still([0.0, 0.0, 1.0], 20.0));
        for (_, word, _, _) in rows().filter(|row| row.0 && row.1 != 0xB400_2098) {
            transfer(&mut part, word);
            let reply = transfer(&mut part, 0x1800_00E5);
            assert_eq!(reply >> 26, word >> 26, "{word:08X}");
            assert_eq!(crc8(&reply.to_be_bytes()[..3]), reply.to_be_bytes()[3]);
        }
    }

    /// The start-up of the published frames: replies B3001FE3, 1B00129E, 1900129D, 1900006A, 4100C136 in that order.
    #[test]
    fn start_up_and_status_clearing_give_the_published_frames() {
        let mut motion = Still([0.0, 0.0, 1.0], 20.0);
        let mut part = Inclinometer::new([0, 0], 1, 0);
        transfer(&mut part, 0xB400_0338);
        assert_eq!(transfer(&mut part, 0xB400_0338) >> 24 & 3, 0, "still starting up");
        part.advance_to(RESET_US, &mut motion);
        transfer(&mut part, 0xB000_1F6F);
        assert_eq!(transfer(&mut part, 0x1800_00E5), 0xB300_1FE3);
        assert_eq!(transfer(&mut part, 0x1800_00E5), 0x1B00_129E);
        assert_eq!(transfer(&mut part, 0x1800_00E5), 0x1900_129D);
        assert_eq!(transfer(&mut part, 0x4000_0091), 0x1900_006A);
        assert_eq!(transfer(&mut part, 0x4000_0091), 0x4100_C136);
    }

    /// Serial registers F7DA, 3CE5 and bank selection: crate `scl3300` 0.5.
    #[test]
    fn serial_number_is_in_bank_one_only() {
        let mut part = started(&mut Still([0.0, 0.0, 1.0], 20.0));
        assert_eq!(value(&mut part, 0x6400_00A7), 0);
        transfer(&mut part, 0xFC00_016E);
        assert_eq!(value(&mut part, 0x6400_00A7) as u16, 0xF7DA);
        assert_eq!(value(&mut part, 0x6800_00AD) as u16, 0x3CE5);
        transfer(&mut part, 0xFC00_0073);
        assert_eq!(transfer(&mut part, 0x4000_0091), 0xFD00_00FC);
    }

    /// One set of published replies: X, Y, Z -26, 141, 11888 (12 000 a g), angles -23, 123, 16257 (90 degrees is 16384),
    /// temperature 5652. They were taken one after the other, so noise lies between them: 0.02 degrees.
    #[test]
    fn accelerations_angles_and_temperature_agree_with_published_replies() {
        let felt = [-26.0, 141.0, 11_888.0].map(|code: f64| code / 12_000.0);
        let mut part = started(&mut Still(felt, 5652.0 / 18.9 - 273.0));
        for (request, published, tolerance) in [
            (0x0400_00F7, -26, 6),
            (0x0800_00FD, 141, 6),
            (0x0C00_00FB, 11_888, 6),
            (0x2400_00C7, -23, 4),
            (0x2800_00CD, 123, 4),
            (0x2C00_00CB, 16_257, 4),
            (0x1400_00EF, 5652, 0),
        ] {
            let got = value(&mut part, request);
            assert!((got - published).abs() <= tolerance, "{request:08X}: {got} {published}");
        }
    }

    #[test]
    fn low_pass_answers_a_step_within_its_time_constant() {
        let mut motion = Still([0.0, 0.0, 1.0], 20.0);
        let mut part = started(&mut motion);
        motion.0 = [0.1, 0.0, 1.0];
        // 10 Hz: 15.9 ms to 63.2 %.
        part.advance_to(515_915, &mut motion);
        let share = f64::from(value(&mut part, 0x0400_00F7)) / 1200.0;
        assert!((share - 0.632).abs() < 0.03, "{share}");
    }

    #[test]
    fn angle_noise_is_that_of_its_density_behind_the_low_pass() {
        let mut motion = Still([0.0, 0.0, 1.0], 20.0);
        let mut part = started(&mut motion);
        let angles: Vec<f64> = (1..=3000u64)
            .map(|k| {
                part.advance_to(500_000 + k * 50_000, &mut motion);
                f64::from(value(&mut part, 0x2400_00C7)) * 90.0 / 16_384.0
            })
            .collect();
        let rms = (angles.iter().map(|a| a * a).sum::<f64>() / angles.len() as f64).sqrt();
        // 0.001 degrees per root hertz over 10 Hz times pi/2, and the register's step.
        let expected = (1e-6 * 10.0 * core::f64::consts::FRAC_PI_2 + (90.0 / 16_384.0f64).powi(2) / 12.0).sqrt();
        assert!((rms / expected - 1.0).abs() < 0.1, "{rms} {expected}");
    }

    #[test]
    fn faults_show_on_the_wire_as_named() {
        let mut motion = Still([0.0, 0.0, 1.0], 20.0);
        let mut part = started(&mut motion);
        let ask = |part: &mut Inclinometer, fault| {
            part.set_fault(fault);
            transfer(part, 0x2400_00C7);
            transfer(part, 0x2400_00C7).to_be_bytes()
        };
        assert_eq!(ask(&mut part, InclinometerFault::Low), [0; 4]);
        assert_eq!(ask(&mut part, InclinometerFault::High), [0xFF; 4]);
        let spoilt = ask(&mut part, InclinometerFault::Checksum);
        assert_ne!(crc8(&spoilt[..3]), spoilt[3]);
        assert_eq!(ask(&mut part, InclinometerFault::StatusTwo)[0] & 3, 2);
        assert_eq!(ask(&mut part, InclinometerFault::StatusError)[0] & 3, 3);
        assert_eq!(ask(&mut part, InclinometerFault::StatusStartUp)[0] & 3, 0);
        assert_eq!(ask(&mut part, InclinometerFault::None)[0] & 3, 1);
        // Limit of the self-test in modes 3 and 4: 3600 (crate `scl3300` 0.5).
        assert!(value(&mut part, 0x1000_00E9).abs() < 900);
        part.set_fault(InclinometerFault::SelfTest);
        assert!(value(&mut part, 0x1000_00E9) > 3600);
        part.set_fault(InclinometerFault::Frozen);
        let held = value(&mut part, 0x0400_00F7);
        motion.0 = [0.5, 0.0, 0.8];
        part.advance_to(2_000_000, &mut motion);
        assert_eq!(value(&mut part, 0x0400_00F7), held);
    }

    #[test]
    fn request_with_a_wrong_crc_or_cut_short_is_not_carried_out() {
        let mut part = started(&mut Still([0.0, 0.0, 1.0], 20.0));
        transfer(&mut part, 0xFC00_016F);
        assert_eq!(transfer(&mut part, 0x7C00_00B3) >> 24 & 3, 3);
        assert_eq!(transfer(&mut part, 0x7C00_00B3) >> 8 & 0xFFFF, 0);
        part.select(true);
        for byte in [0xFC, 0x00, 0x01] {
            part.exchange_byte(byte);
        }
        part.select(false);
        assert_eq!(value(&mut part, 0x7C00_00B3), 0);
    }

    #[test]
    fn power_down_and_reset_work_as_commands() {
        let mut motion = Still([0.0, 0.0, 1.0], 20.0);
        let mut part = started(&mut motion);
        transfer(&mut part, 0xB400_046B);
        assert_eq!(value(&mut part, 0x3400_00DF) & 4, 4);
        transfer(&mut part, 0xB400_001F);
        assert_eq!(value(&mut part, 0x3400_00DF), 0);
        transfer(&mut part, 0xB400_2098);
        transfer(&mut part, 0x4000_0091);
        assert_eq!(transfer(&mut part, 0x4000_0091) >> 24 & 3, 0);
        assert_eq!(value(&mut part, 0x2400_00C7), 0, "angles are off after a reset");
    }

    proptest! {
        #[test]
        fn any_bytes_leave_a_working_part(
            steps in prop::collection::vec((0u8..8, any::<u8>()), 0..300),
        ) {
            let mut motion = Still([0.0, 0.0, 1.0], 20.0);
            let mut part = started(&mut motion);
            for (step, byte) in steps {
                match step {
                    0 => part.select(true),
                    1 => part.select(false),
                    _ => { part.exchange_byte(byte); }
                }
            }
            transfer(&mut part, 0xB400_2098);
            part.advance_to(600_000, &mut motion);
            prop_assert_eq!(value(&mut part, 0x4000_0091), 0xC1);
        }
    }
}
