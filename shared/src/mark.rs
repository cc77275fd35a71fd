//! How a flash image is known as a head's before it is written: it carries a mark with its version.

use crate::identity::Version;

const TEXT: &[u8; 16] = b"skimgauge image\0";

/// Bytes of a mark: a text, three numbers of the version, a zero, a line end.
pub const LENGTH: usize = TEXT.len() + 5;

/// The mark of an image of this version.
pub const fn of(version: Version) -> [u8; LENGTH] {
    let mut mark = *b"skimgauge image\0\0\0\0\0\n";
    mark[TEXT.len()] = version.major;
    mark[TEXT.len() + 1] = version.minor;
    mark[TEXT.len() + 2] = version.patch;
    mark
}

/// The version in the first mark that the bytes hold; `None`: they hold none.
pub fn find(bytes: &[u8]) -> Option<Version> {
    bytes.array_windows::<LENGTH>().find_map(|window| {
        let (text, [major, minor, patch, 0, b'\n']) = window.split_first_chunk::<16>()? else {
            return None;
        };
        (text == TEXT).then_some(Version { major: *major, minor: *minor, patch: *patch })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_is_found_where_it_is_whole() {
        let version = Version { major: 1, minor: 20, patch: 255 };
        let mut bytes = [0x5A; 60];
        assert_eq!(find(&bytes), None);
        bytes[7..7 + LENGTH].copy_from_slice(&of(version));
        assert_eq!(find(&bytes), Some(version));
        assert_eq!(find(&bytes[..7 + LENGTH - 1]), None);
        for at in (7..7 + LENGTH).filter(|at| !(23..26).contains(at)) {
            let mut damaged = bytes;
            damaged[at] ^= 1;
            assert_eq!(find(&damaged), None, "byte {at}");
        }
        assert_eq!(find(&[]), None);
    }
}
