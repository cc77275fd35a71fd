//! Which sign stands for decimals, decided once for the whole table; then numbers.

use std::borrow::Cow;

use crate::error::{Problem, TableError, shortened};

/// The sign for decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Decimal {
    Point,
    Comma,
}

/// A value with its place, for messages.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cell<'a> {
    pub(crate) text: &'a str,
    pub(crate) line: usize,
    /// Column, from one.
    pub(crate) number: usize,
    /// The column's name.
    pub(crate) column: &'static str,
}

/// A cell that has the sign, to be named later.
#[derive(Debug, Clone)]
struct Seen {
    text: String,
    line: usize,
    number: usize,
    column: &'static str,
    /// It can be nothing but decimals.
    sure: bool,
}

/// What the cells seen so far tell of the sign.
#[derive(Debug, Default)]
pub(crate) struct Evidence {
    comma: Option<Seen>,
    point: Option<Seen>,
}

impl Evidence {
    /// Takes a cell of a column of numbers in.
    pub(crate) fn see(&mut self, cell: Cell<'_>) -> Result<(), TableError> {
        let text = size(cell.text);
        let grouped = || {
            Problem::Grouped { column: cell.column, found: shortened(cell.text) }
                .at(cell.line)
                .column(cell.number)
                .suggest("write the number without anything between its thousands")
        };
        if !text.starts_with(|c: char| c.is_ascii_digit() || ".,".contains(c)) {
            return Ok(());
        }
        let (points, commas) = (text.matches('.').count(), text.matches(',').count());
        let set_apart = text.contains(|c: char| c.is_whitespace() || "'\u{2019}".contains(c));
        let digits = text
            .chars()
            .all(|c| c.is_ascii_digit() || c.is_whitespace() || ".,'\u{2019}".contains(c));
        if digits
            && text.ends_with(|c: char| c.is_ascii_digit())
            && (set_apart || points + commas > 1)
        {
            return Err(grouped());
        }
        let known = match (points, commas) {
            (1, 0) => &mut self.point,
            (0, 1) => &mut self.comma,
            _ => return Ok(()),
        };
        let sure = !may_be_thousands(text);
        match known {
            Some(seen) => seen.sure |= sure,
            None => {
                let text = cell.text.to_owned();
                *known = Some(Seen {
                    text,
                    line: cell.line,
                    number: cell.number,
                    column: cell.column,
                    sure,
                });
            }
        }
        Ok(())
    }

    /// The sign of the table. Where commas part its values, a point is for decimals without doubt.
    pub(crate) fn decide(self, values_parted_by_commas: bool) -> Result<Decimal, TableError> {
        let (seen, decimal) = match (self.comma, self.point) {
            (None, None) => return Ok(Decimal::Point),
            (Some(comma), None) => (comma, Decimal::Comma),
            (None, Some(point)) => (point, Decimal::Point),
            (Some(comma), Some(point)) => {
                let (first, then) =
                    if comma.line <= point.line { (comma, point) } else { (point, comma) };
                return Err(Problem::TwoSigns {
                    column: then.column,
                    found: shortened(&then.text),
                    other: shortened(&first.text),
                    other_line: first.line,
                }
                .at(then.line)
                .column(then.number));
            }
        };
        if seen.sure || (decimal == Decimal::Point && values_parted_by_commas) {
            return Ok(decimal);
        }
        Err(Problem::Ambiguous { column: seen.column, found: shortened(&seen.text) }
            .at(seen.line)
            .column(seen.number)
            .suggest("write decimals so that it shows (1.2650), and nothing between thousands"))
    }
}

/// A number's text without its sign.
fn size(text: &str) -> &str {
    text.trim_start_matches(['-', '+', '\u{2212}', '\u{2013}'])
}

/// One to three digits, not beginning with zero, then three.
fn may_be_thousands(text: &str) -> bool {
    let Some((before, after)) = text.split_once(['.', ',']) else { return false };
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    (1..=3).contains(&before.len())
        && digits(before)
        && !before.starts_with('0')
        && after.len() == 3
        && digits(after)
}

/// The number of a cell, no further from zero than `largest`, mm.
pub(crate) fn number(cell: Cell<'_>, decimal: Decimal, largest: f64) -> Result<f64, TableError> {
    let at = |problem: Problem| problem.at(cell.line).column(cell.number);
    let found = || shortened(cell.text);
    let column = cell.column;
    let mut plain = Cow::Borrowed(cell.text);
    if plain.contains(['\u{2212}', '\u{2013}']) {
        plain = Cow::Owned(plain.replace(['\u{2212}', '\u{2013}'], "-"));
    }
    if decimal == Decimal::Comma {
        plain = Cow::Owned(plain.replace(',', "."));
    }
    let Ok(value) = plain.parse::<f64>() else {
        let error = at(Problem::NotANumber { column, found: found() });
        return Err(match hint(cell.text) {
            Some(hint) => error.suggest(hint),
            None => error,
        });
    };
    if !value.is_finite() {
        return Err(at(Problem::NotFinite { column, found: found() }));
    }
    if value.abs() > largest {
        return Err(at(Problem::TooLarge { column, found: found(), largest })
            .suggest("is it in another unit?"));
    }
    // Adding zero makes one of minus zero and zero.
    Ok(value + 0.0)
}

fn hint(text: &str) -> Option<&'static str> {
    let starts_as_number =
        text.starts_with(|c: char| c.is_ascii_digit() || "+-.,\u{2212}".contains(c));
    if is_formula_error(text) {
        Some("a formula of the spreadsheet went wrong there")
    } else if starts_as_number
        && text.ends_with(|c: char| c.is_alphabetic() || "\"'\u{b5}".contains(c))
    {
        Some("leave the unit out, and give millimetres")
    } else if text.contains(';') {
        Some("separate values with commas, or all of them with semicolons")
    } else if text.is_empty() {
        Some("leave the row out where nothing was measured")
    } else {
        None
    }
}

/// What a spreadsheet writes where a formula has no value.
pub(crate) fn is_formula_error(text: &str) -> bool {
    ["#N/A", "#NV", "#REF!", "#DIV/0!", "#VALUE!", "#WERT!", "#NAME?", "#NUM!", "#NULL!"]
        .iter()
        .any(|error| text.starts_with(error))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cell(text: &str, line: usize) -> Cell<'_> {
        Cell { text, line, number: 2, column: "x_mm" }
    }

    fn decided(cells: &[&str], commas: bool) -> Result<Decimal, String> {
        let mut evidence = Evidence::default();
        for (at, text) in cells.iter().enumerate() {
            evidence.see(cell(text, at + 2)).map_err(|error| error.to_string())?;
        }
        evidence.decide(commas).map_err(|error| error.to_string())
    }

    #[test]
    fn one_cell_that_is_sure_decides_for_all() {
        assert_eq!(decided(&["1,265", "3,2"], false), Ok(Decimal::Comma));
        assert_eq!(decided(&["1.265", "0.125"], false), Ok(Decimal::Point));
        assert_eq!(decided(&["-950", "0", "1e3"], false), Ok(Decimal::Point));
        assert_eq!(decided(&["1.265"], true), Ok(Decimal::Point));
        assert_eq!(decided(&["\u{2212}0,500"], true), Ok(Decimal::Comma));
    }

    #[test]
    fn what_could_be_two_things_is_refused() {
        let said = decided(&["0", "\u{2212}1,265"], true).unwrap_err();
        assert!(
            said.starts_with(
                "line 3: x_mm is \"\u{2212}1,265\", which could be \u{2212}1.265 or \u{2212}1265"
            ),
            "{said}"
        );
        assert!(decided(&["950.000", "1.265"], false).unwrap_err().starts_with("line 2: "));
        let said = decided(&["3.2", "3,2"], false).unwrap_err();
        assert_eq!(
            said,
            "line 3: x_mm is \"3,2\", but line 2 has \"3.2\": one sign for decimals in the whole table"
        );
        for text in ["1.234,5", "1,234,567", "1 265", "1\u{202f}265,5", "1'265", "1\u{2019}265.50"]
        {
            let said = decided(&[text], false).unwrap_err();
            assert!(said.contains("with its thousands set apart"), "{text}: {said}");
        }
    }

    #[test]
    fn what_is_no_number_is_told_with_a_hint() {
        let said = |text| number(cell(text, 2), Decimal::Point, 100.0).unwrap_err().to_string();
        assert!(said("3.1mm").ends_with("leave the unit out, and give millimetres"));
        assert!(said("#N/A").ends_with("a formula of the spreadsheet went wrong there"));
        assert!(said("").ends_with("leave the row out where nothing was measured"));
        assert_eq!(said("1e309"), "line 2: x_mm is 1e309, which is not a finite number");
        assert_eq!(said("-NaN"), "line 2: x_mm is -NaN, which is not a finite number");
        assert_eq!(
            said("3100"),
            "line 2: x_mm is 3100 mm, more than the 100 mm that can be; is it in another unit?"
        );
        assert!(!said("3\u{1b}[2J").contains('\u{1b}'));
        assert_eq!(number(cell("\u{2212}3,5", 2), Decimal::Comma, 100.0), Ok(-3.5));
        assert!(number(cell("-0", 2), Decimal::Point, 100.0).unwrap().is_sign_positive());
    }

    proptest! {
        /// A number written with a comma reads as the same number with a point.
        #[test]
        fn comma_and_point_say_the_same(value in -1e4..1e4_f64) {
            let text = format!("{value}");
            let with_comma = text.replace('.', ",");
            let point = number(cell(&text, 2), Decimal::Point, 1e5);
            prop_assert_eq!(number(cell(&with_comma, 2), Decimal::Comma, 1e5), point);
        }

        #[test]
        fn no_text_panics(texts in prop::collection::vec("[-+0-9.,eN' \u{2212}a]{0,8}", 0..5), commas in any::<bool>()) {
            let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
            if let Ok(decimal) = decided(&texts, commas) {
                for text in texts {
                    if let Ok(value) = number(cell(text, 1), decimal, 1e9) {
                        prop_assert!(value.is_finite());
                    }
                }
            }
        }
    }
}
