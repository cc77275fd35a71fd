//! What the tables are made of.

use std::collections::BTreeMap;
use std::fmt;

/// How often each thing was said.
pub(crate) struct Tally(BTreeMap<String, u32>);

impl Tally {
    pub(crate) fn of(said: impl Iterator<Item = String>) -> Self {
        let mut counts = BTreeMap::new();
        for what in said {
            *counts.entry(what).or_default() += 1;
        }
        Self(counts)
    }

    /// What was said most.
    pub(crate) fn most(&self) -> String {
        self.0.iter().max_by_key(|(_, n)| **n).map_or("-".to_owned(), |(name, _)| name.clone())
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut all: Vec<_> = self.0.iter().collect();
        all.sort_by_key(|(name, count)| (std::cmp::Reverse(**count), *name));
        let words: Vec<String> =
            all.iter().map(|(name, count)| format!("{name} {count}")).collect();
        f.write_str(&words.join(", "))
    }
}

/// Of sorted values.
pub(crate) fn quantile(sorted: &[f64], q: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    sorted.get((last as f64 * q).round() as usize).copied().unwrap_or(f64::NAN)
}
