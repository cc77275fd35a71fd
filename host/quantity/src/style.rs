//! In which units, and with which signs, quantities are shown.

use std::fmt;
use std::str::FromStr;

/// In which units lengths are shown. Angles are degrees and temperatures degrees Celsius in either.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub enum Units {
    /// Millimetres.
    #[default]
    Mm,
    /// Inches.
    Inch,
}

impl Units {
    /// The unit's sign, for the head of a column: `mm` or `in`.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Inch => "in",
        }
    }

    /// The unit of forces beside such lengths, for the head of a column: `N` or `lbf`.
    pub fn force_sign(self) -> &'static str {
        match self {
            Self::Mm => "N",
            Self::Inch => "lbf",
        }
    }

    /// The unit in a sentence, where its sign would be read as another word: `mm` or `inches`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Inch => "inches",
        }
    }
}

impl fmt::Display for Units {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Mm => "mm",
            Self::Inch => "inch",
        })
    }
}

impl FromStr for Units {
    type Err = String;

    /// Reads `mm` or `inch`.
    fn from_str(text: &str) -> Result<Self, String> {
        match text.trim().to_ascii_lowercase().as_str() {
            "mm" => Ok(Self::Mm),
            "inch" | "in" | "inches" => Ok(Self::Inch),
            _ => Err(format!("\"{text}\" is no unit for lengths here: write mm or inch")),
        }
    }
}

/// Which signs are used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub enum Signs {
    /// Blanks and minus signs that a keyboard has, so that what a terminal shows can be searched
    /// for.
    #[default]
    Typed,
    /// A true minus, and blanks at which no line breaks: for pages.
    Printed,
}

/// How quantities are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Style {
    /// In which units.
    pub units: Units,
    /// With which signs.
    pub signs: Signs,
}

impl Style {
    /// For a terminal, a log or a file.
    pub fn typed(units: Units) -> Self {
        Self { units, signs: Signs::Typed }
    }

    /// For a page.
    pub fn printed(units: Units) -> Self {
        Self { units, signs: Signs::Printed }
    }

    /// What stands in a column where there is no value.
    pub fn none(self) -> &'static str {
        match self.signs {
            Signs::Typed => "-",
            Signs::Printed => "\u{2013}",
        }
    }

    pub(crate) fn minus(self) -> char {
        match self.signs {
            Signs::Typed => '-',
            Signs::Printed => '\u{2212}',
        }
    }

    /// The blank between a number and what belongs to it.
    pub(crate) fn blank(self) -> char {
        match self.signs {
            Signs::Typed => ' ',
            Signs::Printed => '\u{a0}',
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_read_by_name() {
        assert_eq!("inch".parse(), Ok(Units::Inch));
        assert_eq!(Units::Mm.to_string().parse(), Ok(Units::Mm));
        assert_eq!(Units::Inch.to_string().parse(), Ok(Units::Inch));
        assert!("feet".parse::<Units>().unwrap_err().contains("inch"));
    }
}
