//! Numbers as text: rounded once, a sign only where something is left of it, words for what is no
//! number.

use crate::style::Style;

/// From here on a number in any unit shown here is a mistake, not a measure.
pub(crate) const TOO_LARGE: f64 = 1e9;

/// How a number is written out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Digits {
    /// So many decimals.
    Fixed(usize),
    /// At most so many decimals, zeros at the end left out.
    Trimmed(usize),
    /// The nearest of so many parts, in lowest terms.
    Fraction(u32),
}

/// The word that stands in the place of a value that is no number, or none that can be.
pub(crate) fn word(value: f64) -> Option<&'static str> {
    match value {
        value if value.is_nan() => Some("not known"),
        value if value.abs() >= TOO_LARGE => Some("too large"),
        _ => None,
    }
}

impl Digits {
    /// The number, its plus shown if `signed`; never a zero with a sign.
    pub(crate) fn of(self, value: f64, signed: bool, style: Style) -> String {
        if let Some(word) = word(value) {
            return word.to_owned();
        }
        let size = match self {
            Self::Fixed(decimals) => format!("{:.decimals$}", value.abs()),
            Self::Trimmed(decimals) => trimmed(format!("{:.decimals$}", value.abs())),
            Self::Fraction(parts) => fraction(value.abs(), parts, style),
        };
        let is_zero = size.bytes().all(|byte| matches!(byte, b'0' | b'.'));
        match value {
            _ if is_zero => size,
            value if value < 0.0 => format!("{}{size}", style.minus()),
            _ if signed => format!("+{size}"),
            _ => size,
        }
    }

    /// For a column, where every cell has the same decimals.
    pub(crate) fn for_column(self) -> Self {
        match self {
            Self::Trimmed(decimals) => Self::Fixed(decimals),
            other => other,
        }
    }

    /// The decimals that say as much as a fraction does.
    pub(crate) fn as_decimals(self) -> Self {
        match self {
            Self::Fraction(parts) => Self::Fixed(if parts > 16 { 3 } else { 2 }),
            other => other,
        }
    }
}

/// At least `least`, and so many that one digit other than zero is left; at most nine.
pub(crate) fn decimals_for(value: f64, least: usize) -> usize {
    (least..=9)
        .find(|&decimals| value.abs() >= 0.5 * 10_f64.powi(-(decimals as i32)))
        .unwrap_or(least)
}

fn trimmed(number: String) -> String {
    if number.contains('.') {
        number.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        number
    }
}

/// To the nearest part, in lowest terms: `3/8`, `93 3/8`, `93`.
fn fraction(size: f64, parts: u32, style: Style) -> String {
    let parts = u64::from(parts);
    // Below TOO_LARGE, so that whole parts are exact.
    let count = (size * parts as f64).round() as u64;
    let (whole, rest) = (count / parts, count % parts);
    if rest == 0 {
        return whole.to_string();
    }
    let halvings = rest.trailing_zeros();
    let fraction = format!("{}/{}", rest >> halvings, parts >> halvings);
    if whole == 0 { fraction } else { format!("{whole}{}{fraction}", style.blank()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zero_has_no_sign() {
        let typed = Style::default();
        for value in [-0.001, 0.001, -0.0] {
            for signed in [true, false] {
                assert_eq!(Digits::Fixed(2).of(value, signed, typed), "0.00");
                assert_eq!(Digits::Trimmed(2).of(value, signed, typed), "0");
                assert_eq!(Digits::Fraction(16).of(value, signed, typed), "0");
            }
        }
        assert_eq!(Digits::Fixed(2).of(-0.304, true, typed), "-0.30");
        assert_eq!(Digits::Fixed(2).of(0.304, true, typed), "+0.30");
    }

    #[test]
    fn what_is_no_number_is_a_word() {
        for digits in [Digits::Fixed(2), Digits::Trimmed(2), Digits::Fraction(64)] {
            assert_eq!(digits.of(f64::NAN, true, Style::default()), "not known");
            for value in [f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e9] {
                assert_eq!(digits.of(value, true, Style::default()), "too large");
            }
        }
    }

    #[test]
    fn decimals_leave_a_digit() {
        assert_eq!([0.0871, 0.0041, 0.0, 1e-30].map(|value| decimals_for(value, 2)), [2, 3, 2, 2]);
    }
}
