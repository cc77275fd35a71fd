//! Why a text is no quantity, for the person who wrote it.

use std::fmt;

use super::Kind;

/// A text that is no quantity of the kind that was wanted: what is wrong with it, and what is
/// expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unread {
    kind: Kind,
    fault: Fault,
    bare: bool,
}

impl Unread {
    pub(super) fn new(kind: Kind, fault: Fault, bare: bool) -> Self {
        Self { kind, fault, bare }
    }

    /// What is wrong.
    pub fn fault(&self) -> &Fault {
        &self.fault
    }

    /// What is expected instead, as a clause.
    pub fn expected(&self) -> String {
        let (kind, units) = (self.kind.described(), self.kind.units().join(", "));
        match self.fault {
            Fault::UnknownUnit { .. } | Fault::WrongKind { .. } => {
                format!("{kind} in one of: {units}")
            }
            _ if self.bare => {
                format!(
                    "{kind} in {}, or with its unit, such as {} (units: {units})",
                    self.kind.base_unit(),
                    self.kind.example()
                )
            }
            _ => format!("{kind} with its unit, such as {} (units: {units})", self.kind.example()),
        }
    }
}

impl fmt::Display for Unread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; expected {}", self.fault, self.expected())
    }
}

impl std::error::Error for Unread {}

/// What is wrong with a text. Its `Display` is a clause for the person who wrote the text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fault {
    /// Nothing but space.
    Empty,
    /// It does not begin with a number.
    NoNumber,
    /// It begins with something like a number, which cannot be read as one.
    BadNumber(String),
    /// A comma that some read as thousands and others as the decimal point: `1,265`.
    Comma(String),
    /// Thousands are set apart: `1 265`, `1.265,5`.
    Grouped(String),
    /// A number without a unit.
    NoUnit(String),
    /// Not a unit that is known; with the nearest one of the wanted kind, if one is near.
    UnknownUnit {
        /// As written.
        unit: String,
        /// What may have been meant.
        nearest: Option<&'static str>,
    },
    /// A second number after the first unit that cannot belong to it, as in `6 m 2 mm`.
    TwoQuantities,
    /// Feet that are not whole, or twelve inches and more after them.
    FeetAndInches(String),
    /// A unit of another kind.
    WrongKind {
        /// As written.
        unit: String,
        /// What it measures.
        measures: Kind,
    },
    /// Too large for any number.
    NotFinite,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "nothing is written here"),
            Self::NoNumber => write!(f, "there is no number in front"),
            Self::BadNumber(number) => write!(f, "`{number}` cannot be read as a number"),
            Self::Comma(number) => write!(
                f,
                "the comma in `{number}` could mean two things; write a point for decimals and nothing for thousands"
            ),
            Self::Grouped(number) => {
                write!(
                    f,
                    "thousands are set apart in `{number}`; write the number without anything between them"
                )
            }
            Self::NoUnit(number) => write!(f, "`{number}` has no unit"),
            Self::UnknownUnit { unit, nearest } => {
                write!(f, "`{unit}` is not a unit known here")?;
                match nearest {
                    Some(nearest) => write!(f, "; did you mean `{nearest}`?"),
                    None => Ok(()),
                }
            }
            Self::TwoQuantities => {
                write!(
                    f,
                    "there are two numbers with units; write one, such as 74 in, or feet with inches"
                )
            }
            Self::FeetAndInches(text) => {
                write!(
                    f,
                    "`{text}` cannot be: feet before inches are whole, and inches after them less than 12"
                )
            }
            Self::WrongKind { unit, measures } => {
                write!(f, "`{unit}` is the unit of {}", measures.described())
            }
            Self::NotFinite => write!(f, "the number is too large"),
        }
    }
}

/// Long enough to recognise, short enough for a message; what could move a terminal's cursor is
/// left out.
pub(super) fn shortened(text: &str) -> String {
    const LONGEST: usize = 24;
    let mut short: String = text.chars().filter(|c| !crate::steers(*c)).take(LONGEST).collect();
    if text.chars().nth(LONGEST).is_some() {
        short.push_str("...");
    }
    short
}
