//! Reading one table of the file by its [`Spec`]: typed values out, problems noted where they are.
//!
//! A getter returns `None` both for what is absent and for what is wrong; what is wrong has been
//! noted by then, and a file with a problem noted yields no job. So a section reads everything it
//! wants first, and gives up last.

use skimgauge_quantity::{Band, Quantity};
use std::collections::HashMap;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::problem::{Findings, printable};
use crate::quantity::{self, Fault, Kind};
use crate::section::{Key, SPECS, Spec};
use crate::suggest;

/// Longest free text, in characters.
const LONGEST_TEXT: usize = 200;

/// Longest name of a station or an adjuster, in characters: it must fit on a screen that is read
/// from two metres.
const LONGEST_NAME: usize = 24;

/// Values that make sense, in the base unit of their kind, both ends included.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Within(pub f64, pub f64);

/// One `[table]`, or one of several `[[table]]`s, of the file.
pub(crate) struct Table<'a> {
    spec: &'static Spec,
    entries: &'a DeTable<'a>,
    header: Range<usize>,
    findings: &'a Findings<'a>,
}

type Value<'a> = Spanned<DeValue<'a>>;

impl<'a> Table<'a> {
    /// Opens a table; notes keys that `spec` does not have.
    fn open(
        spec: &'static Spec,
        entries: &'a DeTable<'a>,
        header: Range<usize>,
        findings: &'a Findings<'a>,
    ) -> Self {
        for key in entries.keys() {
            let name: &str = key.get_ref();
            if !spec.keys.iter().any(|known| known.name == name) && spec.child(name).is_none() {
                let (wrong, expected) =
                    suggest::for_unknown_key(spec, name, &findings.quoted(key.span()));
                findings.note(key.span(), wrong, expected);
            }
        }
        Self { spec, entries, header, findings }
    }

    /// Whether the key is written, rightly or wrongly.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.find(key).is_some()
    }

    /// Notes a problem with a key's value, or with the whole table if the key is not written.
    pub(crate) fn wrong(&self, key: &str, wrong: impl Into<String>, expected: impl Into<String>) {
        let at = self.find(key).map_or(self.header.clone(), |value| value.span());
        self.findings.note(at, wrong, expected);
    }

    /// Notes a problem with a key's value, or with the whole table, that keeps no other part of the
    /// file from being read: it is told when what this section is for is asked for.
    pub(crate) fn wrong_for_its_use(
        &self,
        key: &str,
        wrong: impl Into<String>,
        expected: impl Into<String>,
    ) {
        let at = self.find(key).map_or(self.header.clone(), |value| value.span());
        self.findings.hold_back(at, wrong, expected);
    }

    /// Notes a problem with the table as a whole, at its header.
    pub(crate) fn wrong_here(&self, wrong: impl Into<String>, expected: impl Into<String>) {
        self.findings.note(self.header.clone(), wrong, expected);
    }

    /// Whether the key is written, and left open.
    pub(crate) fn is_open(&self, key: &str) -> bool {
        let value = self.find(key).map(|value| value.get_ref());
        matches!(value, Some(DeValue::String(text)) if text.trim().is_empty())
    }

    /// Notes that a key is missing.
    pub(crate) fn missing(&self, key: &str) {
        let sample = self.key(key).map_or("", |known| known.sample);
        self.wrong_here(
            format!("{} has no `{key}`", self.spec.header()),
            format!("a line like {key} = {sample}"),
        );
    }

    fn key(&self, key: &str) -> Option<&'static Key> {
        self.spec.keys.iter().find(|known| known.name == key)
    }

    fn find(&self, key: &str) -> Option<&'a Value<'a>> {
        debug_assert!(
            self.key(key).is_some(),
            "{} reads `{key}`, which its spec does not have",
            self.spec.header()
        );
        self.entries.get(key)
    }

    fn need<T>(&self, key: &str, read: impl FnOnce(&'a Value<'a>) -> Option<T>) -> Option<T> {
        match self.find(key) {
            Some(value) => read(value),
            None => {
                self.missing(key);
                None
            }
        }
    }

    fn note(&self, value: &Value<'_>, wrong: impl Into<String>, expected: impl Into<String>) {
        self.findings.note(value.span(), wrong, expected);
    }

    fn not_a(&self, value: &Value<'_>, expected: impl Into<String>) {
        let said = self.findings.quoted(value.span());
        let wrong = match value.get_ref() {
            DeValue::Table(_) => "this is a table".to_owned(),
            DeValue::Array(_) => format!("`{said}` is a list"),
            _ => format!("`{said}` does not fit here"),
        };
        self.note(value, wrong, expected);
    }

    /// Free text, if written: trimmed, one line, not empty.
    pub(crate) fn text_if(&self, key: &str) -> Option<String> {
        self.read_text(self.find(key)?, LONGEST_TEXT)
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

    /// A quantity that must be there.
    pub(crate) fn quantity(&self, key: &str, kind: Kind, within: Within) -> Option<f64> {
        self.need(key, |value| self.read_quantity(value, kind, within))
    }

    /// A quantity, if written.
    pub(crate) fn quantity_if(&self, key: &str, kind: Kind, within: Within) -> Option<f64> {
        self.read_quantity(self.find(key)?, kind, within)
    }

    fn read_quantity(&self, value: &Value<'_>, kind: Kind, within: Within) -> Option<f64> {
        let units = kind.units().join(", ");
        let expected = format!(
            "{} in double quotes with its unit, such as \"{}\" (units: {units})",
            kind.described(),
            kind.example()
        );
        let text = match value.get_ref() {
            DeValue::String(text) => text,
            DeValue::Integer(_) | DeValue::Float(_) => {
                let said = self.findings.quoted(value.span());
                self.note(
                    value,
                    format!("`{said}` is a bare number: it does not say its unit"),
                    expected,
                );
                return None;
            }
            _ => {
                self.not_a(value, expected);
                return None;
            }
        };
        let number = match quantity::parse(text, kind) {
            Ok(number) => number,
            Err(fault) => {
                let expected = match fault {
                    Fault::UnknownUnit { .. } | Fault::WrongKind { .. } => {
                        format!("{} in one of: {units}", kind.described())
                    }
                    _ => expected,
                };
                self.note(value, fault.to_string(), expected);
                return None;
            }
        };
        if number < within.0 || number > within.1 {
            let base = kind.base_unit();
            let side = if number < within.0 { "small" } else { "large" };
            self.note(
                value,
                format!(
                    "{} is too {side} to be meant: is the unit right?",
                    self.findings.quoted(value.span())
                ),
                format!("from {} {base} to {} {base}", within.0, within.1),
            );
            return None;
        }
        Some(number)
    }

    /// A list of `count` quantities, if written.
    #[allow(dead_code, reason = "for sections that list distances")]
    pub(crate) fn quantities_if(&self, key: &str, kind: Kind, within: Within) -> Option<Vec<f64>> {
        let value = self.find(key)?;
        self.read_list(value, kind)?
            .iter()
            .map(|item| self.read_quantity(item, kind, within))
            // Every item is looked at, so that every problem is noted.
            .collect::<Vec<_>>()
            .into_iter()
            .collect()
    }

    /// A place as `[right, up]`, if written, mm.
    pub(crate) fn point_if(&self, key: &str, within: Within) -> Option<[f64; 2]> {
        self.read_point(self.find(key)?, within)
    }

    /// A list of places as `[[right, up], ...]`, which must be there, mm.
    pub(crate) fn points(&self, key: &str, within: Within) -> Option<Vec<[f64; 2]>> {
        if !self.has(key) {
            self.missing(key);
        }
        self.points_if(key, within)
    }

    /// A list of places as `[[right, up], ...]`, if written, mm.
    pub(crate) fn points_if(&self, key: &str, within: Within) -> Option<Vec<[f64; 2]>> {
        let value = self.find(key)?;
        let DeValue::Array(items) = value.get_ref() else {
            self.not_a(
                value,
                "a list of places, such as [[\"-60 mm\", \"0 mm\"], [\"60 mm\", \"0 mm\"]]",
            );
            return None;
        };
        items
            .iter()
            .map(|item| self.read_point(item, within))
            .collect::<Vec<_>>()
            .into_iter()
            .collect()
    }

    fn read_point(&self, value: &Value<'_>, within: Within) -> Option<[f64; 2]> {
        let read = |item| self.read_quantity(item, Kind::Length, within);
        match self.read_list(value, Kind::Length)? {
            [right, up] => {
                let (right, up) = (read(right), read(up));
                Some([right?, up?])
            }
            other => {
                self.note(
                    value,
                    format!("a place has two lengths, right and up; here are {}", other.len()),
                    "such as [\"-60 mm\", \"15 mm\"]",
                );
                None
            }
        }
    }

    fn read_list<'v>(&self, value: &'v Value<'v>, kind: Kind) -> Option<&'v [Value<'v>]> {
        if let DeValue::Array(items) = value.get_ref() {
            return Some(items);
        }
        let example = kind.example();
        self.not_a(
            value,
            format!("a list in square brackets, such as [\"{example}\", \"{example}\"]"),
        );
        None
    }

    /// A band `[low, high]` that must be there.
    pub(crate) fn band<T: Quantity>(
        &self,
        key: &str,
        kind: Kind,
        within: Within,
    ) -> Option<Band<T>> {
        self.need(key, |value| self.read_band(value, kind, within))
    }

    /// A band `[low, high]`, if written.
    pub(crate) fn band_if<T: Quantity>(
        &self,
        key: &str,
        kind: Kind,
        within: Within,
    ) -> Option<Band<T>> {
        self.read_band(self.find(key)?, kind, within)
    }

    fn read_band<T: Quantity>(
        &self,
        value: &Value<'_>,
        kind: Kind,
        within: Within,
    ) -> Option<Band<T>> {
        let sample = "two values, low then high";
        let DeValue::Array(items) = value.get_ref() else {
            self.not_a(value, format!("{sample}, in square brackets"));
            return None;
        };
        let [low_item, high_item] = &items[..] else {
            self.note(
                value,
                format!("a band has two ends; here are {} values", items.len()),
                sample,
            );
            return None;
        };
        let low = self.read_quantity(low_item, kind, within);
        let high = self.read_quantity(high_item, kind, within);
        let (low, high) = (low?, high?);
        let band = Band::new(T::of(low), T::of(high));
        if band.is_none() {
            let said = |item: &Value<'_>| self.findings.quoted(item.span());
            let (low_said, high_said) = (said(low_item), said(high_item));
            let wrong = if low > high {
                format!("the low end {low_said} is above the high end {high_said}")
            } else {
                format!(
                    "the low end {low_said} and the high end {high_said} are the same: nothing would ever pass"
                )
            };
            self.note(value, wrong, sample);
        }
        band
    }

    /// A whole number, if written.
    #[allow(dead_code, reason = "for sections that count things")]
    pub(crate) fn count_if(&self, key: &str, low: u32, high: u32) -> Option<u32> {
        let value = self.find(key)?;
        let expected = format!("a whole number from {low} to {high}, without quotes");
        let DeValue::Integer(integer) = value.get_ref() else {
            self.not_a(value, expected);
            return None;
        };
        let count = u32::from_str_radix(integer.as_str(), integer.radix())
            .ok()
            .filter(|count| (low..=high).contains(count));
        if count.is_none() {
            self.not_a(value, expected);
        }
        count
    }

    /// A ratio, which must be there: a number that has no unit.
    pub(crate) fn ratio(&self, key: &str, within: Within) -> Option<f64> {
        self.need(key, |value| self.read_ratio(value, within))
    }

    /// A ratio, if written.
    pub(crate) fn ratio_if(&self, key: &str, within: Within) -> Option<f64> {
        self.read_ratio(self.find(key)?, within)
    }

    fn read_ratio(&self, value: &Value<'_>, within: Within) -> Option<f64> {
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

    /// The one table of a child spec, if written.
    pub(crate) fn table_if(&self, spec: &'static Spec) -> Option<Table<'a>> {
        let value = self.entries.get(spec.last_name())?;
        match value.get_ref() {
            DeValue::Table(entries) => {
                Some(Table::open(spec, entries, value.span(), self.findings))
            }
            DeValue::Array(items)
                if items.first().is_some_and(|item| item.get_ref().is_table()) =>
            {
                let at = items.last().map_or(value.span(), Spanned::span);
                self.findings.note(
                    at,
                    format!("[{}] is written with two brackets on each side", spec.name),
                    format!("one [{}], with one bracket on each side", spec.name),
                );
                None
            }
            _ => {
                self.not_a(value, format!("a section that begins with the line {}", spec.header()));
                None
            }
        }
    }

    /// The one table of a child spec, which must be there.
    pub(crate) fn table(&self, spec: &'static Spec) -> Option<Table<'a>> {
        if !self.entries.contains_key(spec.last_name()) {
            self.missing_section(spec);
        }
        self.table_if(spec)
    }

    /// All tables of a child spec that may be given several times, in the order of the file.
    pub(crate) fn tables(&self, spec: &'static Spec) -> Vec<Table<'a>> {
        let Some(value) = self.entries.get(spec.last_name()) else {
            return Vec::new();
        };
        let mut tables = Vec::new();
        match value.get_ref() {
            DeValue::Array(items) => {
                for item in items.iter() {
                    match item.get_ref() {
                        DeValue::Table(entries) => {
                            tables.push(Table::open(spec, entries, item.span(), self.findings));
                        }
                        _ => self.not_a(
                            item,
                            format!("sections that each begin with the line {}", spec.header()),
                        ),
                    }
                }
            }
            DeValue::Table(_) => self.note(
                value,
                format!("[{}] is written with one bracket on each side", spec.name),
                format!("{} with two, because there may be several", spec.header()),
            ),
            _ => self
                .not_a(value, format!("sections that each begin with the line {}", spec.header())),
        }
        tables
    }

    /// Notes that a section is missing.
    pub(crate) fn missing_section(&self, spec: &'static Spec) {
        self.no_section(spec, "");
    }

    /// The same, with what is not known for want of it.
    pub(crate) fn missing_section_because(&self, spec: &'static Spec, why: &str) {
        self.no_section(spec, &format!(": {why}"));
    }

    fn no_section(&self, spec: &'static Spec, why: &str) {
        self.findings.note(
            self.findings.end(),
            format!("the file has no {} section{why}", spec.header()),
            format!("a section that begins with the line {}", spec.header()),
        );
    }

    /// Whether a section inside this table is written, rightly or wrongly.
    pub(crate) fn has_section(&self, spec: &'static Spec) -> bool {
        self.entries.contains_key(spec.last_name())
    }
}

/// The whole file as a table whose keys are the sections.
pub(crate) fn open_root<'a>(entries: &'a DeTable<'a>, findings: &'a Findings<'a>) -> Table<'a> {
    static ROOT: Spec = Spec {
        name: "",
        many: false,
        set: true,
        about: "",
        keys: &[],
        inside: SPECS,
        samples: &[],
    };
    Table::open(&ROOT, entries, findings.end(), findings)
}

/// Notes each table whose `key` repeats the name of an earlier one, letter case aside.
pub(crate) fn refuse_repeated_names<'t>(
    named: impl Iterator<Item = (&'t Table<'t>, &'t str)>,
    key: &str,
    what: &str,
) {
    let mut seen = HashMap::new();
    for (table, name) in named {
        if seen.insert(name.to_lowercase(), ()).is_some() {
            table.wrong(
                key,
                format!("there are two {what}s named \"{name}\""),
                format!("a name of its own for each {what}"),
            );
        }
    }
}

#[cfg(test)]
mod tests;
