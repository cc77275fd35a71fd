//! Flash files: what a UF2 holds is what writing it anew holds; nothing outside the flash; an image
//! that passes as whole has its length and checksum right, reckoned here anew. And ELFs.

use crate::Target;
use skimgauge_image::elf::{self, FLASH, Piece};
use skimgauge_image::{mark, uf2};
use skimgauge_shared::check::crc32;
use skimgauge_shared::mark as head;

/// Flash files.
pub const TARGET: Target = Target {
    name: "flash",
    check,
    each_run: 150_000,
    words: &["UF2\n", "skimgauge image\0", "\u{7f}ELF", "\0\0\0\u{10}", "\0\u{1}\0\0"],
};

const MOST: usize = (FLASH.end - FLASH.start) as usize;

fn check(input: &[u8]) {
    if let Ok(pieces) = uf2::read(input) {
        assert!(pieces.iter().all(|piece| piece.bytes.len() <= 476));
        assert!(pieces.len() <= input.len() / 512);
        written_anew(&pieces);
    }
    if let Ok(pieces) = elf::pieces(input) {
        for piece in &pieces {
            let end = u64::from(piece.address) + piece.bytes.len() as u64;
            assert!(FLASH.contains(&piece.address) && end <= u64::from(FLASH.end));
            assert!(piece.bytes.len() <= input.len());
        }
        assert!(pieces.is_sorted_by_key(|piece| piece.address));
        if let Ok(room) = elf::room(input) {
            assert!(room.flash as usize <= MOST);
        }
        // Headers may name the same bytes again and again.
        if pieces.iter().map(|piece| piece.bytes.len()).sum::<usize>() < 1 << 20 {
            written_anew(&pieces);
        }
    }
    whole(input);
}

fn written_anew(pieces: &[Piece]) {
    let Some(image) = mark::flat(pieces, 1 << 20) else {
        // Outside the flash, or too far up for a board's.
        assert!(pieces.iter().any(|piece| {
            let end = u64::from(piece.address) + piece.bytes.len() as u64;
            piece.address < FLASH.start || end > u64::from(FLASH.start) + (1 << 20)
        }));
        return;
    };
    if image.is_empty() {
        return;
    }
    let again = uf2::read(&uf2::write(pieces)).expect("what is written is read");
    let mut flash = vec![0xFF; image.len()];
    for piece in &again {
        let at = (piece.address - FLASH.start) as usize;
        flash[at..at + piece.bytes.len()].copy_from_slice(&piece.bytes);
    }
    assert!(flash == image, "the flash holds the same");
    if let Some((version, sealed)) = mark::sealed(pieces) {
        assert_eq!(head::check(&sealed.bytes), Ok(version), "a sealed image is whole");
        assert_eq!(mark::version(pieces), Some(version));
    }
}

/// Of an image as it lies in the flash: what passes has its seal right, after the table in
/// `shared/src/mark.rs`.
fn whole(image: &[u8]) {
    if head::check(image).is_err() {
        return;
    }
    let at = image.windows(16).position(|window| window == b"skimgauge image\0").expect("a mark");
    let word =
        |at: usize| u32::from_le_bytes([image[at], image[at + 1], image[at + 2], image[at + 3]]);
    let seal = (at..image.len() - 31)
        .find(|at| {
            image[*at..].starts_with(b"skimgauge image\0")
                && image[at + 19..].starts_with(b"\0\n\0\0\0")
        })
        .map(|at| at + 24)
        .expect("a whole mark");
    assert_eq!(word(seal) as usize, image.len());
    let mut blank = image.to_vec();
    blank[seal..seal + 8].fill(0);
    assert_eq!(word(seal + 4), crc32(&blank));
}
