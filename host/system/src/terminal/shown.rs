//! Text on its way to a terminal.

use skimgauge_quantity::{shown_json, shown_lines};
use std::borrow::Cow;
use std::io::{self, Write};

/// Passes text on to a terminal as [`shown_lines`] or [`shown_json`] gives it, however it comes in
/// pieces.
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
            // Bytes that are no text are shown as such, and the last of them may again be a
            // beginning.
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
            self.to.write_all(char::REPLACEMENT_CHARACTER.encode_utf8(&mut [0; 4]).as_bytes())?;
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
            std::str::from_utf8(end)
                .is_err_and(|error| error.valid_up_to() == 0 && error.error_len().is_none())
        })
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use skimgauge_quantity::steers;

    #[test]
    fn bytes_that_are_no_text_are_shown_as_such() {
        let mut out = Vec::new();
        let mut shown = Shown::text(&mut out);
        // An overlong escape, a lone continuation byte, the first half of a character at the end.
        shown.write_all(b"a\xc0\x9bb\x80c\xe2\x80").unwrap();
        shown.flush().unwrap();
        let out = String::from_utf8(out).unwrap();
        assert!(
            out.starts_with('a')
                && out.contains('b')
                && out.contains('c')
                && !out.chars().any(steers),
            "{out:?}"
        );
    }

    proptest! {
        #[test]
        fn pieces_of_any_size_give_what_the_whole_gives(text in any::<String>(), step in 1_usize..7) {
            let text = format!("{text}\u{202e}\u{9b}{text}\x1b");
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
