//! Which measures of a job file are still as [`crate::template`] writes them.

use crate::section::{Key, Spec, every_section};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The sections in use whose measures are all still the template's, each by the line that begins it
/// and that line's number, in the file's order. Another board may happen to have the same: that is
/// for whoever reads it to say. Empty where the text is no TOML.
pub fn untouched(text: &str) -> Vec<(&'static str, Vec<usize>)> {
    let (root, _) = DeTable::parse_recoverable(text);
    let mut untouched: Vec<(&'static str, Vec<usize>)> = every_section()
        .into_iter()
        // Where every key has a default, the samples are the defaults.
        .filter(|spec| spec.keys.iter().any(|key| key.set))
        .filter_map(|spec| {
            let tables = tables(root.get_ref(), spec);
            let as_written = tables
                .iter()
                .enumerate()
                .filter(|(nth, table)| is_sample(spec, *nth, table.get_ref()));
            let lines: Vec<usize> =
                as_written.map(|(_, table)| line(text, table.span().start)).collect();
            (!lines.is_empty()).then_some((spec.name, lines))
        })
        .collect();
    untouched.sort_by_key(|(_, lines)| lines[0]);
    untouched
}

/// Every table of that section.
fn tables<'a>(root: &'a DeTable<'a>, spec: &Spec) -> Vec<Spanned<&'a DeTable<'a>>> {
    spec.name.split('.').fold(vec![Spanned::new(0..0, root)], |tables, part| {
        let inner = tables.iter().filter_map(|table| table.get_ref().get(part));
        inner
            .flat_map(|value| match value.get_ref() {
                DeValue::Table(table) => vec![Spanned::new(value.span(), table)],
                DeValue::Array(items) => items
                    .iter()
                    .filter_map(|item| Some(Spanned::new(item.span(), item.get_ref().as_table()?)))
                    .collect(),
                _ => Vec::new(),
            })
            .collect()
    })
}

/// Whether it has measures, each the sample of its key in the section of that number.
fn is_sample(spec: &Spec, nth: usize, table: &DeTable<'_>) -> bool {
    let written = table.iter().filter_map(|(name, value)| {
        let key = spec.keys.iter().find(|key| key.name == name.get_ref().as_ref())?;
        let sample = sample(spec, nth, key);
        let is_measure = !key.open && sample.contains(|c: char| c.is_ascii_digit());
        is_measure.then(|| is(value.get_ref(), sample))
    });
    let written: Vec<bool> = written.collect();
    !written.is_empty() && written.iter().all(|same| *same)
}

/// What the template writes for the key in the section of that number.
fn sample(spec: &Spec, nth: usize, key: &Key) -> &'static str {
    let own = spec.samples.get(nth).and_then(|own| own.iter().find(|(name, _)| *name == key.name));
    own.map_or(key.sample, |(_, value)| value)
}

fn is(value: &DeValue<'_>, sample: &str) -> bool {
    let sample = format!("it = {sample}");
    let (table, _) = DeTable::parse_recoverable(&sample);
    table.get_ref().get("it").is_some_and(|sample| same(value, sample.get_ref()))
}

fn same(value: &DeValue<'_>, sample: &DeValue<'_>) -> bool {
    match (value, sample) {
        (DeValue::String(value), DeValue::String(sample)) => value == sample,
        (DeValue::Integer(value), DeValue::Integer(sample)) => value.as_str() == sample.as_str(),
        (DeValue::Float(value), DeValue::Float(sample)) => value.as_str() == sample.as_str(),
        (DeValue::Array(value), DeValue::Array(sample)) => {
            value.len() == sample.len()
                && value
                    .iter()
                    .zip(sample.iter())
                    .all(|(value, sample)| same(value.get_ref(), sample.get_ref()))
        }
        _ => false,
    }
}

fn line(text: &str, at: usize) -> usize {
    text.as_bytes()[..at.min(text.len())].iter().filter(|byte| **byte == b'\n').count() + 1
}
