//! PNG, chunk by chunk (ISO/IEC 15948, clause 5).

use super::{PhotoError, Step};

/// The signature.
pub(super) const START: &[u8] = b"\x89PNG\r\n\x1a\n";

/// Chunks that make up the image and its colours; every other goes: texts, times, Exif.
const KEPT: [&[u8; 4]; 12] = [
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB",
    b"pHYs", b"bKGD",
];

/// Where in the picture the reading is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) enum Reading {
    #[default]
    Start,
    /// Between two chunks.
    Between,
    /// In a chunk, with its checksum: so many bytes are left.
    In { left: u64, kept: bool, last: bool },
    /// Behind the last chunk: whatever comes there is let go.
    Over,
}

impl Reading {
    pub(super) fn is_over(self) -> bool {
        self == Self::Over
    }

    pub(super) fn step(&mut self, waiting: &[u8], out: &mut Vec<u8>) -> Result<Step, PhotoError> {
        match *self {
            Self::Start => {
                out.extend_from_slice(START);
                *self = Self::Between;
                Ok(Step::On(START.len()))
            }
            Self::Between => {
                let [a, b, c, d, name @ ..] = waiting else { return Ok(Step::More) };
                let Some(name) = name.first_chunk::<4>() else { return Ok(Step::More) };
                let length = u32::from_be_bytes([*a, *b, *c, *d]);
                if length > i32::MAX as u32 || !name.iter().all(u8::is_ascii_alphabetic) {
                    return Err(PhotoError::Damaged);
                }
                let kept = KEPT.contains(&name);
                if kept {
                    out.extend_from_slice(&waiting[..8]);
                }
                *self = Self::In { left: u64::from(length) + 4, kept, last: name == b"IEND" };
                Ok(Step::On(8))
            }
            Self::In { left: 0, last, .. } => {
                *self = if last { Self::Over } else { Self::Between };
                Ok(Step::On(0))
            }
            Self::In { left, kept, last } => {
                if waiting.is_empty() {
                    return Ok(Step::More);
                }
                let count = usize::try_from(left).unwrap_or(usize::MAX).min(waiting.len());
                if kept {
                    out.extend_from_slice(&waiting[..count]);
                }
                *self = Self::In { left: left - count as u64, kept, last };
                Ok(Step::On(count))
            }
            Self::Over if waiting.is_empty() => Ok(Step::More),
            Self::Over => Ok(Step::On(waiting.len())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Cleared, Kind};
    use super::*;

    fn chunk(name: &[u8; 4], data: &[u8]) -> Vec<u8> {
        let length = u32::try_from(data.len()).unwrap().to_be_bytes();
        [&length[..], name, data, b"sum."].concat()
    }

    fn cleared(picture: &[u8], step: usize) -> Result<(Kind, Vec<u8>), PhotoError> {
        let (mut cleared, mut out) = (Cleared::default(), Vec::new());
        for piece in picture.chunks(step) {
            cleared.piece(piece, &mut out)?;
        }
        Ok((cleared.end()?, out))
    }

    #[test]
    fn no_place_gets_through_and_the_image_does() {
        let image = [chunk(b"IHDR", &[0; 13]), chunk(b"iCCP", b"colours")];
        let rest = [chunk(b"IDAT", &[7; 90]), chunk(b"IDAT", b""), chunk(b"IEND", b"")];
        let places = [
            chunk(b"eXIf", b"PLACE"),
            chunk(b"tEXt", b"Comment\0PLACE"),
            chunk(b"iTXt", b"XML:com.adobe.xmp\0PLACE"),
            chunk(b"zTXt", b"PLACE"),
            chunk(b"tIME", b"PLACE.."),
        ];
        let picture =
            [START.to_vec(), image.concat(), places.concat(), rest.concat(), b"PLACE".to_vec()]
                .concat();
        let wanted = [START.to_vec(), image.concat(), rest.concat()].concat();
        for step in [1, 3, 8, 50, usize::MAX] {
            assert_eq!(cleared(&picture, step).unwrap(), (Kind::Png, wanted.clone()), "{step}");
        }
        assert_eq!(cleared(&wanted[..wanted.len() - 1], 9).unwrap_err(), PhotoError::Short);
        assert_eq!(
            cleared(&[START, b"\xff\0\0\0IDAT"].concat(), 9).unwrap_err(),
            PhotoError::Damaged
        );
        assert_eq!(
            cleared(&[START, b"\0\0\0\0ID T"].concat(), 9).unwrap_err(),
            PhotoError::Damaged
        );
    }
}
