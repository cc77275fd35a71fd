//! The head's parts at register level: state machines fed byte by byte, with the time as an
//! argument.
//!
//! They know nothing of the room: what they sense comes through [`Analog`] and [`Motion`]. A host
//! drives them through [`crate::bus`]; an emulator calls their entry points at its own time.

pub mod converter;
pub mod inclinometer;
pub mod memory;
pub mod pixel_line;

/// What the converter's input pins carry.
pub trait Analog {
    /// Volts against ground on input `channel` (0 to 3) at `at_us`. Times never go back.
    fn volts(&mut self, channel: u8, at_us: u64) -> f64;
}

impl<F: FnMut(u8, u64) -> f64> Analog for F {
    fn volts(&mut self, channel: u8, at_us: u64) -> f64 {
        self(channel, at_us)
    }
}

/// What the inclinometer's element feels.
pub trait Motion {
    /// Proper acceleration along the part's X, Y and Z axes, in g (a part at rest with Z up feels
    /// 0, 0, 1). Times never go back.
    fn acceleration_g(&mut self, at_us: u64) -> [f64; 3];
    /// Temperature of the part, degrees Celsius.
    fn temperature_c(&mut self, at_us: u64) -> f64;
}
