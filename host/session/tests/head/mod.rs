//! What a head says of itself.

use skimgauge_shared::calibration::{Calibration, CalibrationState};
use skimgauge_shared::message::{
    CalibrationCheck, Capabilities, Hello, PROTOCOL, Rate, ResetCause, SCHEMA, SerialNumber, Token,
    Version,
};
use skimgauge_shared::units::Microseconds;

pub(crate) const SERIAL: SerialNumber = SerialNumber([0x5A; 16]);

/// At this time, after so many readings.
pub(crate) fn hello(at: Microseconds, made: u32) -> Hello {
    Hello {
        protocol: PROTOCOL,
        schema: SCHEMA,
        firmware: Version { major: 0, minor: 1, patch: 0 },
        serial: Some(SERIAL),
        reset: ResetCause::Power,
        capabilities: Capabilities::BUZZER,
        at,
        made,
        rate: Rate { per_second: 100, conversions: 2 },
        calibration: CalibrationCheck::Good,
        token: Token::NONE,
    }
}

pub(crate) fn constants() -> CalibrationState {
    CalibrationState { check: CalibrationCheck::Good, calibration: Calibration::nominal(SERIAL) }
}
