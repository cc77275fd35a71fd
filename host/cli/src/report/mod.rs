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

use crate::lengths::Lengths;
use ratatui::crossterm::terminal::size;
use skimgauge_procedure::View;
use skimgauge_quantity::{Sentence, Style};
use std::io::IsTerminal;

/// Widest line, characters.
const WIDE: usize = 100;
/// A terminal may be narrower than this: then it breaks the lines.
const NARROW: usize = 60;

/// As wide as a paragraph is here.
fn wide() -> usize {
    let columns = std::io::stdout().is_terminal().then(size).and_then(Result::ok);
    columns.map_or(WIDE, |(columns, _)| usize::from(columns).clamp(NARROW, WIDE))
}

/// The verdict over everything in one line: shape, word, and why.
pub(crate) fn whole(view: &View) -> Sentence {
    view.whole.as_ref().map_or_else(Sentence::new, |whole| whole.line())
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
    let mut text = String::new();
    let mut line = first.to_owned();
    let mut length = indent.len();
    let mut is_empty = true;
    let wide = wide();
    for word in says.split_whitespace() {
        let word_length = word.chars().count();
        if !is_empty && length + 1 + word_length > wide {
            text.push_str(line.trim_end());
            text.push('\n');
            line.clone_from(&indent);
            length = indent.len();
            is_empty = true;
        }
        if !is_empty {
            line.push(' ');
            length += 1;
        }
        line.push_str(word);
        length += word_length;
        is_empty = false;
    }
    format!("{text}{}\n", line.trim_end())
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
    fn long_sentences_are_broken_at_words() {
        let text = paragraph("  - ", &"word ".repeat(50));
        assert!(text.lines().all(|line| line.chars().count() <= WIDE));
        assert!(text.lines().skip(1).all(|line| line.starts_with("    word")));
        assert_eq!(text.matches("word").count(), 50);
    }
}
