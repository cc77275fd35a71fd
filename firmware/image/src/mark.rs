//! The mark of a head's image, wherever it lies in the image's pieces.

use crate::elf::{FLASH, Piece};
use skimgauge_shared::identity::Version;
use skimgauge_shared::mark;

/// Whole pages, so that what fills the last one up is under the checksum too.
const PAGE: usize = 256;

/// The image as the flash will hold it, from the flash's first byte to the end of its last page; what
/// no piece touches reads FFh. `None`: a piece lies outside the flash, or beyond `most` bytes of it.
pub fn flat(pieces: &[Piece], most: usize) -> Option<Vec<u8>> {
    let mut image = Vec::new();
    for piece in pieces {
        let at = piece.address.checked_sub(FLASH.start)? as usize;
        let end = at.checked_add(piece.bytes.len()).filter(|end| *end <= most)?;
        if image.len() < end {
            image.resize(end.next_multiple_of(PAGE), 0xFF);
        }
        image[at..end].copy_from_slice(&piece.bytes);
    }
    Some(image)
}

/// The image as one piece with length and checksum in its mark, and its version; `None`: it is no
/// head's image.
pub fn sealed(pieces: &[Piece]) -> Option<(Version, Piece)> {
    let mut bytes = flat(pieces, (FLASH.end - FLASH.start) as usize)?;
    let version = mark::seal(&mut bytes)?;
    Some((version, Piece { address: FLASH.start, bytes }))
}

/// The version of the head's image that the pieces hold; `None`: they are no head's image.
pub fn version(pieces: &[Piece]) -> Option<Version> {
    mark::find(&flat(pieces, (FLASH.end - FLASH.start) as usize)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_shared::mark::Said;

    const VERSION: Version = Version { major: 1, minor: 2, patch: 3 };

    fn piece(address: u32, bytes: &[u8]) -> Piece {
        Piece { address, bytes: bytes.to_vec() }
    }

    #[test]
    fn a_mark_is_found_even_over_a_block_edge_and_in_any_order() {
        let whole = mark::of(VERSION);
        let (first, second) = whole.split_at(9);
        let pieces = [piece(0x1000_0009, second), piece(0x1000_0000, first)];
        assert_eq!(version(&pieces), Some(VERSION));
        let gap = [piece(0x1000_0000, first), piece(0x1000_0100, second)];
        assert_eq!(version(&gap), None);
        assert_eq!(version(&[piece(0x2000_0000, &whole)]), None);
    }

    #[test]
    fn a_sealed_image_is_whole_pages_and_passes_its_own_check() {
        let pieces = [piece(0x1000_0000, &[0x5A; 256]), piece(0x1000_0210, &mark::of(VERSION))];
        let (version, piece) = sealed(&pieces).unwrap();
        assert_eq!((version, piece.address, piece.bytes.len()), (VERSION, 0x1000_0000, 768));
        assert!(piece.bytes[256..0x210].iter().all(|byte| *byte == 0xFF));
        assert_eq!(mark::check(&piece.bytes), Ok(VERSION));
        let unsealed = flat(&pieces, 4_096).unwrap();
        assert_eq!(mark::check(&unsealed), Err(Some(Said::NotSealed)));
        assert_eq!(flat(&pieces, 0x210), None);
    }
}
