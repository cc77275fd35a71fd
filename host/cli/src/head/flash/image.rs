//! A firmware file, checked: a whole UF2 for the head's board, that goes to where the board starts
//! from, and is a head's.

use crc::{CRC_32_MPEG_2, Crc};
use skimgauge_image::{elf, mark, uf2};
use skimgauge_shared::mark as shared_mark;
use skimgauge_shared::message::Version;
use std::fmt;

/// Flash of the head's board, bytes.
const BOARD_FLASH: u32 = 2 * 1024 * 1024;
/// Pages that the boot loader writes, bytes.
const PAGE: usize = 256;

/// A firmware file that may go onto a head.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Image {
    /// The version it carries.
    pub version: Version,
    /// The UF2.
    pub file: Vec<u8>,
}

/// Why a file does not go onto a head.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotForAHead {
    /// No whole UF2 for the board.
    Uf2(uf2::Uf2Error),
    /// It goes to a place that the board has not, or twice to one place.
    Place {
        /// The first such address.
        address: u32,
    },
    /// It does not begin where the board starts from, or its start is damaged: the board would not
    /// start.
    NoStart,
    /// A whole image, of something else.
    NotOurs,
    /// A head's, and not as it was made: its length or its checksum does not fit.
    Damaged,
}

impl fmt::Display for NotForAHead {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Uf2(why) => write!(f, "{why}"),
            Self::Place { address } => {
                write!(
                    f,
                    "it would write to {address:#010x}, where the head's board has no flash or it wrote already"
                )
            }
            Self::NoStart => write!(f, "its first page is not one that the board starts from"),
            Self::NotOurs => write!(f, "it is firmware for such a board, and not skimgauge's"),
            Self::Damaged => write!(
                f,
                "it is damaged (its contents do not fit the checksum that it carries), or older than such checksums: \
                 copy it again from where it came from"
            ),
        }
    }
}

impl std::error::Error for NotForAHead {}

impl Image {
    /// Checks a file.
    ///
    /// # Errors
    /// Why it must not go onto a head.
    pub fn check(file: Vec<u8>) -> Result<Self, NotForAHead> {
        let mut pieces = uf2::read(&file).map_err(NotForAHead::Uf2)?;
        pieces.sort_by_key(|piece| piece.address);
        let mut free = elf::FLASH.start;
        for piece in &pieces {
            let address = piece.address;
            let fits = piece.bytes.len() == PAGE && address.is_multiple_of(PAGE as u32);
            let end = elf::FLASH.start + BOARD_FLASH;
            if !fits || address < free || address >= end {
                return Err(NotForAHead::Place { address });
            }
            free = address + PAGE as u32;
        }
        let starts = pieces
            .first()
            .is_some_and(|first| first.address == elf::FLASH.start && starts(&first.bytes));
        if !starts {
            return Err(NotForAHead::NoStart);
        }
        let flat = mark::flat(&pieces, BOARD_FLASH as usize).ok_or(NotForAHead::NoStart)?;
        match shared_mark::check(&flat) {
            Ok(version) => Ok(Self { version, file }),
            Err(None) => Err(NotForAHead::NotOurs),
            Err(Some(_)) => Err(NotForAHead::Damaged),
        }
    }
}

/// What the boot ROM computes: most significant bit first, from all ones, nothing inverted at the
/// end.
static CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_MPEG_2);

/// The boot ROM starts a first page whose last four bytes are the CRC of the others (RP2040
/// datasheet, 2.8.1.3.1).
fn starts(page: &[u8]) -> bool {
    page.split_last_chunk::<4>()
        .is_some_and(|(body, check)| CRC.checksum(body) == u32::from_le_bytes(*check))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use skimgauge_image::elf::Piece;

    const VERSION: Version = Version { major: 1, minor: 2, patch: 3 };

    /// A small image: a first page that starts, the mark in the second.
    fn image(mark: &[u8]) -> Piece {
        let mut bytes = vec![0x5A; 252];
        bytes.extend(CRC.checksum(&bytes).to_le_bytes());
        bytes.extend([0x11; 40]);
        bytes.extend_from_slice(mark);
        bytes.resize(1_000, 0x22);
        Piece { address: elf::FLASH.start, bytes }
    }

    fn ours() -> Vec<u8> {
        uf2::write(&[mark::sealed(&[image(&shared_mark::of(VERSION))]).unwrap().1])
    }

    /// Check value of CRC-32/MPEG-2 in the catalogue of parametrised CRC algorithms
    /// (reveng.sourceforge.io), from memory.
    #[test]
    fn the_boot_roms_crc_gives_the_catalogues_check_value() {
        assert_eq!(CRC.checksum(b"123456789"), 0x0376_E6E7);
    }

    #[test]
    fn a_heads_image_is_known_with_its_version() {
        let image = Image::check(ours()).unwrap();
        assert_eq!(image.version, VERSION);
        assert_eq!(image.file, ours());
    }

    #[test]
    fn what_must_not_go_onto_a_head_is_refused_by_name() {
        let other = uf2::write(&[image(b"another image\0")]);
        assert_eq!(Image::check(other), Err(NotForAHead::NotOurs));
        let unsealed = uf2::write(&[image(&shared_mark::of(VERSION))]);
        assert_eq!(Image::check(unsealed), Err(NotForAHead::Damaged));
        let mut cut = ours();
        cut.truncate(1_024);
        assert_eq!(
            Image::check(cut),
            Err(NotForAHead::Uf2(uf2::Uf2Error::Incomplete { block: 0 }))
        );
        // The first page comes last.
        let mut damaged = ours();
        let first_page = damaged.len() - 512 + 40;
        damaged[first_page] ^= 1;
        assert_eq!(Image::check(damaged), Err(NotForAHead::NoStart));
        let late = uf2::write(&[Piece { address: 0x1000_0100, bytes: vec![0; 300] }]);
        assert_eq!(Image::check(late), Err(NotForAHead::NoStart));
        let mut far = ours();
        far[512 + 12..512 + 16].copy_from_slice(&0x1020_0000_u32.to_le_bytes());
        assert_eq!(Image::check(far), Err(NotForAHead::Place { address: 0x1020_0000 }));
        let mut twice = ours();
        twice[512 + 12..512 + 16].copy_from_slice(&0x1000_0000_u32.to_le_bytes());
        assert_eq!(Image::check(twice), Err(NotForAHead::Place { address: 0x1000_0000 }));
        assert_eq!(
            Image::check(b"[image]\n".to_vec()),
            Err(NotForAHead::Uf2(uf2::Uf2Error::Length))
        );
    }

    /// A flipped bit in what goes into the flash, or in where it goes, is refused; one that the boot
    /// ROM does not look at may pass, and then nothing else is written than before.
    #[test]
    fn no_flipped_bit_changes_what_is_written() {
        let ours = ours();
        let flash = |file: &[u8]| mark::flat(&uf2::read(file).unwrap(), 1 << 20).unwrap();
        let mut passed = 0;
        for bit in 0..ours.len() * 8 {
            let mut file = ours.clone();
            file[bit / 8] ^= 1 << (bit % 8);
            if let Ok(image) = Image::check(file) {
                assert_eq!(flash(&image.file), flash(&ours), "bit {bit}");
                passed += 1;
            }
        }
        // The rest of each block, which the format leaves unused, and unused flags.
        assert!(passed <= 4 * (220 * 8 + 32), "{passed} passed");
    }

    proptest! {
        #[test]
        fn no_damaged_file_panics(damages in proptest::collection::vec((any::<usize>(), any::<u8>()), 0..30)) {
            let mut file = ours();
            let length = file.len();
            damages.into_iter().for_each(|(at, byte)| file[at % length] = byte);
            let _ = Image::check(file);
        }
    }
}
