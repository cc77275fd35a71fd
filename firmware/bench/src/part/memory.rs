//! The head's memory: a 24-series EEPROM of 32 kbit with a factory serial number, at register level.
//!
//! From memory of the family's data sheets: two-byte word address; pages of 32 bytes in which a write wraps; a write cycle
//! of at most 5 ms after the stop, during which the part does not acknowledge; a read that runs on over the end starts
//! again at 0; the 128-bit serial number at a device address of its own (0x58), word address 0x0800, read only. A power cut
//! during a write cycle leaves the bytes of that write undefined: here each is old, new, erased or a mix of bits.

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
        if let Some(cycle) = self.cycle.take_if(|cycle| cycle.start_us + self.write_cycle_us <= now_us) {
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

    /// Power lost at `at_us` and back later: the transfer is forgotten; a write cycle that ran leaves its page torn.
    /// `seed` decides how, so that a test can run through many ways.
    pub fn cut_power(&mut self, at_us: u64, seed: u64) {
        self.advance_to(at_us);
        if let Some(cycle) = self.cycle.take() {
            let mut noise = Noise::new(seed, at_us);
            let done = (at_us - cycle.start_us) as f64 / self.write_cycle_us as f64;
            for (offset, new) in cycle.new.iter().enumerate() {
                let Some(new) = *new else { continue };
                let old = cycle.old[offset];
                // The cycle erases first and programs then, and cells do not all go at the same moment.
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

    /// A start or repeated start with `address` ([`ADDRESS`] or [`SERIAL_ADDRESS`]) and its direction; `true` if
    /// acknowledged. Call [`Self::advance_to`] first.
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
            Transfer::SerialDone | Transfer::Idle | Transfer::Read | Transfer::SerialRead => return false,
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
mod tests {
    use super::{ADDRESS, Memory, PAGE, SERIAL_ADDRESS, SIZE, WRITE_CYCLE_US};
    use proptest::prelude::*;

    const SERIAL: [u8; 16] = *b"\x29\x01head-serial-01";

    fn write(part: &mut Memory, at: u16, bytes: &[u8]) {
        assert!(part.start(ADDRESS, true));
        for byte in at.to_be_bytes().iter().chain(bytes) {
            assert!(part.write_byte(*byte));
        }
        part.stop();
    }

    fn read(part: &mut Memory, address: u8, at: u16, count: usize) -> Vec<u8> {
        assert!(part.start(address, true));
        for byte in at.to_be_bytes() {
            assert!(part.write_byte(byte));
        }
        assert!(part.start(address, false));
        let bytes = (0..count).map(|_| part.read_byte()).collect();
        part.stop();
        bytes
    }

    #[test]
    fn written_bytes_are_there_after_the_write_cycle_and_not_before() {
        let mut part = Memory::new(SERIAL);
        write(&mut part, 0x0102, b"abc");
        assert!(!part.start(ADDRESS, true), "no answer during the cycle");
        part.advance_to(WRITE_CYCLE_US - 1);
        assert!(!part.start(ADDRESS, false));
        assert!(!part.start(SERIAL_ADDRESS, false));
        part.advance_to(WRITE_CYCLE_US);
        assert_eq!(read(&mut part, ADDRESS, 0x0101, 5), b"\xFFabc\xFF");
        assert_eq!(part.write_cycles(), 1);
    }

    #[test]
    fn a_write_wraps_within_its_page_and_a_read_over_the_end() {
        let mut part = Memory::new(SERIAL);
        write(&mut part, 0x003E, b"1234");
        part.advance_to(WRITE_CYCLE_US);
        assert_eq!(read(&mut part, ADDRESS, 0x003E, 2), b"12");
        assert_eq!(read(&mut part, ADDRESS, 0x0020, 3), b"34\xFF");
        write(&mut part, (SIZE - 1) as u16, b"z");
        part.advance_to(2 * WRITE_CYCLE_US);
        write(&mut part, 0, b"a");
        part.advance_to(3 * WRITE_CYCLE_US);
        assert_eq!(read(&mut part, ADDRESS, (SIZE - 1) as u16, 2), b"za");
    }

    #[test]
    fn a_longer_write_than_a_page_keeps_the_last_bytes() {
        let mut part = Memory::new(SERIAL);
        let bytes: Vec<u8> = (0..40).collect();
        write(&mut part, 0, &bytes);
        part.advance_to(WRITE_CYCLE_US);
        let page = read(&mut part, ADDRESS, 0, PAGE);
        assert_eq!(page[..8], [32, 33, 34, 35, 36, 37, 38, 39]);
        assert_eq!(page[8..], bytes[8..32]);
    }

    #[test]
    fn the_serial_number_is_read_only() {
        let mut part = Memory::new(SERIAL);
        assert_eq!(read(&mut part, SERIAL_ADDRESS, 0x0800, 16), SERIAL);
        assert!(part.start(SERIAL_ADDRESS, true));
        assert!(part.write_byte(0x08));
        assert!(part.write_byte(0x00));
        assert!(!part.write_byte(0x55));
        part.stop();
        assert!(!part.is_busy());
        assert_eq!(part.serial(), SERIAL);
    }

    #[test]
    fn a_write_without_stop_or_without_data_writes_nothing() {
        let mut part = Memory::new(SERIAL);
        write(&mut part, 0x10, b"");
        assert!(!part.is_busy());
        part.start(ADDRESS, true);
        for byte in [0x00, 0x10, 0xAA] {
            part.write_byte(byte);
        }
        part.start(ADDRESS, false);
        part.stop();
        assert!(!part.is_busy());
        assert!(part.contents().iter().all(|byte| *byte == 0xFF));
    }

    #[test]
    fn power_cuts_leave_old_new_and_torn_pages_depending_on_when() {
        let (mut old, mut new, mut torn) = (0, 0, 0);
        for seed in 0..400 {
            let mut part = Memory::new(SERIAL);
            write(&mut part, 0x40, &[0x0F; 16]);
            part.advance_to(10_000);
            write(&mut part, 0x40, &[0x30; 16]);
            part.cut_power(10_000 + seed * 13, seed);
            let page = read(&mut part, ADDRESS, 0x40, 32);
            assert_eq!(page[16..], [0xFF; 16], "bytes that were not written stay");
            match &page[..16] {
                bytes if bytes.iter().all(|byte| *byte == 0x0F) => old += 1,
                bytes if bytes.iter().all(|byte| *byte == 0x30) => new += 1,
                _ => torn += 1,
            }
        }
        assert!(new >= 400 - 5000 / 13 - 1 && torn > 200 && old + new + torn == 400, "{old} {new} {torn}");
    }

    proptest! {
        #[test]
        fn any_bytes_in_any_order_leave_a_working_part(
            steps in prop::collection::vec((0u8..7, any::<u8>(), 0u64..3000), 0..200),
        ) {
            let mut part = Memory::new(SERIAL);
            let mut now_us = 0;
            for (step, byte, wait_us) in steps {
                now_us += wait_us;
                part.advance_to(now_us);
                match step {
                    0 => { part.start(ADDRESS, byte & 1 == 1); }
                    1 => { part.start(SERIAL_ADDRESS, byte & 1 == 1); }
                    2 | 3 => { part.write_byte(byte); }
                    4 => { part.read_byte(); }
                    5 => part.cut_power(now_us, u64::from(byte)),
                    _ => part.stop(),
                }
            }
            part.stop();
            part.advance_to(now_us + WRITE_CYCLE_US);
            write(&mut part, 0x0200, b"works");
            part.advance_to(now_us + 2 * WRITE_CYCLE_US);
            prop_assert_eq!(read(&mut part, ADDRESS, 0x0200, 5), b"works");
        }
    }
}
