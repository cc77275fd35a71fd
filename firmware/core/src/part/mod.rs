//! The head's parts, each behind its bus. No fault of a part panics the head: it becomes a named
//! absence.

pub(crate) mod converter;
pub(crate) mod inclinometer;
pub(crate) mod memory;
pub mod pixel_line;

use embedded_hal::i2c::{Error, ErrorKind};
use skimgauge_shared::reading::Absence;

/// What an I2C error says of the part or the bus.
pub(crate) fn i2c_absence(error: &impl Error) -> Absence {
    match error.kind() {
        ErrorKind::NoAcknowledge(_) => Absence::NoAnswer,
        _ => Absence::BusStuck,
    }
}
