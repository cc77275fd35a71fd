//! What is wrong with a job file, told so that the person who wrote it can mend it.

use std::cell::RefCell;
use std::fmt;
use std::ops::Range;

use serde::{Deserialize, Serialize};
use unicode_width::UnicodeWidthChar;

/// How many problems are listed; more than a screen of them helps nobody.
const LISTED: usize = 40;

/// Longest piece of a source line that is shown, in columns.
const SHOWN_COLUMNS: usize = 100;

/// One thing that is wrong, and where.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Problem {
    /// Line in the file, from 1.
    pub line: usize,
    /// Character in that line, from 1.
    pub column: usize,
    /// The source line, or the part of it around the culprit; tabs and control characters shown as
    /// spaces.
    pub source: String,
    /// Where in `source` the culprit starts, in columns of a terminal.
    pub mark_at: usize,
    /// How many columns of `source` it takes, at least 1.
    pub mark_width: usize,
    /// What is wrong.
    pub wrong: String,
    /// What is expected instead, and what may have been meant.
    pub expected: String,
}

/// All that is wrong with a job file, in the order of its lines. `Display` gives the whole report
/// as plain text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobErrors {
    /// The file's name as the caller gave it.
    pub file: String,
    /// At least one; at most 40.
    pub problems: Vec<Problem>,
    /// How many more there were.
    pub unlisted: usize,
    /// True if the file could not be read as TOML, so that what it says has not been checked yet.
    pub syntax: bool,
}

impl fmt::Display for JobErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for problem in &self.problems {
            let number = problem.line.to_string();
            let gutter = " ".repeat(number.len());
            writeln!(
                f,
                "{}, line {}, column {}: {}",
                self.file, problem.line, problem.column, problem.wrong
            )?;
            writeln!(f, "  {number} | {}", problem.source)?;
            writeln!(
                f,
                "  {gutter} | {}{}",
                " ".repeat(problem.mark_at),
                "^".repeat(problem.mark_width)
            )?;
            writeln!(f, "  {gutter}   expected: {}", problem.expected)?;
        }
        if self.unlisted > 0 {
            writeln!(f, "and {} more", self.unlisted)?;
        }
        if self.syntax {
            writeln!(f, "The rest of the file is checked once this can be read.")?;
        }
        Ok(())
    }
}

impl std::error::Error for JobErrors {}

/// Where problems are gathered while a file is read.
#[derive(Debug)]
pub(crate) struct Findings<'a> {
    text: &'a str,
    found: RefCell<Vec<Found>>,
    /// What keeps one section from its use and no other part of the file from being read.
    held_back: RefCell<Vec<Found>>,
}

/// Where, what is wrong, what is expected.
type Found = (Range<usize>, String, String);

impl<'a> Findings<'a> {
    pub(crate) fn new(text: &'a str) -> Self {
        Self { text, found: RefCell::new(Vec::new()), held_back: RefCell::new(Vec::new()) }
    }

    /// Notes a problem that keeps only its own section from being used.
    pub(crate) fn hold_back(
        &self,
        at: Range<usize>,
        wrong: impl Into<String>,
        expected: impl Into<String>,
    ) {
        self.held_back.borrow_mut().push((at, wrong.into(), expected.into()));
    }

    /// The problems that were held back, if there are any.
    pub(crate) fn held_back(&self, file: &str) -> Option<JobErrors> {
        let held_back = self.held_back.take();
        (!held_back.is_empty()).then(|| self.errors(held_back, file, false))
    }

    /// Notes a problem at a range of bytes of the text.
    pub(crate) fn note(
        &self,
        at: Range<usize>,
        wrong: impl Into<String>,
        expected: impl Into<String>,
    ) {
        self.found.borrow_mut().push((at, wrong.into(), expected.into()));
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.found.borrow().is_empty()
    }

    /// The end of the last line that says something: where a missing section would have come.
    pub(crate) fn end(&self) -> Range<usize> {
        let end = self.text.trim_end().len();
        end..end
    }

    /// What the text says at a range, for messages.
    pub(crate) fn quoted(&self, at: Range<usize>) -> String {
        const LONGEST: usize = 40;
        let said = self.text.get(at).unwrap_or_default();
        let mut short: String = said.chars().take(LONGEST).map(printable).collect();
        if said.chars().nth(LONGEST).is_some() {
            short.push_str("...");
        }
        short
    }

    /// Everything found, what was held back too.
    pub(crate) fn into_errors(self, file: &str, syntax: bool) -> JobErrors {
        let found = [self.found.take(), self.held_back.take()].concat();
        self.errors(found, file, syntax)
    }

    fn errors(&self, mut found: Vec<Found>, file: &str, syntax: bool) -> JobErrors {
        found.sort_by_key(|(at, ..)| at.start);
        let unlisted = found.len().saturating_sub(LISTED);
        found.truncate(LISTED);
        let problems = found
            .into_iter()
            .map(|(at, wrong, expected)| place(self.text, at, wrong, expected))
            .collect();
        JobErrors { file: file.chars().map(printable).collect(), problems, unlisted, syntax }
    }
}

/// Nothing from a file may steer the terminal that shows it.
pub(crate) fn printable(c: char) -> char {
    if skimgauge_quantity::steers(c) { ' ' } else { c }
}

fn columns(c: char) -> usize {
    c.width().unwrap_or(1)
}

fn place(text: &str, at: Range<usize>, wrong: String, expected: String) -> Problem {
    let start = text.floor_char_boundary(at.start.min(text.len()));
    let end = text.floor_char_boundary(at.end.min(text.len())).max(start);
    let line_start = text[..start].rfind('\n').map_or(0, |newline| newline + 1);
    let line_end = text[start..].find('\n').map_or(text.len(), |newline| start + newline);
    // A span of many lines (a table, a list) is marked on its first.
    let end = end.min(line_end);
    let line = text[..start].matches('\n').count() + 1;
    let column = text[line_start..start].chars().count() + 1;

    // Keep what fits around the culprit.
    let mut before: Vec<char> = Vec::new();
    let mut before_width = 0;
    for c in text[line_start..start].chars().rev().map(printable) {
        if before_width + columns(c) > SHOWN_COLUMNS / 2 {
            before.truncate(before.len().saturating_sub(3));
            before.extend(['.', '.', '.']);
            break;
        }
        before_width += columns(c);
        before.push(c);
    }
    before.reverse();
    let mark_at = before.iter().map(|&c| columns(c)).sum();
    let mut source: String = before.into_iter().collect();
    let mut width: usize = mark_at;
    let mut mark_width = 0;
    for (offset, c) in text[start..line_end].trim_end_matches('\r').char_indices() {
        let c = printable(c);
        if width + columns(c) > SHOWN_COLUMNS {
            source.push_str("...");
            break;
        }
        width += columns(c);
        source.push(c);
        if start + offset < end {
            mark_width += columns(c);
        }
    }
    Problem {
        line,
        column,
        source: source.trim_end().to_owned(),
        mark_at,
        mark_width: mark_width.max(1),
        wrong,
        expected,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(text: &str, range: Range<usize>) -> Problem {
        place(text, range, "w".into(), "e".into())
    }

    #[test]
    fn lines_and_columns_count_from_one() {
        let text = "one = 1\r\ntwo = 22\n";
        let problem = at(text, 15..17);
        assert_eq!((problem.line, problem.column), (2, 7));
        assert_eq!(problem.source, "two = 22");
        assert_eq!((problem.mark_at, problem.mark_width), (6, 2));
        assert_eq!(at(text, 4..5).source, "one = 1");
    }

    #[test]
    fn wide_characters_and_tabs_keep_the_mark_in_place() {
        let text = "\t'\u{56f3}\u{66f8}' = 7";
        let seven = text.find('7').unwrap();
        let problem = at(text, seven..seven + 1);
        assert_eq!(problem.column, 9);
        // Two characters of the name take two columns each.
        assert_eq!(problem.mark_at, 10);
    }

    #[test]
    fn the_end_of_the_text_is_a_place() {
        let problem = at("a = 1", 5..5);
        assert_eq!((problem.line, problem.column, problem.mark_width), (1, 6, 1));
        assert_eq!(at("", 0..0).line, 1);
        assert_eq!(at("a", 70..90).column, 2);
    }

    #[test]
    fn long_lines_are_cut_around_the_culprit() {
        let text = format!("{}X{}", "a".repeat(5000), "b".repeat(5000));
        let problem = at(&text, 5000..5001);
        assert!(problem.source.len() <= SHOWN_COLUMNS + 6, "{}", problem.source);
        assert_eq!(problem.source.as_bytes()[problem.mark_at], b'X');
    }

    #[test]
    fn nothing_steers_the_terminal() {
        let problem = at("a = \u{1b}[31m\u{202e}", 0..1);
        assert_eq!(problem.source, "a =  [31m");
    }

    proptest! {
        #[test]
        fn any_place_in_any_text(text in "(?s).{0,300}", start in 0..400_usize, length in 0..400_usize) {
            let problem = at(&text, start..start + length);
            prop_assert!(problem.line >= 1 && problem.column >= 1 && problem.mark_width >= 1);
            prop_assert!(!problem.source.contains('\n'));
        }
    }
}
