//! A recording of as many readings as wanted: greeting, calibration, readings at 90 a second, a
//! pulse and a word of the sheet after every eighteen.

use skimgauge_session::recording::Recorder;
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
use skimgauge_shared::frame::{MAX_FRAME, encode};
use skimgauge_shared::light::{Light, LightState, Shape, Sheet, Trust};
use skimgauge_shared::message::{
    Answer, CalibrationCheck, Capabilities, Hello, PROTOCOL, Pulse, Rate, Report, ResetCause,
    SCHEMA, SerialNumber, Token, Version,
};
use skimgauge_shared::reading::{Reading, Sample, TiltSteps};
use skimgauge_shared::units::{CentiCelsius, Microdegrees, Micrometres, Microseconds, Millivolts};
use std::io::{self, Write};
use std::time::Duration;

/// From reading to reading.
pub const PERIOD_US: u64 = 11_111;
/// Readings from pulse to pulse.
pub const PULSE_EVERY: u32 = 18;
const RATE: Rate = Rate { per_second: 90, conversions: 8 };

/// Keeps what a recorder would send at once: a recording is not listened to while it is made.
struct Unhurried<W>(W);

impl<W: Write> Write for Unhurried<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The head of the recording.
pub fn hello() -> Hello {
    Hello {
        protocol: PROTOCOL,
        schema: SCHEMA,
        firmware: Version { major: 0, minor: 1, patch: 0 },
        serial: Some(SerialNumber(*b"stream of tests.")),
        reset: ResetCause::Power,
        capabilities: Capabilities::BUZZER,
        at: Microseconds(1_000_000),
        made: 0,
        rate: RATE,
        calibration: CalibrationCheck::Good,
        token: Token(1),
    }
}

/// Its calibration.
pub fn calibration() -> CalibrationState {
    let mut calibration = Calibration::nominal(SerialNumber(*b"stream of tests."));
    calibration.date = Date { year: 2026, month: 3, day: 9 };
    calibration.zero_u = Micrometres(25);
    calibration.tilt_offset.level = Microdegrees(1_000);
    CalibrationState { check: CalibrationCheck::Good, calibration }
}

/// Reading `number`, from 1, of a head at rest on a board; the noise is the number's own.
pub fn reading(number: u32) -> Reading {
    // SplitMix64's finisher (public domain): every bit of the number in every bit of the noise.
    let mut bits = u64::from(number).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    // Four bytes summed scatter nearly as a normal distribution does: sigma 148.
    let noise = |shift: u32| -> i32 {
        (0..4).map(|byte| ((bits.rotate_right(shift) >> (byte * 8)) & 0xFF) as i32).sum::<i32>()
            - 510
    };
    Reading {
        sequence: number as u8,
        at_low_us: (1_000_000 + u64::from(number) * PERIOD_US) as u32,
        stand_off: Sample::Value(Micrometres(33_000 + noise(0) / 12)),
        middle: Sample::Value(Micrometres(2_600 + noise(16) / 30)),
        tilt: Sample::Value(TiltSteps {
            level: (22 + noise(32) / 200) as i16,
            lean: (-62 + noise(48) / 200) as i16,
        }),
        state: LightState::new(None, Light::Seen, Trust::Sure, false),
    }
}

/// The head's health after reading `number`.
pub fn pulse(number: u32) -> Pulse {
    Pulse {
        at: Microseconds(1_000_000 + u64::from(number) * PERIOD_US + 3_000),
        made: number,
        unsent: 0,
        refused_frames: 0,
        temperature: Sample::Value(CentiCelsius(2_150)),
        supply: Sample::Value(Millivolts(5_010)),
        tilt_status: 0,
        latest_start_us: 4,
    }
}

/// What the head's eye sees at reading `number`.
pub fn sheet(number: u32) -> Sheet {
    Sheet {
        sequence: number as u8,
        exposure: Some(Microseconds(3_000)),
        room: 40,
        brightest: 2_400,
        trust: Trust::Sure,
        shape: Some(Shape { width: Micrometres(1_500), height: 2_300, scatter: Micrometres(4) }),
        second: None,
        bad_pixel: None,
    }
}

/// Its calibration, as an answer.
pub fn constants() -> Report {
    Report::Answer(Token(2), Answer::Calibration(calibration()))
}

/// Writes the recording.
///
/// # Errors
/// The writer's.
pub fn write(readings: u32, out: impl Write) -> io::Result<()> {
    let mut recorder = Recorder::new(Unhurried(out))?;
    let mut buffer = [0; MAX_FRAME];
    let mut frame = |report: &Report| -> io::Result<Vec<u8>> {
        encode(report, &mut buffer)
            .map(|frame| frame.to_vec())
            .map_err(|why| io::Error::other(why.to_string()))
    };
    recorder.piece(Duration::from_millis(5), &frame(&Report::Hello(hello()))?)?;
    recorder.piece(Duration::from_millis(8), &frame(&constants())?)?;
    for number in 1..=readings {
        let at = Duration::from_micros(u64::from(number) * PERIOD_US + 9_000);
        recorder.piece(at, &frame(&Report::Reading(reading(number)))?)?;
        if number % PULSE_EVERY == 0 {
            recorder.piece(at, &frame(&Report::Sheet(sheet(number)))?)?;
            recorder.piece(at, &frame(&Report::Pulse(pulse(number)))?)?;
        }
    }
    Ok(())
}
