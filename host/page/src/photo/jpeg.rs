//! JPEG, part by part (ITU-T T.81, annex B).

use super::{PhotoError, Step};
use exif::{In, Tag};

/// Start of image.
pub(super) const START: &[u8] = &[0xff, 0xd8];
const END: u8 = 0xd9;
const SCAN: u8 = 0xda;

/// Where in the picture the reading is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) enum Reading {
    #[default]
    Start,
    /// Between two parts.
    Part,
    /// In the data of a scan, which ends at the next marker that is no restart.
    Scan,
    /// Behind the end of the image: whatever comes there is let go.
    Over,
}

impl Reading {
    pub(super) fn is_over(self) -> bool {
        self == Self::Over
    }

    pub(super) fn step(&mut self, waiting: &[u8], out: &mut Vec<u8>) -> Result<Step, PhotoError> {
        match self {
            Self::Start => {
                out.extend_from_slice(START);
                *self = Self::Part;
                Ok(Step::On(START.len()))
            }
            Self::Part => self.part(waiting, out),
            Self::Scan => Ok(self.scan(waiting, out)),
            Self::Over if waiting.is_empty() => Ok(Step::More),
            Self::Over => Ok(Step::On(waiting.len())),
        }
    }

    fn part(&mut self, waiting: &[u8], out: &mut Vec<u8>) -> Result<Step, PhotoError> {
        let [0xff, marker, rest @ ..] = waiting else {
            return match waiting {
                [] | [0xff] => Ok(Step::More),
                _ => Err(PhotoError::Damaged),
            };
        };
        match *marker {
            // Any number of these may fill up before a marker.
            0xff => return Ok(Step::On(1)),
            END => {
                out.extend_from_slice(&[0xff, END]);
                *self = Self::Over;
                return Ok(Step::On(2));
            }
            // Restarts outside a scan, a second start, and markers that are none.
            0x00..=0xbf | 0xd0..=0xd8 => return Err(PhotoError::Damaged),
            _ => (),
        }
        let [high, low, ..] = rest else { return Ok(Step::More) };
        let length = usize::from(u16::from_be_bytes([*high, *low]));
        if length < 2 {
            return Err(PhotoError::Damaged);
        }
        let Some(part) = waiting.get(..2 + length) else { return Ok(Step::More) };
        match *marker {
            // JFIF's own, without the small picture that it may carry; a profile of colours; the
            // colours' transform. Every other application's part goes, Exif but for its one line.
            0xe0 if part[4..].starts_with(b"JFIF\0") && part.len() >= 18 => {
                out.extend_from_slice(&[0xff, 0xe0, 0, 16]);
                out.extend_from_slice(&part[4..16]);
                out.extend_from_slice(&[0, 0]);
            }
            0xe2 if part[4..].starts_with(b"ICC_PROFILE\0") => out.extend_from_slice(part),
            // Twelve bytes (ITU-T T.872, 6.5.3, from memory); what is behind them could be anything.
            0xee if part[4..].starts_with(b"Adobe") && part.len() >= 16 => {
                out.extend_from_slice(&[0xff, 0xee, 0, 14]);
                out.extend_from_slice(&part[4..16]);
            }
            0xe1 => {
                if let Some(data) = part[4..].strip_prefix(b"Exif\0\0") {
                    put_orientation(data, out);
                }
            }
            // Remarks, and parts that are kept for extensions: no picture of today needs them.
            0xc8 | 0xe0..=0xfe => (),
            _ => out.extend_from_slice(part),
        }
        if *marker == SCAN {
            *self = Self::Scan;
        }
        Ok(Step::On(part.len()))
    }

    fn scan(&mut self, waiting: &[u8], out: &mut Vec<u8>) -> Step {
        let until = waiting.iter().position(|byte| *byte == 0xff).unwrap_or(waiting.len());
        out.extend_from_slice(&waiting[..until]);
        match waiting.get(until + 1) {
            Some(stuffed @ (0x00 | 0xd0..=0xd7)) => {
                out.extend_from_slice(&[0xff, *stuffed]);
                Step::On(until + 2)
            }
            Some(0xff) => Step::On(until + 1),
            Some(_) => {
                *self = Self::Part;
                Step::On(until)
            }
            None if until > 0 => Step::On(until),
            None => Step::More,
        }
    }
}

/// Which way up, and nothing else, as Exif (CIPA DC-008, 4.6): one field of one directory.
fn put_orientation(data: &[u8], out: &mut Vec<u8>) {
    let Ok(read) = exif::Reader::new().read_raw(data.to_vec()) else { return };
    let orientation = read
        .get_field(Tag::Orientation, In::PRIMARY)
        .and_then(|field| field.value.get_uint(0))
        .and_then(|value| u8::try_from(value).ok())
        .filter(|value| (2..=8).contains(value));
    let Some(orientation) = orientation else { return };
    out.extend_from_slice(&[0xff, 0xe1, 0, 34]);
    out.extend_from_slice(b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01");
    out.extend_from_slice(&[0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, orientation, 0, 0, 0, 0, 0, 0]);
}

#[cfg(test)]
mod tests {
    use super::super::{Cleared, Kind};
    use super::*;
    use std::io::Cursor;

    fn part(marker: u8, data: &[u8]) -> Vec<u8> {
        let length = u16::try_from(data.len() + 2).unwrap().to_be_bytes();
        [&[0xff, marker], &length[..], data].concat()
    }

    /// Exif of a phone: upside down, and where it was taken.
    fn exif() -> Vec<u8> {
        let mut tiff = b"MM\0\x2a\0\0\0\x08".to_vec();
        // Two fields: orientation 3, and where the places stand.
        tiff.extend_from_slice(&[0, 2]);
        tiff.extend_from_slice(&[0x01, 0x12, 0, 3, 0, 0, 0, 1, 0, 3, 0, 0]);
        tiff.extend_from_slice(&[0x88, 0x25, 0, 4, 0, 0, 0, 1, 0, 0, 0, 38]);
        tiff.extend_from_slice(&[0, 0, 0, 0]);
        // One field there: latitude north, degrees 48.
        tiff.extend_from_slice(&[0, 1, 0, 2, 0, 5, 0, 0, 0, 3, 0, 0, 0, 56, 0, 0, 0, 0]);
        for degree in [48_u32, 51, 29] {
            tiff.extend_from_slice(&degree.to_be_bytes());
            tiff.extend_from_slice(&1_u32.to_be_bytes());
        }
        [b"Exif\0\0", &tiff[..]].concat()
    }

    /// A picture with everything in it that a phone puts there.
    fn picture() -> Vec<u8> {
        [
            START.to_vec(),
            part(0xe0, b"JFIF\0\x01\x02\0\0\x48\0\x48\x01\x01PLACE"),
            part(0xe1, &exif()),
            part(0xe1, b"http://ns.adobe.com/xap/1.0/\0<x GPS='PLACE'/>"),
            part(0xe2, b"ICC_PROFILE\0\x01\x01colours"),
            part(0xe2, b"MPF\0PLACE"),
            part(0xed, b"Photoshop 3.0\0PLACE"),
            part(0xee, b"Adobe\0\x64\0\0\0\0\x01"),
            part(0xfe, b"taken at PLACE"),
            part(0xdb, &[1; 65]),
            part(0xc0, &[8, 0, 1, 0, 1, 1, 1, 0x11, 0]),
            part(0xda, &[1, 1, 0, 0, 63, 0]),
            vec![0x12, 0xff, 0x00, 0x34, 0xff, 0xd0, 0x56],
            part(0xc4, &[2; 20]),
            part(0xda, &[1, 1, 0, 1, 63, 0]),
            vec![0x78, 0xff, 0xd9],
            b"\xff\xd8\xff\xe1 a second picture, a film: PLACE".to_vec(),
        ]
        .concat()
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
        // What goes in holds the place, in the eyes of the same reader.
        let before = exif::Reader::new().read_from_container(&mut Cursor::new(picture())).unwrap();
        assert!(before.get_field(Tag::GPSLatitude, In::PRIMARY).is_some());
        let (kind, out) = cleared(&picture(), 7).unwrap();
        assert_eq!(kind, Kind::Jpeg);
        assert!(!out.windows(5).any(|window| window == b"PLACE"));
        let after = exif::Reader::new().read_from_container(&mut Cursor::new(&out)).unwrap();
        assert_eq!(after.fields().count(), 1, "orientation alone");
        let orientation = after.get_field(Tag::Orientation, In::PRIMARY).unwrap();
        assert_eq!(orientation.value.get_uint(0), Some(3));
        for kept in [
            &b"colours"[..],
            &[0x12, 0xff, 0x00, 0x34, 0xff, 0xd0, 0x56, 0xff, 0xc4],
            &[0x78, 0xff, 0xd9],
            b"Adobe\0\x64",
        ] {
            assert!(out.windows(kept.len()).any(|window| window == kept), "{kept:?}");
        }
        assert!(out.ends_with(&[0xff, 0xd9]));
    }

    #[test]
    fn in_whatever_pieces_it_comes_the_same_gets_through() {
        let whole = cleared(&picture(), usize::MAX).unwrap();
        for step in [1, 2, 3, 5, 64, 200] {
            assert_eq!(cleared(&picture(), step).unwrap(), whole, "{step}");
        }
        // What is through is let through as it is.
        assert_eq!(cleared(&whole.1, 9).unwrap(), whole);
    }

    #[test]
    fn what_ends_early_or_makes_no_sense_is_refused() {
        let picture = picture();
        let end = picture.windows(2).rposition(|two| two == [0xff, 0xd9]).unwrap();
        for short in [2, 3, 20, 150, end, end + 1] {
            assert_eq!(cleared(&picture[..short], 16).unwrap_err(), PhotoError::Short, "{short}");
        }
        for damaged in [
            &b"\xff\xd8\x00"[..],
            b"\xff\xd8\xff\xe0\0\x01",
            b"\xff\xd8\xff\xd8",
            b"\xff\xd8\xff\x01",
        ] {
            assert_eq!(cleared(damaged, 16).unwrap_err(), PhotoError::Damaged, "{damaged:?}");
        }
    }
}
