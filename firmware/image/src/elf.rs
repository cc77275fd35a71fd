//! What an ELF puts into flash and memory.

use object::read::elf::{FileHeader, ProgramHeader};
use object::{Endianness, Object, ObjectSection, SectionFlags, elf};
use std::fmt;

/// Where an RP2040 maps its flash.
pub const FLASH: std::ops::Range<u32> = 0x1000_0000..0x1100_0000;
/// Its memory.
pub const MEMORY: std::ops::Range<u32> = 0x2000_0000..0x2004_2000;

/// A run of bytes at an address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// Where it goes in flash.
    pub address: u32,
    /// The bytes.
    pub bytes: Vec<u8>,
}

/// How much room an image takes, bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Room {
    /// Flash, from its start to the image's end.
    pub flash: u32,
    /// Memory that is taken before the first stack frame.
    pub static_memory: u32,
}

/// Why an ELF is no image.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ElfError {
    /// Not a 32-bit ELF for ARM.
    NotForTheBoard(String),
    /// A loaded piece lies outside the flash.
    OutsideFlash {
        /// Where it would go.
        address: u32,
    },
    /// Nothing to load.
    Empty,
}

impl fmt::Display for ElfError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotForTheBoard(why) => write!(f, "not an ELF for the board: {why}"),
            Self::OutsideFlash { address } => {
                write!(f, "a part of the image would go to {address:#010x}, outside the flash")
            }
            Self::Empty => write!(f, "the ELF holds nothing to load"),
        }
    }
}

impl std::error::Error for ElfError {}

/// What goes into flash, in the order of addresses.
///
/// # Errors
/// Not an ELF for the board, or one that loads elsewhere than into flash.
pub fn pieces(file: &[u8]) -> Result<Vec<Piece>, ElfError> {
    let bad = |error: object::Error| ElfError::NotForTheBoard(error.to_string());
    let header = elf::FileHeader32::<Endianness>::parse(file).map_err(bad)?;
    let endian = header.endian().map_err(bad)?;
    if header.e_machine(endian) != elf::EM_ARM {
        return Err(ElfError::NotForTheBoard("another processor".into()));
    }
    let mut pieces = Vec::new();
    for segment in header.program_headers(endian, file).map_err(bad)? {
        if segment.p_type(endian) != elf::PT_LOAD || segment.p_filesz(endian) == 0 {
            continue;
        }
        let address = segment.p_paddr(endian);
        let bytes = segment
            .data(endian, file)
            .map_err(|()| ElfError::NotForTheBoard("cut short".into()))?;
        let end = u64::from(address) + bytes.len() as u64;
        if !FLASH.contains(&address) || end > u64::from(FLASH.end) {
            return Err(ElfError::OutsideFlash { address });
        }
        pieces.push(Piece { address, bytes: bytes.to_vec() });
    }
    pieces.sort_by_key(|piece| piece.address);
    if pieces.is_empty() { Err(ElfError::Empty) } else { Ok(pieces) }
}

/// The room that an image takes.
///
/// # Errors
/// As [`pieces`].
pub fn room(file: &[u8]) -> Result<Room, ElfError> {
    let pieces = pieces(file)?;
    let end = pieces
        .iter()
        .map(|piece| piece.address + piece.bytes.len() as u32)
        .max()
        .unwrap_or(FLASH.start);
    let parsed =
        object::File::parse(file).map_err(|error| ElfError::NotForTheBoard(error.to_string()))?;
    let static_memory = parsed
        .sections()
        .filter(|section| {
            let allocated =
                matches!(section.flags(), SectionFlags::Elf { sh_flags } if sh_flags & u64::from(elf::SHF_ALLOC) != 0);
            allocated && u32::try_from(section.address()).is_ok_and(|address| MEMORY.contains(&address))
        })
        .map(|section| section.size() as u32)
        .sum();
    Ok(Room { flash: end - FLASH.start, static_memory })
}
