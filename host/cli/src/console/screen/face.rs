//! Letters and digits that are read from two metres, drawn in quarter blocks. The face is our own.

/// Dots of a letter from top to bottom.
const HIGH: usize = 5;

/// A letter's dots, row by row; `None` where this face has no such letter.
fn glyph(letter: char) -> Option<[&'static str; HIGH]> {
    Some(match letter {
        '0' => ["####", "#  #", "#  #", "#  #", "####"],
        '1' => ["  # ", " ## ", "  # ", "  # ", " ###"],
        '2' => ["####", "   #", "####", "#   ", "####"],
        '3' => ["####", "   #", " ###", "   #", "####"],
        '4' => ["#  #", "#  #", "####", "   #", "   #"],
        '5' => ["####", "#   ", "####", "   #", "####"],
        '6' => ["####", "#   ", "####", "#  #", "####"],
        '7' => ["####", "   #", "  # ", " #  ", " #  "],
        '8' => ["####", "#  #", "####", "#  #", "####"],
        '9' => ["####", "#  #", "####", "   #", "####"],
        'A' => [" ## ", "#  #", "####", "#  #", "#  #"],
        'B' => ["### ", "#  #", "### ", "#  #", "### "],
        'C' => [" ###", "#   ", "#   ", "#   ", " ###"],
        'D' => ["### ", "#  #", "#  #", "#  #", "### "],
        'E' => ["####", "#   ", "### ", "#   ", "####"],
        'F' => ["####", "#   ", "### ", "#   ", "#   "],
        'G' => [" ###", "#   ", "# ##", "#  #", " ###"],
        'H' => ["#  #", "#  #", "####", "#  #", "#  #"],
        'I' => ["###", " # ", " # ", " # ", "###"],
        'J' => ["  ##", "   #", "   #", "#  #", " ## "],
        'K' => ["#  #", "# # ", "##  ", "# # ", "#  #"],
        'L' => ["#   ", "#   ", "#   ", "#   ", "####"],
        'M' => ["#   #", "## ##", "# # #", "#   #", "#   #"],
        'N' => ["#  #", "## #", "# ##", "#  #", "#  #"],
        'O' => [" ## ", "#  #", "#  #", "#  #", " ## "],
        'P' => ["### ", "#  #", "### ", "#   ", "#   "],
        'Q' => [" ## ", "#  #", "#  #", "# ##", " ###"],
        'R' => ["### ", "#  #", "### ", "# # ", "#  #"],
        'S' => [" ###", "#   ", " ## ", "   #", "### "],
        'T' => ["###", " # ", " # ", " # ", " # "],
        'U' => ["#  #", "#  #", "#  #", "#  #", " ## "],
        'V' => ["#   #", "#   #", " # # ", " # # ", "  #  "],
        'W' => ["#   #", "#   #", "# # #", "## ##", "#   #"],
        'X' => ["#  #", "#  #", " ## ", "#  #", "#  #"],
        'Y' => ["# #", "# #", " # ", " # ", " # "],
        'Z' => ["####", "   #", " ## ", "#   ", "####"],
        ' ' => ["  ", "  ", "  ", "  ", "  "],
        '-' | '–' => ["   ", "   ", "###", "   ", "   "],
        '+' => ["   ", " # ", "###", " # ", "   "],
        '.' => [" ", " ", " ", " ", "#"],
        ',' => ["  ", "  ", "  ", " #", "# "],
        ':' => [" ", "#", " ", "#", " "],
        '\'' => ["#", "#", " ", " ", " "],
        '/' => ["  #", "  #", " # ", "#  ", "#  "],
        '%' => ["#  #", "  # ", " #  ", "#   ", "#  #"],
        '(' => [" #", "# ", "# ", "# ", " #"],
        ')' => ["# ", " #", " #", " #", "# "],
        '?' => ["###", "  #", " ##", "   ", " # "],
        '!' => ["#", "#", "#", " ", "#"],
        '°' => ["###", "# #", "###", "   ", "   "],
        '▲' => ["     ", "  #  ", " ### ", "#####", "     "],
        '▼' => ["     ", "#####", " ### ", "  #  ", "     "],
        '●' => [" ### ", "#####", "#####", "#####", " ### "],
        '◐' => [" ### ", "### #", "### #", "### #", " ### "],
        '✕' => ["#   #", " # # ", "  #  ", " # # ", "#   #"],
        '↻' => [" ### #", "#   ##", "#  ###", "#     ", " #### "],
        '↺' => ["# ### ", "##   #", "###  #", "     #", " #### "],
        _ => return None,
    })
}

/// How large a dot is, in half characters. A character is about twice as high as wide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Dot {
    across: usize,
    down: usize,
}

/// What letters are filled with: told apart without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    /// To be believed.
    Solid,
    /// Not to be believed.
    Hatched,
}

/// Dots that a text takes from left to right; `None` where a letter is not in this face.
fn dots(text: &str) -> Option<usize> {
    let widths: Option<Vec<usize>> =
        text.chars().map(|letter| Some(glyph(letter)?[0].chars().count() + 1)).collect();
    Some(widths?.iter().sum::<usize>().saturating_sub(1))
}

/// The largest dot in which the text fits so many columns and rows; `None` if none does. Height
/// counts before width: a letter may be made narrow, half as wide as a square dot would make it.
pub(super) fn fitting(text: &str, columns: usize, rows: usize, ink: Ink) -> Option<Dot> {
    let wide = dots(text)?.max(1);
    (1..=2 * rows / HIGH).rev().find_map(|down| {
        let across = (2 * down).min(2 * columns / wide);
        let dot = match ink {
            Ink::Solid => Dot { across, down },
            // Hatching fills whole characters.
            Ink::Hatched => Dot { across: across / 2 * 2, down: down / 2 * 2 },
        };
        (dot.down > 0 && dot.across >= dot.down).then_some(dot)
    })
}

/// The text in letters of this size, a line for each row of characters.
pub(super) fn lines(text: &str, dot: Dot, ink: Ink) -> Vec<String> {
    let mut rows: [Vec<bool>; HIGH] = Default::default();
    for letter in text.chars() {
        let Some(glyph) = glyph(letter) else { continue };
        for (row, dots) in rows.iter_mut().zip(glyph) {
            let gap = usize::from(!row.is_empty());
            row.extend(std::iter::repeat_n(false, gap * dot.across));
            for filled in dots.chars() {
                row.extend(std::iter::repeat_n(filled == '#', dot.across));
            }
        }
    }
    let halves: Vec<&Vec<bool>> =
        rows.iter().flat_map(|row| std::iter::repeat_n(row, dot.down)).collect();
    halves.chunks(2).map(|pair| joined(pair[0], pair.get(1).copied(), ink)).collect()
}

/// Two half rows as one row of characters.
fn joined(upper: &[bool], lower: Option<&Vec<bool>>, ink: Ink) -> String {
    /// By upper left, upper right, lower left and lower right quarter, from the lowest bit.
    const QUARTERS: [char; 16] =
        [' ', '▘', '▝', '▀', '▖', '▌', '▞', '▛', '▗', '▚', '▐', '▜', '▄', '▙', '▟', '█'];
    let filled = |row: Option<&[bool]>, at: usize| {
        usize::from(row.is_some_and(|row| row.get(at).copied().unwrap_or(false)))
    };
    let lower = lower.map(Vec::as_slice);
    (0..upper.len().div_ceil(2))
        .map(|column| {
            let (left, right) = (2 * column, 2 * column + 1);
            let quarters = filled(Some(upper), left)
                | filled(Some(upper), right) << 1
                | filled(lower, left) << 2
                | filled(lower, right) << 3;
            match ink {
                Ink::Hatched if quarters == 15 => '░',
                Ink::Hatched | Ink::Solid => QUARTERS[quarters],
            }
        })
        .collect()
}

/// The one of these texts to be drawn in big letters, and where it is among them: the first that
/// fits in broad ones, else in narrow ones; the last, which says least, only where no other fits.
pub(super) fn first_fitting(
    texts: &[String],
    columns: usize,
    rows: usize,
) -> Option<(usize, Vec<String>)> {
    let (last, before) = texts.split_last()?;
    let of = |broad: bool| {
        before.iter().enumerate().find_map(|(at, text)| {
            let dot = fitting(text, columns, rows, Ink::Solid)?;
            (!broad || dot.across == 2 * dot.down).then(|| (at, lines(text, dot, Ink::Solid)))
        })
    };
    of(true).or_else(|| of(false)).or_else(|| {
        let dot = fitting(last, columns, rows, Ink::Solid)?;
        Some((before.len(), lines(last, dot, Ink::Solid)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    impl Dot {
        /// Rows of characters that a line in this size takes.
        fn rows(self) -> usize {
            (HIGH * self.down).div_ceil(2)
        }
    }

    const LETTERS: &str = "0123456789ABCDEFGHIJKLMNPQRSTUVWXYZ-+.,:'/%()?!°▲▼●◐✕↻↺";

    #[test]
    fn a_number_fills_its_rows_and_columns() {
        let dot = fitting("3.07", 64, 10, Ink::Solid).unwrap();
        assert_eq!((dot, dot.rows()), (Dot { across: 8, down: 4 }, 10));
        let lines = lines("3.07", dot, Ink::Solid);
        assert_eq!(lines.len(), 10);
        assert!(lines.iter().all(|line| line.chars().count() == 64));
        assert_eq!(lines[0], format!("{0}    {1}    {0}    {0}", "█".repeat(16), " ".repeat(4)));
    }

    /// Everything that can be shown fits 80 columns ten rows high: some two inches on a laptop's
    /// screen, which is read from two metres (common practice, no source).
    #[test]
    fn every_number_is_ten_rows_high_in_80_columns() {
        for text in
            ["3.07", "10.21", "-0.34", "0.121", "-0.013", "0.402", "+12.34°", "-12.34°", "--"]
        {
            assert_eq!(fitting(text, 80, 10, Ink::Solid).unwrap().rows(), 10, "{text}");
            let doubtful = format!("{text}?");
            assert_eq!(fitting(&doubtful, 80, 10, Ink::Hatched).unwrap().rows(), 10, "{text}");
        }
    }

    #[test]
    fn words_are_three_rows_high_and_narrow_before_they_are_left_out() {
        let word = |text: &str, columns| fitting(text, columns, 3, Ink::Solid);
        assert_eq!(word("WITHIN", 80), Some(Dot { across: 2, down: 1 }));
        assert_eq!(word("TOO CLOSE TO CALL", 60), Some(Dot { across: 1, down: 1 }));
        assert_eq!(word("TOO CLOSE TO CALL", 30), None);
        assert_eq!(word("ÜBER", 80), None, "this face has no such letter");
        let texts = ["CLIP AT SOMEWHERE FAR", "CLIP SOMEWHERE", "CLIP"].map(String::from);
        let chosen = |columns| first_fitting(&texts, columns, 3).unwrap().0;
        assert_eq!([chosen(110), chosen(80), chosen(60), chosen(30)], [0, 1, 0, 2]);
    }

    #[test]
    fn hatching_fills_whole_characters() {
        let dot = fitting("3.07?", 80, 9, Ink::Hatched).unwrap();
        let drawn = lines("3.07?", dot, Ink::Hatched).concat();
        assert!(drawn.chars().all(|c| matches!(c, ' ' | '░')), "{drawn}");
    }

    #[test]
    fn every_letter_has_five_rows_of_one_width_and_no_two_look_alike() {
        let mut seen = BTreeMap::new();
        for letter in LETTERS.chars() {
            let glyph = glyph(letter).unwrap();
            let width = glyph[0].chars().count();
            assert!(glyph.iter().all(|row| row.chars().count() == width), "{letter}");
            assert_eq!(seen.insert(glyph, letter), None, "{letter}");
        }
    }
}
