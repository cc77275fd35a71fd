//! The head's memory: a 24-series EEPROM of 32 kbit with a factory serial number, at register
//! level.
//!
//! From memory of the family's data sheets: two-byte word address; pages of 32 bytes in which a
//! write wraps; a write cycle of at most 5 ms after the stop, during which the part does not
//! acknowledge; a read that runs on over the end starts again at 0; the 128-bit serial number at a
//! device address of its own (0x58), word address 0x0800, read only. A power cut during a write
//! cycle leaves the bytes of that write undefined: here each is old, new, erased or a mix of bits.

use crate::noise::Noise;

/// I2C address of the array, with the part's address pins at ground.
pub const ADDRESS: u8 = 0x50;
/// I2C address of the serial number.
pub const SERIAL_ADDRESS: u8 = 0x58;
/// Word address of the serial number's first byte.
pub const SERIAL_WORD: u16 = 0x0800;
/// Bytes in the array.
pub const SIZE: usize = 4096;
/// Bytes in a page.
pub const PAGE: usize = 32;
/// Longest write cycle, us.
pub const WRITE_CYCLE_US: u64 = 5_000;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Transfer {
    Idle,
    AddressHigh,
    AddressLow,
    Data,
    Read,
    SerialAddressHigh,
    SerialAddressLow,
    SerialDone,
    SerialRead,
}

#[derive(Debug, Clone)]
struct Cycle {
    start_us: u64,
    page: usize,
    old: [u8; PAGE],
    new: [Option<u8>; PAGE],
}

/// A 24CS32-like EEPROM.
#[derive(Debug, Clone)]
pub struct Memory {
    bytes: Vec<u8>,
    serial: [u8; 16],
    pointer: u16,
    serial_pointer: u16,
    transfer: Transfer,
    page: [Option<u8>; PAGE],
    cycle: Option<Cycle>,
    write_cycle_us: u64,
    now_us: u64,
    write_cycles: u64,
}

impl Memory {
    /// A blank part (all bytes 0xFF) with `serial` from the factory.
    pub fn new(serial: [u8; 16]) -> Self {
        Self {
            bytes: vec![0xFF; SIZE],
            serial,
            pointer: 0,
            serial_pointer: SERIAL_WORD,
            transfer: Transfer::Idle,
            page: [None; PAGE],
            cycle: None,
            write_cycle_us: WRITE_CYCLE_US,
            now_us: 0,
            write_cycles: 0,
        }
    }

    /// The array as it stands, past the wire. During a write cycle it still shows the old bytes.
    pub fn contents(&self) -> &[u8] {
        &self.bytes
    }

    /// The array, past the wire: for putting a content in place.
    pub fn contents_mut(&mut self) -> &mut [u8] {
        &mut self.bytes
    }

    /// The factory serial number.
    pub fn serial(&self) -> [u8; 16] {
        self.serial
    }

    /// Another part's serial number: what a swapped memory looks like.
    pub fn set_serial(&mut self, serial: [u8; 16]) {
        self.serial = serial;
    }

    /// Write cycles begun since the part was made.
    pub fn write_cycles(&self) -> u64 {
        self.write_cycles
    }

    /// Carries a write cycle on to `now_us`.
    pub fn advance_to(&mut self, now_us: u64) {
        self.now_us = self.now_us.max(now_us);
        if let Some(cycle) =
            self.cycle.take_if(|cycle| cycle.start_us + self.write_cycle_us <= now_us)
        {
            for (offset, byte) in cycle.new.iter().enumerate() {
                if let Some(byte) = byte {
                    self.bytes[cycle.page + offset] = *byte;
                }
            }
        }
    }

    /// Whether a write cycle runs.
    pub fn is_busy(&self) -> bool {
        self.cycle.is_some()
    }

    /// Power lost at `at_us` and back later: the transfer is forgotten; a write cycle that ran
    /// leaves its page torn. `seed` decides how, so that a test can run through many ways.
    pub fn cut_power(&mut self, at_us: u64, seed: u64) {
        self.advance_to(at_us);
        if let Some(cycle) = self.cycle.take() {
            let mut noise = Noise::new(seed, at_us);
            let done = (at_us - cycle.start_us) as f64 / self.write_cycle_us as f64;
            for (offset, new) in cycle.new.iter().enumerate() {
                let Some(new) = *new else { continue };
                let old = cycle.old[offset];
                // The cycle erases first and programs then, and cells do not all go at the same
                // moment.
                let mask = noise.bits() as u8;
                let progress = (done + noise.normal(0.2)).clamp(0.0, 1.0);
                self.bytes[cycle.page + offset] = match progress {
                    p if p <= 0.1 => old,
                    p if p < 0.4 => old | mask,
                    p if p < 0.6 => 0xFF,
                    p if p < 0.9 => new | mask,
                    _ => new,
                };
            }
        }
        self.transfer = Transfer::Idle;
        self.page = [None; PAGE];
        self.pointer = 0;
    }

    /// A start or repeated start with `address` ([`ADDRESS`] or [`SERIAL_ADDRESS`]) and its
    /// direction; `true` if acknowledged. Call [`Self::advance_to`] first.
    pub fn start(&mut self, address: u8, write: bool) -> bool {
        // A write that was not ended by a stop is dropped.
        self.page = [None; PAGE];
        if self.is_busy() {
            self.transfer = Transfer::Idle;
            return false;
        }
        self.transfer = match (address, write) {
            (ADDRESS, true) => Transfer::AddressHigh,
            (ADDRESS, false) => Transfer::Read,
            (SERIAL_ADDRESS, true) => Transfer::SerialAddressHigh,
            (SERIAL_ADDRESS, false) => Transfer::SerialRead,
            _ => Transfer::Idle,
        };
        self.transfer != Transfer::Idle
    }

    /// A byte from the master; `true` if acknowledged.
    pub fn write_byte(&mut self, byte: u8) -> bool {
        match self.transfer {
            Transfer::AddressHigh => {
                self.pointer = u16::from(byte) << 8 & (SIZE - 1) as u16;
                self.transfer = Transfer::AddressLow;
            }
            Transfer::AddressLow => {
                self.pointer |= u16::from(byte);
                self.transfer = Transfer::Data;
            }
            Transfer::Data => {
                let offset = usize::from(self.pointer) % PAGE;
                self.page[offset] = Some(byte);
                let page = usize::from(self.pointer) - offset;
                self.pointer = (page + (offset + 1) % PAGE) as u16;
            }
            Transfer::SerialAddressHigh => {
                self.serial_pointer = u16::from(byte) << 8;
                self.transfer = Transfer::SerialAddressLow;
            }
            Transfer::SerialAddressLow => {
                self.serial_pointer |= u16::from(byte);
                self.transfer = Transfer::SerialDone;
            }
            Transfer::SerialDone | Transfer::Idle | Transfer::Read | Transfer::SerialRead => {
                return false;
            }
        }
        true
    }

    /// A byte to the master; 0xFF when the part was not addressed for reading.
    pub fn read_byte(&mut self) -> u8 {
        match self.transfer {
            Transfer::Read => {
                let byte = self.bytes[usize::from(self.pointer)];
                self.pointer = (self.pointer + 1) % SIZE as u16;
                byte
            }
            Transfer::SerialRead => {
                let index = self.serial_pointer.wrapping_sub(SERIAL_WORD);
                self.serial_pointer = self.serial_pointer.wrapping_add(1);
                self.serial.get(usize::from(index)).copied().unwrap_or(0xFF)
            }
            _ => 0xFF,
        }
    }

    /// A stop: begins the write cycle if data bytes came.
    pub fn stop(&mut self) {
        if self.transfer == Transfer::Data && self.page.iter().any(Option::is_some) {
            let page = usize::from(self.pointer) / PAGE * PAGE;
            let mut old = [0; PAGE];
            old.copy_from_slice(&self.bytes[page..page + PAGE]);
            self.cycle = Some(Cycle { start_us: self.now_us, page, old, new: self.page });
            self.write_cycles += 1;
        }
        self.page = [None; PAGE];
        self.transfer = Transfer::Idle;
    }
}

#[cfg(test)]
mod tests;
