//! A picture from a phone without the places in its data, as it streams by.
//!
//! A picture of a phone says where it was taken, in several ways: Exif, XMP, a maker's own notes, a
//! second picture or a film behind the first. So nothing is looked for and cut out; only what a
//! picture needs is let through: its image, its colours, and which way up it is. Of Exif the
//! orientation alone is written anew.

mod jpeg;
mod png;

use std::fmt;

/// Largest picture, bytes.
pub const LARGEST: u64 = 16 << 20;

/// What kind of picture it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// JPEG.
    Jpeg,
    /// PNG.
    Png,
}

impl Kind {
    /// As in `image/jpeg`.
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
        }
    }

    /// The end of its file's name.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Jpeg => "jpg",
            Self::Png => "png",
        }
    }
}

/// Why a picture is not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PhotoError {
    /// Neither JPEG nor PNG.
    OtherKind,
    /// Its parts do not fit together.
    Damaged,
    /// It ends in its midst.
    Short,
    /// More than [`LARGEST`].
    TooLarge,
}

impl fmt::Display for PhotoError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::OtherKind => {
                "this is neither a JPEG nor a PNG picture: choose \"most compatible\" in the camera's settings, or send a screenshot"
            }
            Self::Damaged => "the picture is damaged: take it again",
            Self::Short => "the picture did not come whole: send it again",
            Self::TooLarge => "the picture is larger than 16 MB: choose a smaller size in the camera",
        })
    }
}

impl std::error::Error for PhotoError {}

/// Lets a picture through, piece by piece.
#[derive(Debug, Default)]
pub struct Cleared {
    came: u64,
    /// What was not looked at yet; bounded by the largest part that is read whole.
    waiting: Vec<u8>,
    reading: Reading,
}

#[derive(Debug, Default)]
enum Reading {
    #[default]
    Nothing,
    Jpeg(jpeg::Reading),
    Png(png::Reading),
}

/// What a step over the waiting bytes came to.
enum Step {
    /// So many bytes are done with.
    On(usize),
    /// More must come first.
    More,
}

impl Cleared {
    /// A piece came: what of it is let through is put behind `out`.
    ///
    /// # Errors
    /// [`PhotoError`]; nothing of this picture is worth keeping then.
    pub fn piece(&mut self, piece: &[u8], out: &mut Vec<u8>) -> Result<(), PhotoError> {
        self.came += piece.len() as u64;
        if self.came > LARGEST {
            return Err(PhotoError::TooLarge);
        }
        self.waiting.extend_from_slice(piece);
        let mut done = 0;
        loop {
            let waiting = &self.waiting[done..];
            let step = match &mut self.reading {
                Reading::Nothing => match begins(waiting)? {
                    Some(reading) => {
                        self.reading = reading;
                        Step::On(0)
                    }
                    None => Step::More,
                },
                Reading::Jpeg(reading) => reading.step(waiting, out)?,
                Reading::Png(reading) => reading.step(waiting, out)?,
            };
            match step {
                Step::On(count) => done += count,
                Step::More => break,
            }
        }
        self.waiting.drain(..done);
        Ok(())
    }

    /// Nothing more comes: which kind of picture it was.
    ///
    /// # Errors
    /// [`PhotoError::Short`] where it is not at its end.
    pub fn end(self) -> Result<Kind, PhotoError> {
        match self.reading {
            Reading::Jpeg(reading) if reading.is_over() => Ok(Kind::Jpeg),
            Reading::Png(reading) if reading.is_over() => Ok(Kind::Png),
            _ => Err(PhotoError::Short),
        }
    }
}

fn begins(waiting: &[u8]) -> Result<Option<Reading>, PhotoError> {
    let both = |start: &[u8]| waiting.iter().zip(start).all(|(a, b)| a == b);
    if waiting.len() >= 2 && both(jpeg::START) {
        Ok(Some(Reading::Jpeg(jpeg::Reading::default())))
    } else if waiting.len() >= png::START.len() && both(png::START) {
        Ok(Some(Reading::Png(png::Reading::default())))
    } else if both(jpeg::START) || both(png::START) {
        Ok(None)
    } else {
        Err(PhotoError::OtherKind)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn whatever_comes_nothing_panics_and_little_waits(
            kind in 0..2,
            bytes in prop::collection::vec(any::<u8>(), 0..4000),
            step in 1..700_usize,
        ) {
            let start: &[u8] = if kind == 0 { jpeg::START } else { png::START };
            let mut cleared = Cleared::default();
            let mut out = Vec::new();
            for piece in [start, &bytes].concat().chunks(step) {
                if cleared.piece(piece, &mut out).is_err() {
                    break;
                }
                prop_assert!(cleared.waiting.len() < (64 << 10) + 4 + step);
            }
            let _ = cleared.end();
        }
    }

    #[test]
    fn what_is_no_picture_is_refused_at_its_first_byte() {
        for bytes in
            [&b"<svg onload=x>"[..], b"GIF89a", b"\0\0\0\x18ftypheic", b"%PDF", b"\xff\xd7"]
        {
            let refused = Cleared::default().piece(bytes, &mut Vec::new());
            assert_eq!(refused, Err(PhotoError::OtherKind), "{bytes:?}");
        }
        assert_eq!(Cleared::default().end(), Err(PhotoError::Short));
    }

    #[test]
    fn more_than_sixteen_megabytes_are_refused_as_they_come() {
        let mut cleared = Cleared::default();
        let mut out = Vec::new();
        // A picture that never ends: one scan, and in it zeros.
        cleared.piece(b"\xff\xd8\xff\xda\0\x04\0\0", &mut out).unwrap();
        let piece = vec![0; 1 << 20];
        for _ in 0..15 {
            cleared.piece(&piece, &mut out).unwrap();
            out.clear();
        }
        assert_eq!(cleared.piece(&piece, &mut out), Err(PhotoError::TooLarge));
    }
}
