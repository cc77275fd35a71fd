//! Text in the room there is: wrapped between words, and what does not fit is seen to be cut.

use ratatui::text::{Line, Span};

const CUT: char = '…';

fn wide(text: &str) -> usize {
    Span::raw(text).width()
}

/// The text in so many columns; where it is cut it ends with an ellipsis, so that no name reads as
/// another.
pub(crate) fn cut(text: &str, columns: usize) -> String {
    if wide(text) <= columns {
        return text.to_owned();
    }
    let mut kept = String::new();
    for letter in text.chars() {
        kept.push(letter);
        if wide(&kept) >= columns {
            kept.pop();
            break;
        }
    }
    let mut kept = kept.trim_end().to_owned();
    if columns > 0 {
        kept.push(CUT);
    }
    kept
}

/// [`cut`], and filled up with blanks.
pub(super) fn column(text: &str, columns: usize) -> String {
    let mut text = cut(text, columns);
    let blanks = columns.saturating_sub(wide(&text));
    text.push_str(&" ".repeat(blanks));
    text
}

/// Lines wrapped between words, each as it is painted, in at most so many rows: the last row ends
/// with an ellipsis where something is left out.
pub(super) fn wrapped(lines: &[Line<'_>], columns: usize, rows: usize) -> Vec<Line<'static>> {
    let columns = columns.max(1);
    let mut all: Vec<Line<'static>> = Vec::new();
    for line in lines {
        let paint = line.spans.iter().fold(line.style, |paint, span| paint.patch(span.style));
        all.extend(
            split(&line.to_string(), columns).into_iter().map(|row| Line::styled(row, paint)),
        );
    }
    if all.len() > rows {
        all.truncate(rows);
        if let Some(last) = all.last_mut() {
            // Of the last row whole words are left.
            let mut text = last.to_string();
            while wide(&text) + 2 > columns && text.contains(' ') {
                text.truncate(text.rfind(' ').unwrap_or(0));
            }
            *last = Line::styled(cut(&format!("{text} {CUT}"), columns), last.style);
        }
    }
    all
}

fn split(text: &str, columns: usize) -> Vec<String> {
    // Blanks at the beginning are of a bar behind the words.
    let words = text.trim_start_matches(' ');
    let mut rows = vec![" ".repeat(text.len() - words.len())];
    for (at, word) in words.split(' ').enumerate() {
        let row = rows.last_mut().expect("begins with one row");
        let blank = usize::from(at > 0 && !row.is_empty());
        if wide(row) + blank + wide(word) <= columns {
            row.push_str(&" ".repeat(blank));
            row.push_str(word);
            continue;
        }
        if !row.is_empty() {
            rows.push(String::new());
        }
        // A word that is longer than a row is broken where the row ends.
        for letter in word.chars() {
            let row = rows.last_mut().expect("begins with one row");
            if wide(row) + wide(letter.encode_utf8(&mut [0; 4])) > columns {
                rows.push(String::new());
            }
            rows.last_mut().expect("begins with one row").push(letter);
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str, columns: usize, rows: usize) -> Vec<String> {
        let lines = wrapped(&[Line::raw(text.to_owned())], columns, rows);
        lines.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn what_is_cut_is_seen_to_be_cut() {
        assert_eq!(cut("shelf at 100 mm", 15), "shelf at 100 mm");
        assert_eq!(cut("shelf at 100 mm", 14), "shelf at 100…");
        assert_eq!(cut("図書館", 5), "図書…");
        assert_eq!(cut("left", 0), "");
        assert_eq!(column("図書館", 8), "図書館  ");
    }

    #[test]
    fn lines_are_wrapped_between_words_and_end_with_an_ellipsis() {
        assert_eq!(rows("take it at the top", 10, 3), ["take it at", "the top"]);
        assert_eq!(rows("take it at the top right", 10, 2), ["take it at", "the top …"]);
        assert_eq!(rows("take it at the bottom", 10, 1), ["take it …"]);
        assert_eq!(rows("/dev/serial/by-id", 8, 3), ["/dev/ser", "ial/by-i", "d"]);
        assert_eq!(rows(" ? is it there? ", 20, 3), [" ? is it there? "]);
        assert_eq!(rows("", 8, 3), [""]);
        assert_eq!(rows("two", 8, 0), Vec::<String>::new());
    }
}
