//! The checksum of frames and of what the memory holds.

use crc::{CRC_32_ISO_HDLC, Crc};

pub(crate) static CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// CRC-32/ISO-HDLC.
pub fn crc32(bytes: &[u8]) -> u32 {
    CRC.checksum(bytes)
}
