//! Text that somebody else may have written, as it may be shown: the one rule of the house for
//! terminal, page and record.

use std::borrow::Cow;

/// Stands where something was that must not be shown.
const INSTEAD: char = char::REPLACEMENT_CHARACTER;

/// Whether a character steers the terminal or the page that shows it, instead of being shown.
///
/// C0, DEL and C1 (ECMA-48); the bidirectional controls (Unicode Standard Annex 9, section 2); line
/// and paragraph separator; what shows nothing and hides in a text or reorders it (zero width
/// space, word joiner, invisible operators, deprecated format characters, byte order mark,
/// interlinear annotation, tags). Joiners stay: names in some scripts need them.
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{61c}'
            | '\u{200b}'
            | '\u{200e}'
            | '\u{200f}'
            | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}'
            | '\u{e0000}'..='\u{e007f}')
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

/// JSON that steers nothing and means the same: such characters stand in its texts only, where `\u`
/// escapes them. Its own line breaks and tabs stay; in its texts these are escaped already (RFC
/// 8259, section 7).
pub fn shown_json(json: &str) -> Cow<'_, str> {
    let bad = |c: char| steers(c) && !matches!(c, '\n' | '\r' | '\t');
    if !json.chars().any(bad) {
        return Cow::Borrowed(json);
    }
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if bad(c) {
            // Beyond the Basic Multilingual Plane as a pair of surrogates.
            c.encode_utf16(&mut [0; 2])
                .iter()
                .for_each(|unit| out.push_str(&format!("\\u{unit:04x}")));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Each of these has moved a cursor, hidden a word or turned one round on some terminal.
    const STEERING: [char; 23] = [
        '\0',
        '\x07',
        '\x08',
        '\t',
        '\n',
        '\r',
        '\x1b',
        '\x7f',
        '\u{85}',
        '\u{9b}',
        '\u{9d}',
        '\u{61c}',
        '\u{200b}',
        '\u{200e}',
        '\u{200f}',
        '\u{2028}',
        '\u{2029}',
        '\u{202a}',
        '\u{202e}',
        '\u{2066}',
        '\u{2069}',
        '\u{feff}',
        '\u{e0041}',
    ];

    #[test]
    fn nothing_that_steers_is_shown() {
        for c in STEERING {
            let text = format!("a{c}b");
            assert_eq!(shown(&text), "a\u{fffd}b", "{c:?}");
            let json = serde_json::json!({ &text: [&text] });
            let out = shown_json(&json.to_string()).into_owned();
            assert!(!out.chars().any(steers), "{out:?}");
            assert_eq!(serde_json::from_str::<serde_json::Value>(&out).unwrap(), json);
        }
        assert_eq!(shown_lines("a\nb\x1b[2Jc"), "a\nb\u{fffd}[2Jc");
        // Names of people: umlauts, right-to-left letters, a joiner that Persian and emoji need.
        for good in ["Räume 2–14", "Überhang", "مكتبة", "می\u{200c}خواهم", "図書館", "\u{1f6e0}"]
        {
            assert!(matches!(shown(good), Cow::Borrowed(_)), "{good}");
        }
    }

    proptest! {
        #[test]
        fn json_says_the_same_and_steers_nothing(text in "(?s).*") {
            let value = serde_json::json!({ &text: [&text] });
            let pretty = serde_json::to_string_pretty(&value).unwrap();
            let shown = shown_json(&pretty);
            prop_assert!(!shown.chars().any(|c| steers(c) && c != '\n'));
            prop_assert_eq!(serde_json::from_str::<serde_json::Value>(&shown).unwrap(), value);
        }

        #[test]
        fn no_text_steers(text in "(?s).*") {
            prop_assert!(!shown(&text).chars().any(steers));
            prop_assert_eq!(shown(&text).chars().count(), text.chars().count());
        }
    }
}
