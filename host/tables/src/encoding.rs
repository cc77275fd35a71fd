//! From bytes to text: UTF-8 with or without its mark, UTF-16 as spreadsheets write it.

use std::borrow::Cow;

use crate::LARGEST_BYTES;
use crate::error::{Problem, TableError};

const SAVE_AS_TEXT: &str = "save the sheet as \"CSV UTF-8\"";

/// The text of a table.
pub(crate) fn text(bytes: &[u8]) -> Result<Cow<'_, str>, TableError> {
    if bytes.len() > LARGEST_BYTES {
        return Err(Problem::TooLong { most: LARGEST_BYTES >> 20, unit: "MiB" }.at(1));
    }
    if let Some(found) = no_table(bytes) {
        return Err(Problem::NotText { found }.at(1).suggest(SAVE_AS_TEXT));
    }
    let text = match bytes {
        [0xff, 0xfe, rest @ ..] => Cow::Owned(utf_16(rest, u16::from_le_bytes)?),
        [0xfe, 0xff, rest @ ..] => Cow::Owned(utf_16(rest, u16::from_be_bytes)?),
        _ => match unmarked_utf_16(bytes) {
            Some(from) => Cow::Owned(utf_16(bytes, from)?),
            None => Cow::Borrowed(
                std::str::from_utf8(bytes)
                    .map_err(|error| not_utf_8(bytes, error.valid_up_to()))?,
            ),
        },
    };
    let text = match text {
        Cow::Borrowed(text) => Cow::Borrowed(text.strip_prefix('\u{feff}').unwrap_or(text)),
        owned => owned,
    };
    if let Some(at) = text.find('\0') {
        return Err(Problem::NotText { found: "a file with zero bytes in it" }
            .at(line_of(&text, at))
            .suggest(SAVE_AS_TEXT));
    }
    Ok(if text.contains('\r') {
        Cow::Owned(text.replace("\r\n", "\n").replace('\r', "\n"))
    } else {
        text
    })
}

/// Files that one means to save as a table and does not: told by how they begin.
fn no_table(bytes: &[u8]) -> Option<&'static str> {
    [
        // APPNOTE.TXT of the zip format, 4.3.7: workbooks are zip archives. [MS-CFB] 2.2: those of
        // before 2007.
        (&b"PK\x03\x04"[..], "a spreadsheet's workbook"),
        (b"\xd0\xcf\x11\xe0", "a spreadsheet's workbook"),
        (b"%PDF", "a PDF"),
    ]
    .into_iter()
    .find(|(begins, _)| bytes.starts_with(begins))
    .map(|(_, found)| found)
}

/// How to read UTF-16 that has no mark: every other byte of a table in Latin letters is zero.
fn unmarked_utf_16(bytes: &[u8]) -> Option<fn([u8; 2]) -> u16> {
    let start = &bytes[..bytes.len().min(64) & !1];
    if start.is_empty() || !bytes.len().is_multiple_of(2) {
        return None;
    }
    let zeros = |odd: usize| start.iter().skip(odd).step_by(2).filter(|byte| **byte == 0).count();
    let most = start.len() / 4;
    match (zeros(0), zeros(1)) {
        (0, odd) if odd > most => Some(u16::from_le_bytes),
        (even, 0) if even > most => Some(u16::from_be_bytes),
        _ => None,
    }
}

fn utf_16(bytes: &[u8], from: fn([u8; 2]) -> u16) -> Result<String, TableError> {
    let broken = |text: &str| {
        Problem::NotText { found: "broken UTF-16" }
            .at(line_of(text, text.len()))
            .suggest(SAVE_AS_TEXT)
    };
    let (pairs, rest) = bytes.as_chunks::<2>();
    let mut text = String::with_capacity(bytes.len() / 2);
    for unit in char::decode_utf16(pairs.iter().map(|pair| from(*pair))) {
        text.push(unit.map_err(|_| broken(&text))?);
    }
    if rest.is_empty() { Ok(text) } else { Err(broken(&text)) }
}

fn not_utf_8(bytes: &[u8], valid_up_to: usize) -> TableError {
    let line = 1 + bytes[..valid_up_to].iter().filter(|byte| **byte == b'\n').count();
    Problem::NotUtf8.at(line).suggest("save the table as UTF-8 (in a spreadsheet: \"CSV UTF-8\")")
}

fn line_of(text: &str, at: usize) -> usize {
    1 + text[..at].matches('\n').count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn utf_16_of(text: &str, bytes: fn(u16) -> [u8; 2]) -> Vec<u8> {
        text.encode_utf16().flat_map(bytes).collect()
    }

    #[test]
    fn every_encoding_of_a_spreadsheet_gives_the_same_text() {
        let wanted = "station\ttemp \u{b0}\nK\u{fc}che\t1\n";
        let crlf = wanted.replace('\n', "\r\n");
        let marked = format!("\u{feff}{crlf}");
        for bytes in [
            wanted.as_bytes().to_vec(),
            wanted.replace('\n', "\r").into_bytes(),
            marked.clone().into_bytes(),
            utf_16_of(&marked, u16::to_le_bytes),
            utf_16_of(&marked, u16::to_be_bytes),
            utf_16_of(&crlf, u16::to_le_bytes),
            utf_16_of(&crlf, u16::to_be_bytes),
        ] {
            assert_eq!(text(&bytes).unwrap(), wanted);
        }
    }

    #[test]
    fn what_is_no_text_is_told_with_what_to_do() {
        let said = |bytes: &[u8]| text(bytes).unwrap_err().to_string();
        assert_eq!(
            said(b"PK\x03\x04\x14\0"),
            "line 1: this is a spreadsheet's workbook, not a table of text; save the sheet as \"CSV UTF-8\""
        );
        assert!(said(b"\xd0\xcf\x11\xe0\xa1\xb1").contains("workbook"));
        assert!(
            said(b"station\nK\xfcche,1\n")
                .starts_with("line 2: this is not UTF-8 text; save the table as UTF-8")
        );
        assert!(said(b"\xff\xfea\0\n\0b").starts_with("line 2: this is broken UTF-16"));
        assert!(said(b"\xff\xfe\x00\xd8a\0").contains("broken UTF-16"));
        assert!(
            said(b"a,b\n1,\0\n2,3\n4,5\n").starts_with("line 2: this is a file with zero bytes")
        );
        assert!(said(&vec![b'a'; LARGEST_BYTES + 1]).contains("longer than 64 MiB"));
    }
}
