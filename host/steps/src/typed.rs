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
    /// How the job stands, and what comes next.
    pub fn next(&self) -> String {
        self.filled("next --job {job}")
    }

    /// What opens the way to hanging where the anchors are not proved, as a sentence behind another.
    pub fn anchors(&self) -> String {
        format!(
            " What hangs over people's heads wants its anchors worked out: `{}`; where nothing but a proof load is wanting, a name answers for it: --done fixings --why TEXT. Else hanging is left out, too.",
            self.filled("fixings --job {job}")
        )
    }

    /// A command behind `skimgauge `, `{job}` and `{name}` being this job's: shown to be typed, with the
    /// record that was named. Every command of a job that is shown is made here.
    pub fn filled(&self, command: &str) -> String {
        // Word by word: what stands in a path or a name is not filled in again.
        let filled = |word: &str| match word {
            "{job}" => path(self.file),
            "{name}" => SHELL.quoted(self.name),
            word => word.to_owned(),
        };
        let words: Vec<String> = command.split(' ').map(filled).collect();
        on_record(&words.join(" "), self.record)
    }
}

/// A command behind `skimgauge `, with the record that was named, if one was.
pub fn on_record(command: &str, record: Option<&str>) -> String {
    let record = record.map_or_else(String::new, |record| format!(" --record {}", path(record)));
    format!("skimgauge {command}{record}")
}

/// A path as it is typed after a flag or for one: the shell takes it for one word, and no program for
/// a flag.
pub fn path(path: &str) -> String {
    let here = if path.starts_with('-') { SHELL.here() } else { "" };
    SHELL.quoted(&format!("{here}{path}"))
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
        let plain = |c: char| c.is_ascii_alphanumeric() || self.plain().contains(c);
        if !word.is_empty() && word.chars().all(plain) {
            return word.to_owned();
        }
        match self {
            // What the shell looks for within double quotes, an interactive one's `!` too.
            Self::Unix if !word.contains(['"', '$', '`', '\\', '!']) => format!("\"{word}\""),
            Self::Unix => format!("'{}'", word.replace('\'', r"'\''")),
            // Both shells of Windows read the first; only PowerShell the second. It takes printed
            // quotes for its own.
            Self::PowerShell if !word.contains(['$', '`', '%', '"', '“', '”', '„']) => {
                format!("\"{word}\"")
            }
            Self::PowerShell => {
                let mut quoted = String::from("'");
                for c in word.chars() {
                    if "'‘’‚‛".contains(c) {
                        quoted.push(c);
                    }
                    quoted.push(c);
                }
                quoted + "'"
            }
        }
    }

    /// What stands in a word without quotes, besides letters and digits.
    fn plain(self) -> &'static str {
        match self {
            Self::Unix => "-_./:",
            Self::PowerShell => "-_./\\:",
        }
    }

    /// This folder, before a name in it.
    fn here(self) -> &'static str {
        match self {
            Self::Unix => "./",
            Self::PowerShell => ".\\",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Shell;

    #[test]
    fn a_name_is_one_word_to_each_shell() {
        let unix = |word| Shell::Unix.quoted(word);
        assert_eq!(unix("the \"$HOME\" room"), "'the \"$HOME\" room'");
        assert_eq!(unix("Larch's room"), "\"Larch's room\"");
        assert_eq!(unix("Larch's room!"), r"'Larch'\''s room!'");
        // A backslash is a part of a name, and the shell would take it away.
        assert_eq!(unix(r"rooms\a.toml"), r"'rooms\a.toml'");
        assert_eq!(unix("r.sqlite"), "r.sqlite");
        // Backslashes are of the path, and are not doubled; in single quotes only those themselves
        // are (Microsoft, about_Quoting_Rules, from memory).
        let windows = |word| Shell::PowerShell.quoted(word);
        assert_eq!(windows(r"C:\jobs\board.toml"), r"C:\jobs\board.toml");
        assert_eq!(windows(r"C:\room 4\board.toml"), r#""C:\room 4\board.toml""#);
        assert_eq!(windows("Larch's \"$HOME\" room"), "'Larch''s \"$HOME\" room'");
        assert_eq!(windows("Larch’s $ room"), "'Larch’’s $ room'");
    }
}
