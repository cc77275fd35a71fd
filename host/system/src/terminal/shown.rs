//! Foreign text as a terminal may show it.

use std::borrow::Cow;
use std::io::{self, Write};

/// Stands where something was that must not reach a terminal.
const INSTEAD: char = '\u{fffd}';

/// Whether a character steers a terminal, reorders what is read, or breaks a line where nobody expects it.
///
/// C0, DEL and C1 (ECMA-48), the bidirectional controls (Unicode Standard Annex 9, section 2), the deprecated format
/// characters after them, line and paragraph separator.
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{206f}')
}

/// One line that steers nothing, whoever wrote it: line breaks and tabs are replaced, too.
pub fn shown(text: &str) -> Cow<'_, str> {
    replaced(text, steers)
}

/// [`shown`] for text of several lines.
pub fn shown_lines(text: &str) -> Cow<'_, str> {
    replaced(text, |c| c != '\n' && steers(c))
}

fn replaced(text: &str, bad: impl Fn(char) -> bool) -> Cow<'_, str> {
    if text.chars().any(&bad) {
        Cow::Owned(text.chars().map(|c| if bad(c) { INSTEAD } else { c }).collect())
    } else {
        Cow::Borrowed(text)
    }
}

/// JSON that steers no terminal and means the same: such characters stand in its texts only, where `\u` escapes them.
pub fn shown_json(json: &str) -> Cow<'_, str> {
    if !json.chars().any(|c| !c.is_ascii_control() && steers(c) || c == '\u{7f}') {
        return Cow::Borrowed(json);
    }
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        // JSON's own line breaks stay; C0 in its texts is escaped already (RFC 8259, section 7).
        if steers(c) && (!c.is_ascii_control() || c == '\u{7f}') {
            out.push_str(&format!("\\u{:04x}", u32::from(c)));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// Passes text on to a terminal as [`shown_lines`] or [`shown_json`] gives it, however it comes in pieces.
#[derive(Debug)]
pub struct Shown<W: Write> {
    to: W,
    how: fn(&str) -> Cow<'_, str>,
    /// The beginning of a character whose end has not come yet.
    held: Vec<u8>,
}

impl<W: Write> Shown<W> {
    /// Text for people.
    pub fn text(to: W) -> Self {
        Self { to, how: shown_lines, held: Vec::new() }
    }

    /// JSON.
    pub fn json(to: W) -> Self {
        Self { to, how: shown_json, held: Vec::new() }
    }
}

impl<W: Write> Write for Shown<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.held.extend_from_slice(bytes);
        // What could still become a character waits for the rest of it: at most three bytes.
        let cut = match std::str::from_utf8(&self.held) {
            Err(error) if error.error_len().is_none() => error.valid_up_to(),
            // Bytes that are no text are shown as such, and the last of them may again be a beginning.
            Err(_) => self.held.len() - unfinished(&self.held),
            Ok(_) => self.held.len(),
        };
        let whole: Vec<u8> = self.held.drain(..cut).collect();
        self.to.write_all((self.how)(&String::from_utf8_lossy(&whole)).as_bytes())?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        if !self.held.is_empty() {
            self.held.clear();
            self.to.write_all(INSTEAD.encode_utf8(&mut [0; 4]).as_bytes())?;
        }
        self.to.flush()
    }
}

/// How many bytes at the end begin a character and do not end it.
fn unfinished(bytes: &[u8]) -> usize {
    let tail = &bytes[bytes.len().saturating_sub(3)..];
    (1..=tail.len())
        .find(|length| {
            let end = &tail[tail.len() - length..];
            std::str::from_utf8(end).is_err_and(|error| error.valid_up_to() == 0 && error.error_len().is_none())
        })
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Each of these has moved a cursor, hidden a word or turned one round on some terminal.
    const STEERING: [char; 21] = [
        '\0', '\x07', '\x08', '\t', '\n', '\r', '\x1b', '\x7f', '\u{85}', '\u{9b}', '\u{9d}', '\u{61c}', '\u{200e}',
        '\u{200f}', '\u{2028}', '\u{2029}', '\u{202a}', '\u{202e}', '\u{2066}', '\u{2069}', '\u{206a}',
    ];

    #[test]
    fn nothing_that_steers_is_shown() {
        for c in STEERING {
            let text = format!("a{c}b");
            assert_eq!(shown(&text), "a\u{fffd}b", "{c:?}");
            assert!(matches!(shown("Räume 2–14, \u{5d0}\u{1f6e0}"), Cow::Borrowed(_)));
        }
        assert_eq!(shown_lines("a\nb\x1b[2Jc"), "a\nb\u{fffd}[2Jc");
    }

    #[test]
    fn json_means_the_same_and_steers_nothing() {
        assert_eq!(shown_json("{\n \"a\": \"x\u{202e}y\u{7f}\u{9b}\"\n}"), "{\n \"a\": \"x\\u202ey\\u007f\\u009b\"\n}");
        assert!(matches!(shown_json("{\n \"a\": 1\n}\n"), Cow::Borrowed(_)));
    }

    #[test]
    fn bytes_that_are_no_text_are_shown_as_such() {
        let mut out = Vec::new();
        let mut shown = Shown::text(&mut out);
        // An overlong escape, a lone continuation byte, the first half of a character at the end.
        shown.write_all(b"a\xc0\x9bb\x80c\xe2\x80").unwrap();
        shown.flush().unwrap();
        let out = String::from_utf8(out).unwrap();
        assert!(out.starts_with('a') && out.contains('b') && out.contains('c') && !out.chars().any(steers), "{out:?}");
    }

    proptest! {
        #[test]
        fn pieces_of_any_size_give_what_the_whole_gives(text in any::<String>(), at in any::<usize>(), step in 1_usize..7) {
            let text = format!("{text}\u{202e}{}\x1b", &STEERING[at % STEERING.len()]);
            let mut out = Vec::new();
            let mut shown = Shown::text(&mut out);
            for piece in text.as_bytes().chunks(step) {
                shown.write_all(piece).unwrap();
            }
            shown.flush().unwrap();
            prop_assert_eq!(String::from_utf8(out).unwrap(), shown_lines(&text));
        }

        #[test]
        fn any_bytes_steer_nothing(bytes in proptest::collection::vec(any::<u8>(), 0..64), step in 1_usize..7) {
            let mut out = Vec::new();
            let mut shown = Shown::text(&mut out);
            for piece in bytes.chunks(step) {
                shown.write_all(piece).unwrap();
            }
            shown.flush().unwrap();
            let out = String::from_utf8(out).unwrap();
            prop_assert!(!out.chars().any(|c| c != '\n' && steers(c)), "{:?}", out);
        }
    }
}
