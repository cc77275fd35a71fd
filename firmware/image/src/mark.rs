//! The mark of a head's image, wherever it lies in the image's pieces.

use crate::elf::Piece;
use skimgauge_shared::identity::Version;
use skimgauge_shared::mark;

/// The version of the head's image that the pieces hold; `None`: they are no head's image.
pub fn version(pieces: &[Piece]) -> Option<Version> {
    let mut bytes = Vec::new();
    let mut next = None;
    for piece in pieces {
        // A mark does not run over a gap.
        if next != Some(piece.address) {
            bytes.extend([0xFF; mark::LENGTH]);
        }
        bytes.extend_from_slice(&piece.bytes);
        next = Some(piece.address + piece.bytes.len() as u32);
    }
    mark::find(&bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(address: u32, bytes: &[u8]) -> Piece {
        Piece { address, bytes: bytes.to_vec() }
    }

    #[test]
    fn a_mark_is_found_even_over_a_block_edge() {
        let whole = b"..skimgauge image\0\x01\x02\x03\0\n..";
        let (first, second) = whole.split_at(9);
        let pieces = [piece(0x1000_0000, first), piece(0x1000_0009, second)];
        assert_eq!(version(&pieces), Some(Version { major: 1, minor: 2, patch: 3 }));
        let gap = [piece(0x1000_0000, first), piece(0x1000_0100, second)];
        assert_eq!(version(&gap), None);
    }
}
