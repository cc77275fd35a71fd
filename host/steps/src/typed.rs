//! A command as it is typed: for a job, in the shell that reads it.

/// How the job is named on a command line.
#[derive(Debug, Clone, Copy)]
pub struct Typed<'a> {
    /// Its file.
    pub file: &'a str,
    /// Its name.
    pub name: &'a str,
    /// The record, where it is not in its usual place.
    pub record: Option<&'a str>,
}

impl Typed<'_> {
    pub(crate) fn filled(&self, command: &str) -> String {
        let mut line = format!("skimgauge {command}")
            .replace("{job}", &SHELL.quoted(self.file))
            .replace("{name}", &SHELL.quoted(self.name));
        if let Some(record) = self.record {
            line += &format!(" --record {}", SHELL.quoted(record));
        }
        line
    }
}

/// Who reads a command that is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shell {
    /// The shells of unix.
    Unix,
    /// What a terminal of Windows opens with.
    PowerShell,
}

const SHELL: Shell = if cfg!(windows) { Shell::PowerShell } else { Shell::Unix };

impl Shell {
    /// As it takes it for one word.
    fn quoted(self, word: &str) -> String {
        let plain = |c: char| c.is_ascii_alphanumeric() || "-_./\\:".contains(c);
        if !word.is_empty() && word.chars().all(plain) {
            return word.to_owned();
        }
        match self {
            Self::Unix => {
                let mut quoted = String::from("\"");
                for c in word.chars() {
                    if "\"$`\\".contains(c) {
                        quoted.push('\\');
                    }
                    quoted.push(c);
                }
                quoted + "\""
            }
            // Both shells of Windows read the first; only PowerShell the second.
            Self::PowerShell if !word.contains(['"', '$', '`', '%']) => format!("\"{word}\""),
            Self::PowerShell => format!("'{}'", word.replace('\'', "''")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Shell;

    #[test]
    fn a_name_is_one_word_to_each_shell() {
        let unix = |word| Shell::Unix.quoted(word);
        assert_eq!(unix("the \"$HOME\" room"), "\"the \\\"\\$HOME\\\" room\"");
        assert_eq!(unix("r.sqlite"), "r.sqlite");
        // Backslashes are of the path, and are not doubled; in single quotes only those themselves
        // are (Microsoft, about_Quoting_Rules, from memory).
        let windows = |word| Shell::PowerShell.quoted(word);
        assert_eq!(windows(r"C:\jobs\board.toml"), r"C:\jobs\board.toml");
        assert_eq!(windows(r"C:\room 4\board.toml"), r#""C:\room 4\board.toml""#);
        assert_eq!(windows("Larch's \"$HOME\" room"), "'Larch''s \"$HOME\" room'");
    }
}
