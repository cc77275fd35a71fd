//! The job file that a person starts from, made from what the reader knows.

use std::fmt::Write;

use crate::section::{Key, Spec, about, every_section, room};

/// Comments beside keys begin in this column, where the key leaves room.
const COMMENT_COLUMN: usize = 44;

/// What is known of a job before its file is written; the rest is left open in it. One line each,
/// of plain text.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Known<'a> {
    /// Its name in the record.
    pub name: Option<&'a str>,
    /// For whom.
    pub client: Option<&'a str>,
    /// Where the board hangs.
    pub place: Option<&'a str>,
    /// Who installs it.
    pub by: Option<&'a str>,
}

impl Known<'_> {
    /// The value of one of the job section's keys as it is written.
    fn value(&self, key: &str) -> String {
        let known = match key {
            "name" => self.name,
            "client" => self.client,
            "place" => self.place,
            "by" => self.by,
            _ => None,
        };
        // What a basic string of TOML (1.0, "String") needs; control characters are refused by
        // whoever reads it.
        format!("\"{}\"", known.unwrap_or_default().replace('\\', "\\\\").replace('"', "\\\""))
    }
}

/// A commented job file that shows every section and key; what may be left out is commented out,
/// with `#` right before its key. What is known of the job is in it; what is not is left open, and
/// the file is refused until that is filled in. Nothing else is missing from it.
pub fn template(known: &Known<'_>) -> String {
    let mut text = String::from(
        "# A job for skimgauge. Change the values to those of your board; lines that begin with # are comments.\n\
         # A quantity is a number with its unit in double quotes: mm, cm, m, in, ft; deg, mm/m, in/ft; turns.\n\
         # Fractions and feet may be written: \"93 3/8 in\", \"6 ft 2 in\". Take the # away from a line such as #weight = ... to use it.\n\
         # Names and what only you can know are left open, with nothing between the quotes: no command takes the file until\n\
         # they are filled in, or their lines left out.\n",
    );
    for spec in every_section() {
        write_spec(&mut text, spec, known, Left::Open);
    }
    text
}

/// The same as somebody would leave it who took every section from `[room]` on, and put the keys'
/// samples where the template leaves them open: invented, for a practice and for tests.
pub fn filled_in(known: &Known<'_>) -> String {
    let mut text = String::new();
    let mut left = Left::Open;
    for spec in every_section() {
        if spec.name == room::SPEC.name {
            left = Left::FilledIn;
        }
        write_spec(&mut text, spec, known, left);
    }
    text
}

/// How a section is left for whoever reads the file.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Left {
    /// To be filled in and taken into use.
    Open,
    /// In use, with the samples.
    FilledIn,
}

fn write_spec(text: &mut String, spec: &Spec, known: &Known<'_>, left: Left) {
    text.push('\n');
    for line in spec.about.lines() {
        push_line(text, &format!("# {line}"));
    }
    let off = if spec.set || left == Left::FilledIn { "" } else { "#" };
    let once: &[&[(&str, &str)]] = &[&[]];
    let samples = if spec.samples.is_empty() { once } else { spec.samples };
    for (nth, sample) in samples.iter().enumerate() {
        if nth > 0 {
            text.push('\n');
        }
        push_line(text, &format!("{off}{}", spec.header()));
        for key in spec.keys {
            let value = sample
                .iter()
                .find(|(name, _)| *name == key.name)
                .map_or(key.sample, |(_, value)| value);
            let known = (spec.name == about::SPEC.name).then(|| known.value(key.name));
            let open = if key.open && left == Left::Open { "\"\"" } else { value };
            let value = known.as_deref().unwrap_or(open);
            // What a key means is told once.
            let about = if nth == 0 { key.about } else { "" };
            if nth == 0 || key.set {
                let off = if key.set || left == Left::FilledIn { off } else { "#" };
                write_key(text, off, key, value, about);
            }
        }
    }
}

fn write_key(text: &mut String, off: &str, key: &Key, value: &str, about: &str) {
    let setting = format!("{off}{} = {value}", key.name);
    if about.is_empty() {
        push_line(text, &setting);
    } else {
        push_line(text, &format!("{setting:COMMENT_COLUMN$} # {about}"));
    }
}

fn push_line(text: &mut String, line: &str) {
    // Writing to a String does not fail.
    let _ = writeln!(text, "{}", line.trim_end());
}
