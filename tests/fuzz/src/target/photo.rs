//! Pictures from a phone: in whatever pieces they come, the same is let through; never more than
//! came but for the orientation written anew; what was let through is let through again unchanged,
//! and of the data that names places nothing is left.

use crate::Target;
use skimgauge_page::photo::{Cleared, Kind, PhotoError};

/// Pictures.
pub const TARGET: Target = Target {
    name: "photo",
    check,
    each_run: 150_000,
    words: &[
        "Exif\0\0",
        "MM\0*\0\0\0\u{8}",
        "II*\0",
        "IHDR",
        "IDAT",
        "IEND",
        "eXIf",
        "tEXt",
        "iTXt",
        "http://ns.adobe.com/xap/1.0/\0",
        "MPF\0",
        "ICC_PROFILE\0",
    ],
};

/// An orientation's Exif, written anew.
const ORIENTATION: usize = 64;

fn cleared(bytes: &[u8], step: usize) -> Result<(Kind, Vec<u8>), PhotoError> {
    let mut cleared = Cleared::default();
    let mut out = Vec::new();
    for piece in bytes.chunks(step.max(1)) {
        cleared.piece(piece, &mut out)?;
    }
    Ok((cleared.end()?, out))
}

fn check(input: &[u8]) {
    let whole = cleared(input, input.len());
    for step in [1, 7, 500] {
        assert_eq!(cleared(input, step), whole, "in pieces of {step} bytes it is the same");
    }
    let Ok((kind, out)) = whole else { return };
    assert!(out.len() <= input.len() + ORIENTATION);
    assert_eq!(cleared(&out, out.len()), Ok((kind, out.clone())), "cleared twice is cleared once");
    match kind {
        Kind::Jpeg => jpeg_parts(&out).into_iter().for_each(needed_by_a_jpeg),
        Kind::Png => png_parts(&out).into_iter().for_each(needed_by_a_png),
    }
}

/// Tables, frames, restarts and scans; JFIF, colours, and which way up (ITU-T T.81, table B.1).
fn needed_by_a_jpeg((marker, body): (&[u8], &[u8])) {
    let needed = match marker {
        [0xC0..=0xC7 | 0xC9..=0xCF | 0xDA..=0xDF] => true,
        [0xE0] => body.starts_with(b"JFIF\0") && body.len() == 14,
        [0xE1] => body.starts_with(b"Exif\0\0") && body.len() == 32,
        [0xE2] => body.starts_with(b"ICC_PROFILE\0"),
        [0xEE] => body.starts_with(b"Adobe") && body.len() == 12,
        _ => false,
    };
    assert!(needed, "part {marker:02X?} of {} bytes is let through", body.len());
}

/// Image and colours (W3C PNG, 11).
fn needed_by_a_png((name, body): (&[u8], &[u8])) {
    let told = matches!(name, b"tEXt" | b"zTXt" | b"iTXt" | b"tIME" | b"eXIf");
    assert!(!told, "a {} of {} bytes is let through", name.escape_ascii(), body.len());
}

/// Marker and contents of each segment before the first scan (ITU-T T.81, B.1.1).
fn jpeg_parts(bytes: &[u8]) -> Vec<(&[u8], &[u8])> {
    let mut parts = Vec::new();
    let mut rest = &bytes[2..];
    while let [0xFF, marker, high, low, behind @ ..] = rest {
        let length = usize::from(*high) << 8 | usize::from(*low);
        if *marker == 0xDA || length < 2 || behind.len() < length - 2 {
            break;
        }
        parts.push((&rest[1..2], &behind[..length - 2]));
        rest = &behind[length - 2..];
    }
    parts
}

/// Type and data of each chunk (W3C PNG, 5.3).
fn png_parts(bytes: &[u8]) -> Vec<(&[u8], &[u8])> {
    let mut parts = Vec::new();
    let mut rest = &bytes[8..];
    while let [a, b, c, d, behind @ ..] = rest {
        let length = u32::from_be_bytes([*a, *b, *c, *d]) as usize;
        if behind.len() < length + 8 {
            break;
        }
        parts.push((&behind[..4], &behind[4..4 + length]));
        rest = &behind[length + 8..];
    }
    parts
}
