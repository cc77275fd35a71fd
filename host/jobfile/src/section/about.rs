//! `[job]`: whose board it is.

use serde::{Deserialize, Serialize};

use super::{Spec, key};
use crate::table::Table;

/// Longest name of a job, in characters.
const LONGEST_NAME: usize = 60;

/// The `[job]` section.
pub static SPEC: Spec = Spec {
    name: "job",
    many: false,
    set: true,
    about: "One job is one installation at one board. A job whose name is in the record already goes on with that one.\n\
            What is left open here, with nothing between the quotes, must be filled in before anything else.",
    keys: &[
        key("name", "\"reading room\"", "names the job in the record and in file names")
            .left_open(),
        key("client", "\"Larch Lane Library\"", "for whom").left_open(),
        key("place", "\"ground floor, north wall\"", "where the board hangs").left_open(),
        key("by", "\"R. Oakes\"", "who installs it").left_open(),
    ],
    inside: &[],
    samples: &[],
};

/// Whose board it is, where and by whom.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct About {
    /// The job's name. Fit to be a file name on every common system: 1 to 60 characters, none of
    /// `/ \ : * ? " < > |`, no control character, no dot at either end, no `-` first, and no name that a
    /// system keeps for itself.
    pub name: String,
    /// For whom.
    pub client: Option<String>,
    /// Where the board hangs.
    pub place: Option<String>,
    /// Who installs it.
    pub by: Option<String>,
}

pub(crate) fn read(table: &Table<'_>) -> Option<About> {
    let (client, place, by) =
        (table.text_if("client"), table.text_if("place"), table.text_if("by"));
    let name = table.text("name")?;
    if let Some(wrong) = unfit_for_a_file_name(&name) {
        table.wrong(
            "name",
            wrong,
            "a name that can be a file's name, such as \"reading room\" or \"room 2-14\"",
        );
    }
    Some(About { name, client, place, by })
}

fn unfit_for_a_file_name(name: &str) -> Option<String> {
    // Device names that Windows keeps for itself, with or without an ending.
    const KEPT: [&str; 4] = ["con", "prn", "aux", "nul"];
    let stem = name.split('.').next().unwrap_or_default().trim().to_lowercase();
    let numbered = ["com", "lpt"].iter().any(|port| {
        stem.strip_prefix(port)
            .is_some_and(|rest| rest.len() == 1 && rest.as_bytes()[0].is_ascii_digit())
    });
    let length = name.chars().count();
    if let Some(c) = name.chars().find(|c| "/\\:*?\"<>|".contains(*c)) {
        Some(format!("a job's name is also a file's name, which cannot have `{c}` in it"))
    } else if name.starts_with('.') || name.ends_with('.') {
        Some(
            "a job's name is also a file's name, which cannot begin or end with a dot here"
                .to_owned(),
        )
    } else if name.starts_with('-') {
        Some("a job's name is typed behind commands, which take a first `-` for a flag".to_owned())
    } else if KEPT.contains(&stem.as_str()) || numbered {
        Some(format!("\"{name}\" is a name that some systems keep for themselves"))
    } else if length > LONGEST_NAME {
        Some(format!("this name is {length} characters long; at most {LONGEST_NAME} fit"))
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::unfit_for_a_file_name;

    #[test]
    fn names_that_cannot_be_files_are_told() {
        for bad in [
            "a/b",
            "a\\b",
            "c:",
            ".hidden",
            "end.",
            "-dash",
            "CON",
            "nul.txt",
            "com1",
            &"x".repeat(61),
        ] {
            assert!(unfit_for_a_file_name(bad).is_some(), "{bad}");
        }
        for good in [
            "reading room",
            "room 2-14",
            "console",
            "com",
            "comb",
            "\u{56f3}\u{66f8}\u{9928}",
            &"x".repeat(60),
        ] {
            assert_eq!(unfit_for_a_file_name(good), None, "{good}");
        }
    }
}
