//! What a use of the job finds wrong with a key that the file itself has no quarrel with.

use crate::problem::{Findings, JobErrors};
use std::ops::Range;
use toml::de::DeTable;

/// Told with its place in the file, as what is wrong with the file is told: at the first of the
/// keys that is there, at the file's end where none is. `wrong` says what, `expected` what would do.
pub fn objection(
    (file, text): (&str, &str),
    (section, keys): (&str, &[&str]),
    wrong: String,
    expected: String,
) -> JobErrors {
    let findings = Findings::new(text);
    let at = place_of(text, section, keys).unwrap_or_else(|| findings.end());
    findings.note(at, wrong, expected);
    findings.into_errors(file, false)
}

fn place_of(text: &str, section: &str, keys: &[&str]) -> Option<Range<usize>> {
    let table = DeTable::parse(text).ok()?;
    let section = table.get_ref().get(section)?.get_ref().as_table()?;
    Some(keys.iter().find_map(|key| section.get(*key))?.span())
}

#[cfg(test)]
mod tests {
    use super::objection;

    #[test]
    fn it_has_the_line_and_the_column_of_its_key() {
        let text = "[job]\nname = \"x\"\n\n[band]\n  gap = [\"0.2 mm\", \"0.9 mm\"]\n";
        let told =
            objection(("j.toml", text), ("band", &["lean", "gap"]), "no".into(), "yes".into());
        assert_eq!((told.problems[0].line, told.problems[0].column), (5, 9), "{told}");
        let none = objection(("j.toml", text), ("band", &["level"]), "no".into(), "yes".into());
        assert_eq!(none.problems[0].line, 5, "{none}");
    }
}
