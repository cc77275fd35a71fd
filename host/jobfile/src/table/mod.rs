//! Reading one table of the file by its [`Spec`]: typed values out, problems noted where they are.
//!
//! A getter returns `None` both for what is absent and for what is wrong; what is wrong has been
//! noted by then, and a file with a problem noted yields no job. So a section reads everything it
//! wants first, and gives up last.

use std::collections::HashMap;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::problem::Findings;
use crate::section::{Key, SPECS, Spec};
use crate::suggest;

mod quantities;
mod values;

pub(crate) use quantities::Within;

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
        let table = Self { spec, entries, header, findings };
        for key in spec.keys.iter().filter(|key| table.is_open(key)) {
            let expected = format!("a text in the quotes, such as {}: {}", key.sample, key.about);
            table.wrong(key.name, format!("`{}` is not filled in yet", key.name), expected);
        }
        table
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

    /// Whether the key is one that the template leaves open, and still is.
    fn is_open(&self, key: &Key) -> bool {
        let value = self.entries.get(key.name).filter(|_| key.open).map(Spanned::get_ref);
        matches!(value, Some(DeValue::String(text)) if text.trim().is_empty())
    }

    /// The key's value, if it is written and not left open, which is told by then.
    fn filled(&self, key: &str) -> Option<&'a Value<'a>> {
        let value = self.find(key)?;
        (!self.key(key).is_some_and(|key| self.is_open(key))).then_some(value)
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
        if !self.has(key) {
            self.missing(key);
        }
        read(self.filled(key)?)
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
