//! What a head's logic needs of the board that it runs on.

use crate::pixel_line::Pins;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};
use embedded_hal::i2c::I2c;
use embedded_hal::spi::SpiDevice;

/// A board, as the types of what is wired to it. It is named, never made: [`Parts`] holds the
/// things themselves.
pub trait Hardware {
    /// A share of the bus that converter and memory are on.
    type Bus: I2c;
    /// The converter's ready line.
    type Ready: ReadyLatch;
    /// The inclinometer, with its select line.
    type Inclinometer: SpiDevice;
    /// Short waits between the inclinometer's frames.
    type Delay: DelayNs;
    /// The eye's line of pixels.
    type Line: Pins;
    /// Low while pressed.
    type Button: InputPin;
    /// High: lit.
    type Lamp: OutputPin;
    /// The buzzer; `()` on a board without one.
    type Buzzer: Buzzer;
    /// The log; `()` on a board that keeps none.
    type Log: LogSource;
}

/// A board's parts as they are wired.
pub struct Parts<H: Hardware> {
    /// The bus, for the converter.
    pub converter: H::Bus,
    /// The same bus, for the memory.
    pub memory: H::Bus,
    /// The converter's ready line.
    pub ready: H::Ready,
    /// The inclinometer.
    pub inclinometer: H::Inclinometer,
    /// Short waits between its frames.
    pub delay: H::Delay,
    /// The eye's line of pixels.
    pub line: H::Line,
    /// The button.
    pub button: H::Button,
    /// The lamp.
    pub lamp: H::Lamp,
    /// The buzzer.
    pub buzzer: H::Buzzer,
    /// The log.
    pub log: H::Log,
}

/// The ready line's falling edge, latched: it lasts 8 us, too short to be polled.
pub trait ReadyLatch {
    /// Whether the line fell since the last call.
    fn take(&mut self) -> bool;
}

/// A buzzer.
pub trait Buzzer {
    /// Sounds at this pitch until told otherwise; `None`: silent.
    fn sound(&mut self, pitch_hz: Option<u16>);
}

impl Buzzer for () {
    fn sound(&mut self, _: Option<u16>) {}
}

/// Log bytes that wait to be sent.
pub trait LogSource {
    /// Moves waiting bytes into `into`; how many.
    fn take(&mut self, into: &mut [u8]) -> usize;
}

impl LogSource for () {
    fn take(&mut self, _: &mut [u8]) -> usize {
        0
    }
}
