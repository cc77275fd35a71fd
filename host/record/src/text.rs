//! Characters that say nothing and steer the screen instead: what may stand in a record, and how a foreign one is shown.

/// Marks that turn the direction of writing (Unicode Standard Annex 9, section 2): with them a text shows another than it is.
fn turns_direction(c: char) -> bool {
    matches!(c, '\u{061c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Characters that show nothing or end a line where none ends.
fn hides(c: char) -> bool {
    matches!(c, '\u{200b}' | '\u{2028}' | '\u{2029}' | '\u{2060}'..='\u{2065}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

/// Whether a character moves, colours or reorders instead of showing something: control characters (C0, delete, C1), marks
/// of direction, invisible ones.
pub fn steers(c: char) -> bool {
    c.is_control() || turns_direction(c) || hides(c)
}

/// The text as a terminal may show it, on one line: each character that steers is shown as U+FFFD.
pub fn plain(text: &str) -> String {
    text.chars().map(|c| if steers(c) { char::REPLACEMENT_CHARACTER } else { c }).collect()
}

/// The same over several lines.
pub fn plain_lines(text: &str) -> String {
    text.chars().map(|c| if steers(c) && c != '\n' { char::REPLACEMENT_CHARACTER } else { c }).collect()
}

/// JSON text with every character that steers, line feeds of its layout excepted, as an escape: the same values, and safe on a
/// terminal. Such characters stand only inside strings.
pub fn json(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if steers(c) && c != '\n' {
            // RFC 8259, section 7: beyond the Basic Multilingual Plane as a pair of surrogates.
            c.encode_utf16(&mut [0; 2]).iter().for_each(|unit| out.push_str(&format!("\\u{unit:04x}")));
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_steers_is_shown_as_such() {
        assert_eq!(
            plain("a\u{1b}[2Jb\u{9b}31mc\u{202e}d\r\ne\u{7f}"),
            "a\u{fffd}[2Jb\u{fffd}31mc\u{fffd}d\u{fffd}\u{fffd}e\u{fffd}"
        );
        assert_eq!(plain_lines("a\n\tb"), "a\n\u{fffd}b");
        // Names of people: umlauts, right-to-left letters, a joiner that Persian and emoji need.
        for good in ["Überhang", "مكتبة", "می\u{200c}خواهم", "図書館"] {
            assert_eq!(plain(good), good);
        }
    }

    proptest! {
        #[test]
        fn json_says_the_same_and_steers_nothing(text in "(?s).*") {
            let value = serde_json::json!({ &text: [&text] });
            let shown = json(&serde_json::to_string_pretty(&value).unwrap());
            prop_assert!(!shown.chars().any(|c| steers(c) && c != '\n'));
            prop_assert_eq!(serde_json::from_str::<serde_json::Value>(&shown).unwrap(), value);
        }

        #[test]
        fn no_text_steers(text in "(?s).*") {
            prop_assert!(!plain(&text).chars().any(steers));
            prop_assert_eq!(plain(&text).chars().count(), text.chars().count());
        }
    }
}
