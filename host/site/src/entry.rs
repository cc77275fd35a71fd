//! Numbers as a person enters them: finite, in a range that the wall allows, and in millimetres.

use skimgauge_model::ImageError;
use skimgauge_quantity::{Mm, Say, Sentence, Tell, say, short, told_in_mm};

/// A number that cannot be used as entered.
#[derive(Debug, Clone, PartialEq)]
pub enum EntryError {
    /// NaN or infinite.
    NotANumber {
        /// What was entered.
        what: Sentence,
    },
    /// Outside what can be true here.
    OutOfRange {
        /// What was entered.
        what: Sentence,
        /// The value entered.
        value: f64,
        /// Its unit, and that of the two below.
        unit: &'static str,
        /// Lowest value accepted.
        low: f64,
        /// Highest value accepted.
        high: f64,
    },
    /// An image that cannot be.
    Image(ImageError),
    /// A name that must be given is empty, or one that must be single is given twice.
    Name {
        /// What was entered.
        what: Sentence,
        /// What is wrong with it and what to do.
        problem: String,
    },
}

impl From<ImageError> for EntryError {
    fn from(error: ImageError) -> Self {
        Self::Image(error)
    }
}

impl Tell for EntryError {
    fn tell(&self) -> Sentence {
        match self {
            Self::NotANumber { what } => say!("{what} is not a number; enter it again"),
            Self::OutOfRange { what, value, unit: "mm", low, high } => {
                let said = say!(
                    "{what} is {}, expected {}",
                    Mm(*value).size(),
                    Mm(*low).size().to(Mm(*high).size())
                );
                match other_unit(*value, *low, *high) {
                    Some((unit, length)) => {
                        say!("{said}; if it was in {unit}, enter {}", length.size())
                    }
                    None => said,
                }
            }
            Self::OutOfRange { what, value, unit, low, high } => say!(
                "{what} is {} {unit}, expected {} to {} {unit}",
                short(*value),
                short(*low),
                short(*high)
            ),
            Self::Image(error) => error.tell(),
            Self::Name { what, problem } => say!("{what}: {problem}"),
        }
    }
}

told_in_mm!(EntryError);

/// The value, if it is finite.
pub(crate) fn number(what: impl Say, value: f64) -> Result<f64, EntryError> {
    if value.is_finite() { Ok(value) } else { Err(EntryError::NotANumber { what: say!("{what}") }) }
}

/// The value, if it is finite and within `low..=high`.
pub(crate) fn within(
    what: impl Say,
    value: f64,
    low: f64,
    high: f64,
    unit: &'static str,
) -> Result<f64, EntryError> {
    number(&what, value)?;
    if (low..=high).contains(&value) {
        return Ok(value);
    }
    Err(EntryError::OutOfRange { what: say!("{what}"), value, unit, low, high })
}

/// The length, if it is finite and within `low..=high` mm; the error guesses at mixed units.
pub(crate) fn length_mm(
    what: impl Say,
    value_mm: f64,
    low: f64,
    high: f64,
) -> Result<f64, EntryError> {
    within(what, value_mm, low, high, "mm")
}

/// The unit in which the value would have been possible, and what it is then.
fn other_unit(value: f64, low: f64, high: f64) -> Option<(&'static str, Mm)> {
    [(25.4, "inches"), (10.0, "centimetres"), (1000.0, "metres")]
        .into_iter()
        .map(|(factor, unit)| (unit, Mm(value * factor)))
        .find(|(_, length)| value > 0.0 && (low..=high).contains(&length.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_in_metres_is_recognised() {
        let said = length_mm("image width", 1.9, 200.0, 20_000.0).unwrap_err().to_string();
        assert!(said.contains("if it was in metres, enter 1900 mm"), "{said}");
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
