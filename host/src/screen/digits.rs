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

/// Columns that a text takes at a size.
pub fn width(text: &str, size: usize) -> usize {
    let columns: usize = text.chars().map(|c| glyph(c).1 as usize + 1).sum();
    columns.saturating_sub(1) * size * 2
}

/// The text in block letters, `5 * size` rows; a dot of a letter is `2 * size` columns by `size` rows, filled with `ink`.
pub fn lines(text: &str, size: usize, ink: char) -> Vec<String> {
    let mut lines = Vec::with_capacity(ROWS * size);
    for row in 0..ROWS {
        let mut line = String::new();
        for (at, character) in text.chars().enumerate() {
            let (rows, columns) = glyph(character);
            if at > 0 {
                line.extend(std::iter::repeat_n(' ', size * 2));
            }
            for column in (0..columns).rev() {
                let dot = if rows[row] >> column & 1 == 1 { ink } else { ' ' };
                line.extend(std::iter::repeat_n(dot, size * 2));
            }
        }
        lines.extend(std::iter::repeat_n(line, size));
    }
    lines
}

/// The largest size that fits; 0 if none does.
pub fn fitting(text: &str, columns: usize, rows: usize) -> usize {
    (1..=rows / ROWS).rev().find(|size| width(text, *size) <= columns).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_fills_its_rows_and_columns() {
        let lines = lines("3.07", 2, '█');
        assert_eq!(lines.len(), 10);
        assert!(lines.iter().all(|line| line.chars().count() == width("3.07", 2)));
    }

    #[test]
    fn no_two_digits_look_alike() {
        let glyphs: std::collections::BTreeSet<_> = "0123456789-.?".chars().map(|c| glyph(c).0).collect();
        assert_eq!(glyphs.len(), 13);
    }
}
