//! The SCL3300 over SPI.
//!
//! Frames are 32 bits, each reply comes with the next request, and every reply carries a status and
//! a CRC-8. Written here because the crate `scl3300` 0.5 panics on status 2 and reads angles
//! without their sign.
//!
//! Start-up after the data sheet (from memory): reset, 1 ms; mode 4 (inclination, low noise, 10
//! Hz); angle outputs on; 100 ms to settle; the status read three times, of which the first two
//! clear what start-up set.

use crc::{CRC_8_SAE_J1850, Crc};
use embedded_hal::delay::DelayNs;
use embedded_hal::spi::SpiDevice;
use skimgauge_shared::calibration::temperature;
use skimgauge_shared::reading::{Absence, Sample};
use skimgauge_shared::units::{CentiCelsius, Microseconds};

// Poly 1Dh, init FFh, xorout FFh: the data sheet's CRC-8.
static CRC: Crc<u8, crc::NoTable> = Crc::<u8, crc::NoTable>::new(&CRC_8_SAE_J1850);

/// Between frames the select line stays high this long.
const BETWEEN_FRAMES_US: u32 = 10;

/// Beyond this the self-test output tells of a fault of the sensing element, in mode 4 (the driver
/// crate `scl3300` 0.5).
const SELF_TEST_LIMIT: u16 = 3_600;

/// After so many bad replies in a row the part is started anew.
const PATIENCE: u8 = 10;

/// Requests, contents first; the check byte is computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ask {
    AngleX,
    AngleY,
    Temperature,
    SelfTest,
    Status,
    WhoAmI,
    Reset,
    LowNoise,
    AnglesOn,
}

impl Ask {
    const fn frame(self) -> [u8; 3] {
        match self {
            Self::AngleX => [0x24, 0, 0],
            Self::AngleY => [0x28, 0, 0],
            Self::Temperature => [0x14, 0, 0],
            Self::SelfTest => [0x10, 0, 0],
            Self::Status => [0x18, 0, 0],
            Self::WhoAmI => [0x40, 0, 0],
            Self::Reset => [0xB4, 0, 0x20],
            Self::LowNoise => [0xB4, 0, 3],
            Self::AnglesOn => [0xB0, 0, 0x1F],
        }
    }
}

/// What the part answered to one request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Reply {
    status: u8,
    data: u16,
}

/// One good measurement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Angles {
    /// X angle code: level. The part's X points right, its Y into the board, its Z up.
    pub(crate) x: i16,
    /// Y angle code: lean.
    pub(crate) y: i16,
    /// Temperature of the part.
    pub(crate) temperature: CentiCelsius,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Reset,
    Configure,
    Settle,
    Running,
    Failed,
}

/// The inclinometer and its start-up.
pub(crate) struct Inclinometer<SPI, D> {
    spi: SPI,
    delay: D,
    state: State,
    /// Time of the next step of a start.
    step_at: Microseconds,
    /// Why it does not run: it starts for the first time, or what went wrong before it was started
    /// anew.
    because: Absence,
    bad_replies: u8,
    /// The last status word that the part gave.
    status: u16,
    /// Its bits that were set since somebody asked.
    status_seen: u16,
}

impl<SPI: SpiDevice, D: DelayNs> Inclinometer<SPI, D> {
    /// Not started: [`Self::step`] does it.
    pub(crate) fn new(spi: SPI, delay: D) -> Self {
        Self {
            spi,
            delay,
            state: State::Reset,
            step_at: Microseconds(0),
            because: Absence::Starting,
            bad_replies: 0,
            status: 0,
            status_seen: 0,
        }
    }

    /// When [`Self::step`] has something to do; `None` while it runs.
    pub(crate) fn next_deadline(&self) -> Option<Microseconds> {
        (self.state != State::Running).then_some(self.step_at)
    }

    /// Carries a start a step further, when its time has come.
    pub(crate) fn step(&mut self, now: Microseconds) {
        if now < self.step_at {
            return;
        }
        match self.state {
            State::Running => (),
            State::Reset | State::Failed => {
                let _ = self.exchange(Ask::Reset);
                self.wait(now, State::Configure, 2_000);
            }
            State::Configure => {
                let _ = self.exchange(Ask::LowNoise);
                let _ = self.exchange(Ask::AnglesOn);
                self.wait(now, State::Settle, 100_000);
            }
            State::Settle => {
                let _ = self.exchange(Ask::Status);
                let _ = self.exchange(Ask::Status);
                let _ = self.exchange(Ask::Status);
                let _ = self.exchange(Ask::WhoAmI);
                // This reply is the third status'; the identity comes with the next frame.
                let identity = self.exchange(Ask::Status);
                match identity.and_then(|reply| reply.good(Ask::WhoAmI)) {
                    Ok(0xC1) => self.state = State::Running,
                    Ok(_) => self.fail(now, Absence::NoAnswer),
                    Err(absence) => self.fail(now, absence),
                }
            }
        }
    }

    /// Angles and temperature, or why there are none.
    pub(crate) fn measure(&mut self, now: Microseconds) -> Sample<Angles> {
        if self.state != State::Running {
            return Sample::Absent(self.because);
        }
        match self.measure_now() {
            Ok(angles) => {
                self.bad_replies = 0;
                Sample::Value(angles)
            }
            Err(absence) => {
                self.bad_replies += 1;
                if self.bad_replies >= PATIENCE {
                    self.fail(now, absence);
                }
                Sample::Absent(absence)
            }
        }
    }

    fn measure_now(&mut self) -> Result<Angles, Absence> {
        // All five, whatever becomes of one: the last asks for the status, which says what is wrong,
        // and its answer comes with the next measurement's first.
        let status = self.exchange(Ask::AngleX);
        let x = self.exchange(Ask::AngleY);
        let y = self.exchange(Ask::Temperature);
        let warmth = self.exchange(Ask::SelfTest);
        let self_test = self.exchange(Ask::Status);
        if let Ok(word) = status.and_then(|reply| reply.data(Ask::Status)) {
            self.hear_status(word);
        }
        let x = x?.good(Ask::AngleX)?;
        let y = y?.good(Ask::AngleY)?;
        let warmth = warmth?.good(Ask::Temperature)?;
        if (self_test?.good(Ask::SelfTest)? as i16).unsigned_abs() > SELF_TEST_LIMIT {
            return Err(Absence::SelfTestFailed);
        }
        Ok(Angles { x: x as i16, y: y as i16, temperature: temperature(warmth) })
    }

    /// Every bit of the status word that was set since the last call, or is still.
    pub(crate) fn take_status(&mut self) -> u16 {
        core::mem::replace(&mut self.status_seen, self.status)
    }

    /// The part's own account of itself.
    fn hear_status(&mut self, word: u16) {
        self.status_seen |= word;
        if word != self.status {
            self.status = word;
            #[cfg(feature = "defmt")]
            match word {
                0 => defmt::info!("inclinometer: status clear"),
                _ => defmt::warn!("inclinometer: status {=u16:#06x}", word),
            }
        }
    }

    fn wait(&mut self, now: Microseconds, next: State, us: u64) {
        self.state = next;
        self.step_at = now.after(Microseconds(us));
    }

    fn fail(&mut self, now: Microseconds, absence: Absence) {
        self.bad_replies = 0;
        self.because = absence;
        self.wait(now, State::Failed, 50_000);
    }

    /// Sends a request, takes the reply to the one before.
    fn exchange(&mut self, ask: Ask) -> Result<Framed, Absence> {
        let [a, b, c] = ask.frame();
        let mut bytes = [a, b, c, CRC.checksum(&[a, b, c])];
        let sent = self.spi.transfer_in_place(&mut bytes);
        self.delay.delay_us(BETWEEN_FRAMES_US);
        sent.map_err(|_| Absence::NoAnswer)?;
        Ok(Framed(bytes))
    }
}

/// A reply as it came.
#[derive(Debug, Clone, Copy)]
struct Framed([u8; 4]);

impl Framed {
    /// The data, if the frame is whole, healthy, and the reply to `ask`.
    fn good(self, ask: Ask) -> Result<u16, Absence> {
        let reply = self.open()?;
        // Status 1: normal. 0: starting. 3: an error is flagged. 2 has no meaning in the data sheet
        // and is no health.
        match reply.status {
            1 => (),
            0 => return Err(Absence::Starting),
            _ => return Err(Absence::SelfTestFailed),
        }
        // The reply repeats the request's operation and address.
        if self.0[0] & 0xFC != ask.frame()[0] & 0xFC {
            return Err(Absence::FrameError);
        }
        Ok(reply.data)
    }

    /// The data, if the frame is whole and the reply to `ask`, whatever the part says of its health.
    fn data(self, ask: Ask) -> Result<u16, Absence> {
        let reply = self.open()?;
        let same = self.0[0] & 0xFC == ask.frame()[0] & 0xFC;
        if same { Ok(reply.data) } else { Err(Absence::FrameError) }
    }

    fn open(self) -> Result<Reply, Absence> {
        let [a, b, c, check] = self.0;
        match self.0 {
            // A line that nobody drives.
            [0, 0, 0, 0] | [0xFF, 0xFF, 0xFF, 0xFF] => Err(Absence::NoAnswer),
            _ if CRC.checksum(&[a, b, c]) != check => Err(Absence::FrameError),
            _ => Ok(Reply { status: a & 3, data: u16::from_be_bytes([b, c]) }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Frames and check bytes that the crate `scl3300` 0.5 carries in its own source and tests.
    #[test]
    fn requests_carry_the_published_check_bytes() {
        for (ask, check) in [
            (Ask::AngleX, 0xC7),
            (Ask::AngleY, 0xCD),
            (Ask::Temperature, 0xEF),
            (Ask::SelfTest, 0xE9),
            (Ask::Status, 0xE5),
            (Ask::WhoAmI, 0x91),
            (Ask::Reset, 0x98),
            (Ask::LowNoise, 0x38),
            (Ask::AnglesOn, 0x6F),
        ] {
            assert_eq!(CRC.checksum(&ask.frame()), check, "{ask:?}");
        }
    }

    #[test]
    fn replies_of_the_driver_crates_tests_are_read() {
        assert_eq!(Framed([0x25, 0xFF, 0xE9, 0x4E]).good(Ask::AngleX), Ok(0xFFE9));
        assert_eq!(Framed([0x29, 0x00, 0x7B, 0xD4]).good(Ask::AngleY), Ok(0x007B));
        assert_eq!(Framed([0x15, 0x16, 0x14, 0xD8]).good(Ask::Temperature), Ok(0x1614));
        assert_eq!(Framed([0x41, 0x00, 0xC1, 0x36]).good(Ask::WhoAmI), Ok(0xC1));
        assert_eq!(
            Framed([0x1B, 0x00, 0x12, 0x9E]).good(Ask::Status),
            Err(Absence::SelfTestFailed)
        );
    }

    /// The start-up status frame that the crate `scl3300` 0.5 carries in its tests has power and mode
    /// change set, and return status 3: its word is read all the same.
    #[test]
    fn a_status_word_is_read_whatever_the_return_status() {
        assert_eq!(Framed([0x1B, 0x00, 0x12, 0x9E]).data(Ask::Status), Ok(0x0012));
        assert_eq!(Framed([0x1B, 0x00, 0x12, 0x9F]).data(Ask::Status), Err(Absence::FrameError));
        assert_eq!(Framed([0x25, 0xFF, 0xE9, 0x4E]).data(Ask::Status), Err(Absence::FrameError));
    }

    #[test]
    fn a_reply_to_another_request_is_no_reply() {
        assert_eq!(Framed([0x25, 0xFF, 0xE9, 0x4E]).good(Ask::AngleY), Err(Absence::FrameError));
    }

    proptest! {
        #[test]
        fn no_frame_panics_and_a_bad_check_is_never_data(bytes in any::<[u8; 4]>()) {
            let framed = Framed(bytes);
            if let Ok(data) = framed.good(Ask::AngleX) {
                prop_assert_eq!(CRC.checksum(&bytes[..3]), bytes[3]);
                prop_assert_eq!(data, u16::from_be_bytes([bytes[1], bytes[2]]));
            }
        }

        #[test]
        fn one_flipped_bit_is_always_found(bit in 0..32_u32) {
            let good = u32::from_be_bytes([0x25, 0xFF, 0xE9, 0x4E]);
            let bad = (good ^ (1 << bit)).to_be_bytes();
            prop_assert!(Framed(bad).good(Ask::AngleX).is_err());
        }
    }
}
