//! Values of a table that are no quantities: texts, words, ratios, flags.

use super::{Table, Value, Within};
use crate::problem::printable;
use toml::de::DeValue;

/// Longest free text, in characters.
const LONGEST_TEXT: usize = 200;

/// Longest name of a station or an adjuster, in characters: it must fit on a screen that is read
/// from two metres.
const LONGEST_NAME: usize = 24;

impl Table<'_> {
    /// Free text, if written: trimmed, one line, not empty.
    pub(crate) fn text_if(&self, key: &str) -> Option<String> {
        self.read_text(self.filled(key)?, LONGEST_TEXT)
    }

    /// A name that must be there: free text, short enough for a screen.
    pub(crate) fn name(&self, key: &str) -> Option<String> {
        self.need(key, |value| self.read_text(value, LONGEST_NAME))
    }

    /// Free text that must be there.
    pub(crate) fn text(&self, key: &str) -> Option<String> {
        self.need(key, |value| self.read_text(value, LONGEST_TEXT))
    }

    fn read_text(&self, value: &Value<'_>, longest: usize) -> Option<String> {
        let DeValue::String(text) = value.get_ref() else {
            self.not_a(value, "a text in double quotes");
            return None;
        };
        let text = text.trim();
        if text.is_empty() {
            self.note(value, "this text is empty", "some text, or leave the line out");
        } else if text.chars().any(|c| printable(c) != c) {
            let wrong =
                "this text has a line break, tab, control character or mark of direction in it";
            self.note(value, wrong, "one line of plain text");
        } else if text.chars().count() > longest {
            self.note(
                value,
                format!("this text is {} characters long", text.chars().count()),
                format!("at most {longest} characters"),
            );
        } else {
            return Some(text.to_owned());
        }
        None
    }

    /// A ratio, which must be there: a number that has no unit.
    pub(crate) fn ratio(&self, key: &str, within: Within<f64>) -> Option<f64> {
        self.need(key, |value| self.read_ratio(value, within))
    }

    /// A ratio, if written.
    pub(crate) fn ratio_if(&self, key: &str, within: Within<f64>) -> Option<f64> {
        self.read_ratio(self.find(key)?, within)
    }

    fn read_ratio(&self, value: &Value<'_>, within: Within<f64>) -> Option<f64> {
        let text = match value.get_ref() {
            DeValue::Float(float) => float.as_str(),
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
            _ => "",
        };
        let ratio = text.parse::<f64>().ok().filter(|ratio| (within.0..=within.1).contains(ratio));
        if ratio.is_none() {
            self.not_a(
                value,
                format!("a plain number from {} to {}, without quotes or unit", within.0, within.1),
            );
        }
        ratio
    }

    /// `true` or `false`, if written.
    pub(crate) fn flag_if(&self, key: &str) -> Option<bool> {
        let value = self.find(key)?;
        if let DeValue::Boolean(flag) = value.get_ref() {
            return Some(*flag);
        }
        self.not_a(value, "true or false, without quotes");
        None
    }

    /// One word of a few, which must be there.
    pub(crate) fn choice<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Option<T> {
        self.need(key, |value| self.read_choice(value, words))
    }

    /// One word of a few, if written.
    pub(crate) fn choice_if<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Option<T> {
        self.read_choice(self.find(key)?, words)
    }

    fn read_choice<T: Copy>(&self, value: &Value<'_>, words: &[(&str, T)]) -> Option<T> {
        let listed: Vec<_> = words.iter().map(|(word, _)| format!("\"{word}\"")).collect();
        let expected = listed.join(" or ");
        let DeValue::String(said) = value.get_ref() else {
            self.not_a(value, expected);
            return None;
        };
        let chosen = words
            .iter()
            .find(|(word, _)| word.eq_ignore_ascii_case(said.trim()))
            .map(|&(_, meaning)| meaning);
        if chosen.is_none() {
            self.not_a(value, expected);
        }
        chosen
    }
}
