//! What may have been meant by a key that nobody knows.

use crate::section::{Spec, every_section};

/// What to say of a key, or section, that `spec` does not have: what is wrong, and what is
/// expected. `said` is the key as it may be shown.
pub(crate) fn for_unknown_key(spec: &Spec, name: &str, said: &str) -> (String, String) {
    let known: Vec<&'static str> = spec
        .keys
        .iter()
        .map(|key| key.name)
        .chain(spec.inside.iter().map(|inner| inner.last_name()))
        .collect();
    let is_root = spec.name.is_empty();
    let list = known.join(", ");
    let mut expected = match nearest(name, &known) {
        Some(nearest) if is_root => format!("did you mean [{nearest}]? Sections: {list}"),
        Some(nearest) => format!("did you mean `{nearest}`? Keys of {}: {list}", spec.header()),
        None if is_root => format!("one of the sections {list}"),
        None => format!("one of {list}"),
    };
    let homes: Vec<_> = every_section()
        .into_iter()
        .filter(|other| other.keys.iter().any(|key| key.name == name))
        .map(Spec::header)
        .collect();
    if !homes.is_empty() && nearest(name, &known).is_none() {
        expected.push_str(&format!(" (`{name}` belongs in {})", homes.join(" or ")));
    }
    let wrong = if is_root {
        format!("`{said}` is not a section of a job file")
    } else {
        format!("{} has no key `{said}`", spec.header())
    };
    (wrong, expected)
}

/// The known word that a mistyped one most likely stands for.
fn nearest(name: &str, known: &[&'static str]) -> Option<&'static str> {
    // Comparing takes time by length squared, and no key is that long.
    if name.len() > 40 {
        return None;
    }
    let name = name.to_lowercase().replace('-', "_");
    known
        .iter()
        .map(|&word| (strsim::osa_distance(&name, word), word))
        .filter(|&(distance, word)| distance <= 1 + word.len() / 4)
        .min_by_key(|&(distance, _)| distance)
        .map(|(_, word)| word)
}
