//! Numbers as a person enters them: finite, in a range that the wall allows, and in millimetres.

use thiserror::Error;

/// A number that cannot be used as entered.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum EntryError {
    /// NaN or infinite.
    #[error("{what} is not a number; enter it again")]
    NotANumber {
        /// What was entered.
        what: String,
    },
    /// Outside what can be true here.
    #[error("{what} is {value} {unit}, expected {low} to {high} {unit}{hint}")]
    OutOfRange {
        /// What was entered.
        what: String,
        /// The value entered.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// Lowest value accepted.
        low: f64,
        /// Highest value accepted.
        high: f64,
        /// What may have happened, as the rest of the sentence; may be empty.
        hint: String,
    },
    /// A name that must be given is empty, or one that must be single is given twice.
    #[error("{what}: {problem}")]
    Name {
        /// What was entered.
        what: String,
        /// What is wrong with it and what to do.
        problem: String,
    },
}

/// The value, if it is finite.
pub(crate) fn number(what: &str, value: f64) -> Result<f64, EntryError> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(EntryError::NotANumber { what: what.to_owned() })
    }
}

/// The value, if it is finite and within `low..=high`.
pub(crate) fn within(
    what: &str,
    value: f64,
    low: f64,
    high: f64,
    unit: &'static str,
) -> Result<f64, EntryError> {
    number(what, value)?;
    if (low..=high).contains(&value) {
        return Ok(value);
    }
    let hint = if unit == "mm" { other_unit(value, low, high) } else { String::new() };
    Err(EntryError::OutOfRange { what: what.to_owned(), value, unit, low, high, hint })
}

/// The length, if it is finite and within `low..=high` mm; the error guesses at mixed units.
pub(crate) fn length_mm(what: &str, value_mm: f64, low: f64, high: f64) -> Result<f64, EntryError> {
    within(what, value_mm, low, high, "mm")
}

/// A sentence's end that names the unit in which the value would have been possible.
fn other_unit(value: f64, low: f64, high: f64) -> String {
    let fits = |factor: f64| (low..=high).contains(&(value * factor)) && value > 0.0;
    for (factor, unit) in [(25.4, "inches"), (10.0, "centimetres"), (1000.0, "metres")] {
        if fits(factor) {
            return format!("; if it was in {unit}, enter {:.1} mm", value * factor);
        }
    }
    String::new()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_in_metres_is_recognised() {
        let said = length_mm("image width", 1.9, 200.0, 20_000.0).unwrap_err().to_string();
        assert!(said.contains("if it was in metres, enter 1900.0 mm"), "{said}");
    }

    #[test]
    fn a_length_in_inches_is_recognised() {
        let said = length_mm("image diagonal", 94.0, 200.0, 20_000.0).unwrap_err().to_string();
        assert!(said.contains("if it was in inches, enter 2387.6 mm"), "{said}");
    }

    #[test]
    fn nan_and_infinity_are_refused() {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(matches!(number("x", value), Err(EntryError::NotANumber { .. })));
        }
    }
}
