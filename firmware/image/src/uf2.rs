//! UF2: a file of 512-byte blocks, each with its address, that a board's USB drive takes
//! (specification: microsoft/uf2, README). Payloads are 256 bytes, as the RP2040's boot ROM wants
//! them.

use crate::elf::{FLASH, Piece};
use std::collections::BTreeMap;
use std::fmt;

/// The family number of the RP2040 (microsoft/uf2, utils/uf2families.json).
pub const FAMILY: u32 = 0xE48B_FF56;

const BLOCK: usize = 512;
const PAYLOAD: usize = 256;
const MAGIC: [u32; 2] = [0x0A32_4655, 0x9E5D_5157];
const END_MAGIC: u32 = 0x0AB1_6F30;
const FLAG_NOT_MAIN_FLASH: u32 = 0x0000_0001;
const FLAG_FAMILY: u32 = 0x0000_2000;

/// Why a file is no UF2 for the board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Uf2Error {
    /// Not a whole number of blocks, or no block at all.
    Length,
    /// This block has not the marks of one.
    NotABlock {
        /// Which, from 0.
        block: usize,
    },
    /// This block is for another board.
    OtherBoard {
        /// Which, from 0.
        block: usize,
    },
    /// The blocks do not count from 0 to the last.
    Incomplete {
        /// The first that is missing or out of place.
        block: usize,
    },
}

impl fmt::Display for Uf2Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Length => write!(
                f,
                "the file is no UF2: its length is no multiple of {BLOCK} bytes, or it is empty"
            ),
            Self::NotABlock { block } => {
                write!(f, "block {block} is no UF2 block: the file is damaged, or another format")
            }
            Self::OtherBoard { block } => {
                write!(f, "block {block} is for another board than the RP2040")
            }
            Self::Incomplete { block } => {
                write!(f, "block {block} is missing or out of place: the file is incomplete")
            }
        }
    }
}

impl std::error::Error for Uf2Error {}

/// The image as a UF2. Pages that the pieces touch in part are filled up with FFh, as erased flash
/// reads.
///
/// The flash's first page, without which a board stays in its boot loader, comes last, and another of
/// its sector first: the boot ROM erases a sector at the first block that it gets there. So from the
/// first block to the last but one the flash has no first page, and a copy that was cut short comes
/// back as a drive, whatever was in the flash before.
pub fn write(pieces: &[Piece]) -> Vec<u8> {
    let mut pages = BTreeMap::<u32, [u8; PAYLOAD]>::new();
    for piece in pieces {
        for (address, byte) in (piece.address..).zip(&piece.bytes) {
            let page = pages.entry(address & !(PAYLOAD as u32 - 1)).or_insert([0xFF; PAYLOAD]);
            page[address as usize % PAYLOAD] = *byte;
        }
    }
    let first = pages.remove_entry(&FLASH.start);
    let pages: Vec<_> = pages.into_iter().chain(first).collect();
    let count = pages.len() as u32;
    let mut file = Vec::with_capacity(pages.len() * BLOCK);
    for (number, (address, page)) in (0_u32..).zip(pages) {
        let words =
            [MAGIC[0], MAGIC[1], FLAG_FAMILY, address, PAYLOAD as u32, number, count, FAMILY];
        file.extend(words.iter().flat_map(|word| word.to_le_bytes()));
        file.extend(page);
        file.resize(file.len() + BLOCK - 32 - PAYLOAD - 4, 0);
        file.extend(END_MAGIC.to_le_bytes());
    }
    file
}

/// What a UF2 holds, every block checked. Blocks that are not for the main flash are left out, as
/// the format asks.
///
/// # Errors
/// The file is not a whole UF2 for the RP2040.
pub fn read(file: &[u8]) -> Result<Vec<Piece>, Uf2Error> {
    let (blocks, rest) = file.as_chunks::<BLOCK>();
    if blocks.is_empty() || !rest.is_empty() {
        return Err(Uf2Error::Length);
    }
    let mut pieces = Vec::new();
    for (number, block) in blocks.iter().enumerate() {
        let word = |at: usize| {
            u32::from_le_bytes([block[at], block[at + 1], block[at + 2], block[at + 3]])
        };
        let size = word(16) as usize;
        if [word(0), word(4)] != MAGIC || word(BLOCK - 4) != END_MAGIC || size > BLOCK - 36 {
            return Err(Uf2Error::NotABlock { block: number });
        }
        if word(20) as usize != number || word(24) as usize != blocks.len() {
            return Err(Uf2Error::Incomplete { block: number });
        }
        if word(8) & FLAG_NOT_MAIN_FLASH != 0 {
            continue;
        }
        if word(8) & FLAG_FAMILY == 0 || word(28) != FAMILY {
            return Err(Uf2Error::OtherBoard { block: number });
        }
        // One that brings nothing is no part of what lies in the flash.
        if size == 0 {
            continue;
        }
        pieces.push(Piece { address: word(12), bytes: block[32..32 + size].to_vec() });
    }
    Ok(pieces)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_block_is_laid_out_as_the_specification_says() {
        let file = write(&[Piece { address: 0x1000_0100, bytes: vec![0xAB; 3] }]);
        assert_eq!(file.len(), 512);
        assert_eq!(&file[..8], b"UF2\n\x57\x51\x5d\x9e");
        assert_eq!(
            &file[8..32],
            &[
                0, 0x20, 0, 0, 0, 1, 0, 0x10, 0, 1, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0x56, 0xFF, 0x8B,
                0xE4,
            ]
        );
        assert_eq!(&file[32..36], &[0xAB, 0xAB, 0xAB, 0xFF]);
        assert_eq!(&file[508..], &[0x30, 0x6F, 0xB1, 0x0A]);
    }

    /// What the boot ROM leaves in the flash when it gets these blocks: a sector is erased at the first
    /// block that comes for it, a page only clears bits.
    fn copied(flash: &mut [u8], blocks: &[Piece]) {
        const SECTOR: usize = 4_096;
        let mut erased = std::collections::BTreeSet::new();
        for block in blocks {
            let at = (block.address - FLASH.start) as usize;
            let sector = at - at % SECTOR;
            if erased.insert(sector) {
                flash[sector..sector + SECTOR].fill(0xFF);
            }
            for (cell, byte) in flash[at..].iter_mut().zip(&block.bytes) {
                *cell &= byte;
            }
        }
    }

    #[test]
    fn a_copy_cut_short_anywhere_leaves_no_first_page_to_start_from() {
        let old = vec![0xA5; 4 * 4_096];
        let new: Vec<u8> = (0..9_000_u32).map(|k| (k * 7 % 251) as u8 + 1).collect();
        let file = write(&[Piece { address: FLASH.start, bytes: new.clone() }]);
        let blocks = read(&file).unwrap();
        assert_eq!(blocks.len(), 36);
        for sent in 1..blocks.len() {
            let mut flash = old.clone();
            copied(&mut flash, &blocks[..sent]);
            assert!(flash[..256].iter().all(|byte| *byte == 0xFF), "{sent} blocks");
        }
        let mut flash = old.clone();
        copied(&mut flash, &blocks);
        assert_eq!(flash[..9_000], new);
    }

    #[test]
    fn a_missing_block_is_told() {
        let mut file = write(&[Piece { address: 0x1000_0000, bytes: vec![1; 700] }]);
        assert_eq!(read(&file).map(|pieces| pieces.len()), Ok(3));
        file.drain(512..1024);
        assert_eq!(read(&file), Err(Uf2Error::Incomplete { block: 0 }));
        assert_eq!(read(&[]), Err(Uf2Error::Length));
        let mut empty = write(&[Piece { address: 0x1000_0100, bytes: vec![1] }]);
        empty[16..20].fill(0);
        assert_eq!(read(&empty), Ok(Vec::new()));
        assert_eq!(read(&[0; 512]), Err(Uf2Error::NotABlock { block: 0 }));
    }

    proptest! {
        #[test]
        fn what_is_written_is_read(offset in 0_u32..5_000, bytes in proptest::collection::vec(any::<u8>(), 1..3_000)) {
            let pieces = read(&write(&[Piece { address: 0x1000_0000 + offset, bytes: bytes.clone() }])).unwrap();
            let mut flash = vec![0xFF; 10_000];
            for piece in pieces {
                let at = (piece.address - 0x1000_0000) as usize;
                flash[at..at + piece.bytes.len()].copy_from_slice(&piece.bytes);
            }
            let offset = offset as usize;
            prop_assert_eq!(&flash[offset..offset + bytes.len()], &bytes[..]);
            prop_assert!(flash[..offset].iter().all(|byte| *byte == 0xFF));
        }

        #[test]
        fn no_file_panics(file in proptest::collection::vec(any::<u8>(), 0..2_000), blocks in 0_usize..3) {
            let _ = read(&file);
            let mut damaged = write(&[Piece { address: 0x1000_0000, bytes: vec![7; blocks * 256 + 1] }]);
            for (at, byte) in file.iter().enumerate().take(20) {
                let place = (at * 97 + usize::from(*byte)) % damaged.len();
                damaged[place] = *byte;
            }
            let _ = read(&damaged);
        }
    }
}
