//! The inclinometer's 32-bit frames: operation, return status, data, CRC-8.

use crc::{CRC_8_SAE_J1850, Crc};

/// The frame for an operation byte (its two low bits free), a return status and data.
pub(super) fn frame(operation: u8, status: u8, data: u16) -> [u8; 4] {
    let [high, low] = data.to_be_bytes();
    let head = [operation | status, high, low];
    [head[0], head[1], head[2], crc8(&head)]
}

static CRC: Crc<u8> = Crc::<u8>::new(&CRC_8_SAE_J1850);

/// The check byte of a frame's first three.
pub(super) fn crc8(bytes: &[u8]) -> u8 {
    CRC.checksum(bytes)
}

#[cfg(test)]
pub(super) mod tests {
    use super::{crc8, frame};

    /// Frames as the driver crate `scl3300` 0.5 carries them; the header of the file names the
    /// places.
    const FRAMES: &str = include_str!("../../../tests/data/scl3300_frames.csv");

    fn row(line: &str) -> (bool, u32, Option<u8>, u16) {
        let fields: Vec<&str> = line.split(',').collect();
        (
            fields[0] == "request",
            u32::from_str_radix(fields[2], 16).unwrap(),
            fields[3].parse().ok(),
            fields[4].parse::<u16>().unwrap_or(0),
        )
    }

    /// `(is a request, frame, return status of a reply, data)` of every published frame.
    pub(in crate::part::inclinometer) fn rows() -> impl Iterator<Item = (bool, u32, Option<u8>, u16)>
    {
        FRAMES
            .lines()
            .filter(|line| line.starts_with("request") || line.starts_with("reply"))
            .map(row)
    }

    #[test]
    fn every_published_frame_has_our_crc_and_layout() {
        assert_eq!(rows().count(), 42);
        for (is_request, word, status, data) in rows() {
            let bytes = word.to_be_bytes();
            assert_eq!(crc8(&bytes[..3]), bytes[3], "{word:08X}");
            if !is_request {
                let status = status.expect("a reply names its status");
                assert_eq!(frame(bytes[0] & 0xFC, status, data), bytes, "{word:08X}");
            }
        }
    }

    /// "123456789" gives 0x4B: CRC catalogue, CRC-8/SAE-J1850.
    #[test]
    fn crc_has_its_check_value() {
        assert_eq!(crc8(b"123456789"), 0x4B);
    }
}
