//! Digits that are read from two metres.

/// Columns and rows of a glyph before it is enlarged.
const ROWS: usize = 5;

/// The glyph's rows, a bit per column, leftmost highest; and its columns.
fn glyph(character: char) -> ([u8; ROWS], u32) {
    match character {
        '0' => ([0b1111, 0b1001, 0b1001, 0b1001, 0b1111], 4),
        '1' => ([0b0010, 0b0110, 0b0010, 0b0010, 0b0111], 4),
        '2' => ([0b1111, 0b0001, 0b1111, 0b1000, 0b1111], 4),
        '3' => ([0b1111, 0b0001, 0b0111, 0b0001, 0b1111], 4),
        '4' => ([0b1001, 0b1001, 0b1111, 0b0001, 0b0001], 4),
        '5' => ([0b1111, 0b1000, 0b1111, 0b0001, 0b1111], 4),
        '6' => ([0b1111, 0b1000, 0b1111, 0b1001, 0b1111], 4),
        '7' => ([0b1111, 0b0001, 0b0010, 0b0100, 0b0100], 4),
        '8' => ([0b1111, 0b1001, 0b1111, 0b1001, 0b1111], 4),
        '9' => ([0b1111, 0b1001, 0b1111, 0b0001, 0b1111], 4),
        '-' => ([0b0000, 0b0000, 0b0111, 0b0000, 0b0000], 4),
        '.' => ([0, 0, 0, 0, 0b1], 1),
        '?' => ([0b111, 0b001, 0b011, 0b000, 0b010], 3),
        _ => ([0; ROWS], 2),
    }
}

/// A dot of a letter, in characters. A character is about twice as high as wide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dot {
    columns: usize,
    rows: usize,
}

/// Columns that a text takes.
fn width(text: &str, dot: Dot) -> usize {
    let columns: usize = text.chars().map(|c| glyph(c).1 as usize + 1).sum();
    columns.saturating_sub(1) * dot.columns
}

/// The text in block letters filled with `ink`, five dots high.
pub fn lines(text: &str, dot: Dot, ink: char) -> Vec<String> {
    let mut lines = Vec::with_capacity(ROWS * dot.rows);
    for row in 0..ROWS {
        let mut line = String::new();
        for (at, character) in text.chars().enumerate() {
            let (rows, columns) = glyph(character);
            if at > 0 {
                line.extend(std::iter::repeat_n(' ', dot.columns));
            }
            for column in (0..columns).rev() {
                let filled = if rows[row] >> column & 1 == 1 { ink } else { ' ' };
                line.extend(std::iter::repeat_n(filled, dot.columns));
            }
        }
        lines.extend(std::iter::repeat_n(line, dot.rows));
    }
    lines
}

/// The largest dot that fits; `None` if none does. A dot a little narrower than high is better than
/// a smaller one.
pub fn fitting(text: &str, columns: usize, rows: usize) -> Option<Dot> {
    let dots = (1..=rows / ROWS).rev().flat_map(|rows| {
        [rows * 2, rows * 2 - 1]
            .into_iter()
            .filter(|columns| *columns > 1)
            .map(move |columns| Dot { columns, rows })
    });
    dots.into_iter().find(|dot| width(text, *dot) <= columns)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_fills_its_rows_and_columns() {
        let dot = fitting("3.07", 64, 10).unwrap();
        let lines = lines("3.07", dot, '█');
        assert_eq!(lines.len(), 10);
        assert!(lines.iter().all(|line| line.chars().count() == 64));
    }

    #[test]
    fn the_largest_that_fits_is_chosen() {
        assert_eq!(fitting("3.07", 60, 12), Some(Dot { columns: 3, rows: 2 }));
        assert_eq!(fitting("3.07", 40, 12), Some(Dot { columns: 2, rows: 1 }));
        assert_eq!(fitting("3.07", 20, 12), None);
        assert_eq!(fitting("3.07", 200, 4), None);
    }

    #[test]
    fn no_two_digits_look_alike() {
        let glyphs: std::collections::BTreeSet<_> =
            "0123456789-.?".chars().map(|c| glyph(c).0).collect();
        assert_eq!(glyphs.len(), 13);
    }
}
