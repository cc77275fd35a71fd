//! Results of set-out, fixings, square and survey as text, no wider than the terminal that shows it:
//! a result in, text out.

pub mod birth;
pub mod fixings;
pub mod next;
pub mod proof;
pub mod set_out;
pub mod square;
pub mod survey;
pub mod trim;
pub mod untouched;

use crate::lengths::Lengths;
use ratatui::crossterm::terminal::size;
use skimgauge_procedure::View;
use skimgauge_procedure::view::Part;
use skimgauge_quantity::{Sentence, Style};
use skimgauge_record::When;
use std::io::{IsTerminal, stderr, stdout};

/// Widest line, characters.
const WIDE: usize = 100;
/// A terminal may be narrower than this: then it breaks the lines.
const NARROW: usize = 60;

/// As wide as a paragraph is on this output, where that is a terminal.
fn columns_of(output: &impl IsTerminal) -> Option<usize> {
    let (columns, _) = output.is_terminal().then(size)?.ok()?;
    Some(usize::from(columns).clamp(NARROW, WIDE))
}

/// As wide as a paragraph is here.
fn wide() -> usize {
    columns_of(&stdout()).unwrap_or(WIDE)
}

/// The verdict over everything: shape, word, and why.
pub(crate) fn whole(view: &View, style: Style) -> String {
    let whole = view.whole.as_ref().map_or_else(Sentence::new, |whole| whole.line());
    line(&whole.text(style))
}

/// What stands over a verdict of takes that came before turns.
pub(crate) const BEFORE_THE_TURNS: &str =
    "As taken before this round's turns; what was turned since is not in it:";

/// Whether somebody left amid the turns: the takes are from before them.
pub(crate) fn is_amid_turns(view: &View) -> bool {
    matches!(&view.part, Part::Trim(trim) if trim.turn.is_some())
}

/// A line for people: broken between words where a terminal would break it anywhere, and whole where
/// something else reads it.
pub(crate) fn line(says: &str) -> String {
    line_on(says, columns_of(&stdout()))
}

/// [`line`] for the standard error.
pub fn complaint(says: &str) -> String {
    line_on(says, columns_of(&stderr()))
}

fn line_on(says: &str, columns: Option<usize>) -> String {
    let Some(columns) = columns else { return says.to_owned() };
    let broken = says.split('\n').map(|line| {
        let indent = line.len() - line.trim_start_matches(' ').len();
        broken(line, &" ".repeat(indent), columns)
    });
    broken.collect::<Vec<_>>().join("\n")
}

/// Broken between words into lines of at most so many columns, all but the first behind this. A word
/// that is longer, which may be a path or a command to be copied, stays whole.
fn broken(says: &str, before: &str, columns: usize) -> String {
    let options = textwrap::Options::new(columns)
        .break_words(false)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .subsequent_indent(before);
    textwrap::fill(says, options)
}

/// Rows under a head, columns two spaces apart; those listed in `numbers` are set to the right.
pub(crate) fn columns(head: &[&str], rows: &[Vec<String>], numbers: &[usize]) -> String {
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column)).map(|cell| cell.chars().count());
        cells.chain([head[column].chars().count()]).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..head.len()).map(width).collect();
    let line = |cells: &mut dyn Iterator<Item = &str>| {
        let mut text = String::from(" ");
        for (column, (cell, &width)) in cells.zip(&widths).enumerate() {
            if numbers.contains(&column) {
                text.push_str(&format!(" {cell:>width$} "));
            } else {
                text.push_str(&format!(" {cell:<width$} "));
            }
        }
        format!("{}\n", text.trim_end())
    };
    let mut text = line(&mut head.iter().copied());
    for row in rows {
        text.push_str(&line(&mut row.iter().map(String::as_str)));
    }
    text
}

/// A paragraph broken into lines, all but the first set in by `indent` spaces more than `first`.
pub(crate) fn paragraph(first: &str, says: &str) -> String {
    let indent = " ".repeat(first.chars().count());
    let says = says.split_whitespace().collect::<Vec<_>>().join(" ");
    format!("{}\n", broken(format!("{first}{says}").trim_end(), &indent, wide()))
}

/// `2026-11-26 14:05 +01:00`: by the clock on the wall where it was written, with what that is apart
/// from UTC.
pub(crate) fn minute(at: When) -> String {
    of_clock(at, 16)
}

/// The same to the second.
pub(crate) fn second(at: When) -> String {
    of_clock(at, 19)
}

fn of_clock(at: When, letters: usize) -> String {
    let text = at.to_string().replace('T', " ");
    // Behind the day, whose dashes are none of an offset.
    let offset = text.find(['+', 'Z']).or_else(|| text.rfind('-')).unwrap_or(text.len());
    format!("{} {}", text.get(..letters).unwrap_or_default(), &text[offset..])
}

/// A sentence as a [`paragraph`].
pub(crate) fn said(first: &str, says: &Sentence, style: Style) -> String {
    paragraph(first, &says.text(style))
}

/// Each said as a paragraph behind a dash, under a heading; nothing if there is nothing to say.
pub(crate) fn listed<S: AsRef<str>>(heading: &str, says: impl IntoIterator<Item = S>) -> String {
    let text: String = says.into_iter().map(|says| paragraph("  - ", says.as_ref())).collect();
    if text.is_empty() { text } else { format!("\n{heading}\n{text}") }
}

/// `12.5 right`, `31/64 right`, or `on it`.
fn side(value_mm: f64, plus: &str, minus: &str, units: Lengths) -> String {
    let size = units.length_number(value_mm.abs(), 1);
    if matches!(size.as_str(), "0.0" | "0") {
        "on it".to_owned()
    } else {
        format!("{size} {}", if value_mm < 0.0 { minus } else { plus })
    }
}

/// Each sentence as text, for a list.
fn told<'a>(says: impl IntoIterator<Item = &'a Sentence>, units: Lengths) -> Vec<String> {
    says.into_iter().map(|says| says.text(units.style())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_handover::Units;

    #[test]
    fn sides_are_said_in_either_unit() {
        let (mm, inch) = (Lengths(Units::Mm), Lengths(Units::Inch));
        assert_eq!(side(12.54, "right", "left", mm), "12.5 right");
        assert_eq!(side(-12.7, "right", "left", inch), "1/2 left");
        assert_eq!(side(-0.04, "right", "left", mm), "on it");
    }

    #[test]
    fn columns_line_up() {
        let text = columns(
            &["mark", "mm"],
            &[vec!["a".into(), "1.0".into()], vec!["long".into(), "20.0".into()]],
            &[1],
        );
        assert_eq!(text, "  mark    mm\n  a      1.0\n  long  20.0\n");
    }

    #[test]
    fn a_line_is_broken_between_words_on_a_terminal_alone() {
        let says = "◐ too close to call: one more seat at top left may settle it, lift the head";
        assert_eq!(line_on(says, None), says);
        let text =
            line_on(&format!("  > {says} --job /a/path/that/is/longer/than/a/line"), Some(30));
        assert!(text.lines().skip(1).all(|line| line.starts_with("  ")), "{text}");
        let words = |text: &str| text.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
        assert!(words(&text).starts_with(&words(&format!("> {says}"))), "{text}");
        assert!(text.ends_with("\n  /a/path/that/is/longer/than/a/line"), "{text}");
        let long = text.lines().filter(|line| line.chars().count() > 30).count();
        assert_eq!(long, 1, "{text}");
    }

    #[test]
    fn long_sentences_are_broken_at_words() {
        let text = paragraph("  - ", &"word ".repeat(50));
        assert!(text.lines().all(|line| line.chars().count() <= WIDE));
        assert!(text.lines().skip(1).all(|line| line.starts_with("    word")));
        assert_eq!(text.matches("word").count(), 50);
    }
}
