//! The 24CS32 memory: 4 KB in pages of 32 bytes, and a factory number of 128 bits.

use eeprom24x::addr_size::TwoBytes;
use eeprom24x::page_size::B32;
use eeprom24x::unique_serial::Yes;
use eeprom24x::{Eeprom24x, SlaveAddr};
use embedded_hal::i2c::I2c;
use skimgauge_shared::message::SerialNumber;

/// Bytes written at once.
pub(crate) const PAGE: usize = 32;

/// The memory does not answer. After a write it does not for up to 5 ms, which looks the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Silent;

/// The head's memory.
pub(crate) struct Memory<I2C> {
    chip: Eeprom24x<I2C, B32, TwoBytes, Yes>,
}

impl<I2C: I2c> Memory<I2C> {
    /// At the base address.
    pub(crate) fn new(i2c: I2C) -> Self {
        Self { chip: Eeprom24x::new_24csx32(i2c, SlaveAddr::Default) }
    }

    /// The factory number.
    ///
    /// # Errors
    /// No answer.
    pub(crate) fn serial(&mut self) -> Result<SerialNumber, Silent> {
        self.chip.read_unique_serial().map(SerialNumber).map_err(|_| Silent)
    }

    /// Reads from an address on.
    ///
    /// # Errors
    /// No answer.
    pub(crate) fn read(&mut self, address: u16, into: &mut [u8]) -> Result<(), Silent> {
        self.chip.read_data(u32::from(address), into).map_err(|_| Silent)
    }

    /// Begins to write one page, or a part of it from its start on.
    ///
    /// # Errors
    /// No answer: absent, or still busy with the page before.
    pub(crate) fn write_page(&mut self, address: u16, page: &[u8]) -> Result<(), Silent> {
        self.chip.write_page(u32::from(address), page).map_err(|_| Silent)
    }
}
