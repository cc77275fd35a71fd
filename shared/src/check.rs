//! The checksum of frames, of what the memory holds, and of flash images.

use crc::{CRC_32_ISO_HDLC, Crc, NoTable};

// Without a table, which would take a kilobyte of the head's flash: at a hundred readings a second
// the bits are cheap.
static CRC: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// CRC-32/ISO-HDLC.
pub fn crc32(bytes: &[u8]) -> u32 {
    CRC.checksum(bytes)
}

/// The same of several pieces in a row.
pub fn crc32_of(pieces: &[&[u8]]) -> u32 {
    let mut digest = CRC.digest();
    pieces.iter().for_each(|piece| digest.update(piece));
    digest.finalize()
}
