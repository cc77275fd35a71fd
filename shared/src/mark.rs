//! How a flash image is known as a head's, and as whole, before it is written and when it starts: it
//! carries a mark with its version, its length and its checksum.
//!
//! | bytes | what |
//! | --- | --- |
//! | 16 | `skimgauge image`, 00h |
//! | 3 | version |
//! | 5 | 00h, line end, three times 00h |
//! | 4 | length of the image, little-endian; 0: not sealed |
//! | 4 | CRC-32 of the whole image with these 8 bytes taken as 00h |
//!
//! The linker leaves the last 8 bytes empty; `skimgauge-image uf2` seals the image when it makes the
//! flash file.

use crate::check::crc32_of;
use crate::identity::Version;

const TEXT: &[u8; 16] = b"skimgauge image\0";
const TAIL: [u8; 5] = [0, b'\n', 0, 0, 0];

/// Where length and checksum are in a mark.
const SEAL: usize = TEXT.len() + 3 + TAIL.len();

/// Bytes of a mark.
pub const LENGTH: usize = SEAL + 8;

/// The mark of an image of this version, not sealed.
pub const fn of(version: Version) -> [u8; LENGTH] {
    let mut mark = *b"skimgauge image\0\0\0\0\0\n\0\0\0\0\0\0\0\0\0\0\0";
    mark[TEXT.len()] = version.major;
    mark[TEXT.len() + 1] = version.minor;
    mark[TEXT.len() + 2] = version.patch;
    mark
}

/// Place and version of the first mark that the bytes hold; `None`: they hold none.
fn first(bytes: &[u8]) -> Option<(usize, Version)> {
    bytes.array_windows::<LENGTH>().enumerate().find_map(|(at, window)| {
        let (text, [major, minor, patch, tail @ ..]) = window.split_first_chunk::<16>()? else {
            return None;
        };
        let is_mark = text == TEXT && tail.starts_with(&TAIL);
        is_mark.then_some((at, Version { major: *major, minor: *minor, patch: *patch }))
    })
}

/// The version in the first mark that the bytes hold; `None`: they hold none.
pub fn find(bytes: &[u8]) -> Option<Version> {
    first(bytes).map(|(_, version)| version)
}

/// What the mark in an image says of the image.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Said {
    /// Nobody has sealed it: it was never a flash file.
    NotSealed,
    /// Length and checksum fit.
    Whole,
    /// They do not.
    Damaged,
}

/// Holds an image, from the flash's first byte on, against the mark that it carries at `at`. It may
/// be longer than the mark says; what is beyond does not belong to it.
pub fn said(image: &[u8], at: usize) -> Said {
    let parts = image.split_at_checked(at + SEAL).and_then(|(before, rest)| {
        let (length, rest) = rest.split_first_chunk::<4>()?;
        let (check, rest) = rest.split_first_chunk::<4>()?;
        Some((before, u32::from_le_bytes(*length), u32::from_le_bytes(*check), rest))
    });
    let Some((before, length, check, rest)) = parts else { return Said::Damaged };
    if (length, check) == (0, 0) {
        return Said::NotSealed;
    }
    let after = (length as usize).checked_sub(before.len() + 8).and_then(|left| rest.get(..left));
    match after {
        Some(after) if crc32_of(&[before, &[0; 8], after]) == check => Said::Whole,
        _ => Said::Damaged,
    }
}

/// Fills in length and checksum of an image that begins with the flash's first byte. Its version;
/// `None`: it carries no mark.
pub fn seal(image: &mut [u8]) -> Option<Version> {
    let (at, version) = first(image)?;
    let length = u32::try_from(image.len()).ok()?;
    image.get_mut(at + SEAL..at + LENGTH)?.fill(0);
    let check = crc32_of(&[image]);
    let seal = image.get_mut(at + SEAL..at + LENGTH)?;
    seal[..4].copy_from_slice(&length.to_le_bytes());
    seal[4..].copy_from_slice(&check.to_le_bytes());
    Some(version)
}

/// The version of a whole image, every byte of it accounted for.
///
/// # Errors
/// [`Said::Damaged`] or [`Said::NotSealed`]; `None`: it carries no mark.
pub fn check(image: &[u8]) -> Result<Version, Option<Said>> {
    let (at, version) = first(image).ok_or(None)?;
    let length = image.get(at + SEAL..).and_then(|rest| rest.first_chunk::<4>());
    match said(image, at) {
        Said::Whole if length.is_some_and(|l| u32::from_le_bytes(*l) as usize == image.len()) => {
            Ok(version)
        }
        Said::Whole => Err(Some(Said::Damaged)),
        other => Err(Some(other)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const VERSION: Version = Version { major: 1, minor: 20, patch: 255 };

    fn image() -> [u8; 300] {
        let mut bytes = [0x5A; 300];
        bytes[107..107 + LENGTH].copy_from_slice(&of(VERSION));
        bytes
    }

    #[test]
    fn a_mark_is_found_where_it_is_whole() {
        assert_eq!(find(&[0x5A; 60]), None);
        let bytes = image();
        assert_eq!(find(&bytes), Some(VERSION));
        assert_eq!(find(&bytes[..107 + LENGTH - 1]), None);
        for at in (107..107 + SEAL).filter(|at| !(123..126).contains(at)) {
            let mut damaged = bytes;
            damaged[at] ^= 1;
            assert_eq!(find(&damaged), None, "byte {at}");
        }
        assert_eq!(find(&[]), None);
    }

    /// An older host looks for these 21 bytes.
    #[test]
    fn a_mark_begins_as_it_always_did() {
        assert_eq!(&of(VERSION)[..21], b"skimgauge image\0\x01\x14\xFF\0\n");
    }

    #[test]
    fn no_flipped_bit_and_no_lost_end_of_a_sealed_image_passes() {
        let mut sealed = image();
        assert_eq!(check(&sealed), Err(Some(Said::NotSealed)));
        assert_eq!(seal(&mut sealed), Some(VERSION));
        assert_eq!(check(&sealed), Ok(VERSION));
        assert_eq!(said(&sealed, 107), Said::Whole);
        for bit in 0..sealed.len() * 8 {
            let mut damaged = sealed;
            damaged[bit / 8] ^= 1 << (bit % 8);
            assert!(check(&damaged).is_err(), "bit {bit}");
            assert_eq!(said(&damaged, 107), Said::Damaged, "bit {bit}");
        }
        for length in 0..sealed.len() {
            assert!(check(&sealed[..length]).is_err(), "{length} bytes");
        }
        // What is beyond is another's, and the head does not look at it; a file has nothing beyond.
        let mut longer = [0xFF; 400];
        longer[..300].copy_from_slice(&sealed);
        assert_eq!(said(&longer, 107), Said::Whole);
        assert_eq!(check(&longer), Err(Some(Said::Damaged)));
    }

    #[test]
    fn sealing_twice_changes_nothing() {
        let mut once = image();
        seal(&mut once);
        let mut twice = once;
        seal(&mut twice);
        assert_eq!(once, twice);
    }

    #[test]
    fn a_place_outside_the_image_is_damage_and_no_panic() {
        for at in [0, 1, 290, 300, 301, usize::MAX - LENGTH] {
            assert_eq!(said(&[0x11; 300], at), Said::Damaged);
        }
    }
}
