//! A quantity as a person writes it: `94 in`, `93 3/8 in`, `93⅜"`, `6 ft 2 in`, `6'-2 1/2"`, `0,5
//! mm`, `-0.1 deg`.
//!
//! One number, then one unit, the space between them optional; feet may have inches after them.
//! Fractions are read because inch tapes are read so. A comma is a decimal comma where it can be
//! nothing else; `1,265` is refused, for it may be either. A number without a unit is refused,
//! unless the caller says what a bare number means: whoever reads it later must not have to guess.

mod fault;
mod number;
mod units;

pub use fault::{Fault, Unread};

use fault::shortened;
use number::{Pair, number, plain};
use units::{Rule, find_rule, units_of};

/// What a quantity measures. Its numbers come out in one base unit, whatever unit was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Base unit mm.
    Length,
    /// Base unit degree. Slopes (`mm/m`, `in/ft`) are read as the angle whose tangent they are.
    Angle,
    /// Base unit mm per m. Angles are read as the slope that is their tangent.
    Slope,
    /// Turning of an adjuster; base unit one whole turn.
    Turn,
    /// Base unit kg.
    Mass,
    /// Base unit N.
    Force,
    /// Base unit degree Celsius.
    Temperature,
    /// Base unit V.
    Voltage,
    /// A stretch of time; base unit s. A year is 365 days.
    Time,
}

impl Kind {
    /// Every kind, for tests and help texts.
    pub const ALL: [Self; 9] = [
        Self::Length,
        Self::Angle,
        Self::Slope,
        Self::Turn,
        Self::Mass,
        Self::Force,
        Self::Temperature,
        Self::Voltage,
        Self::Time,
    ];

    /// The unit that [`read`] returns numbers in.
    pub fn base_unit(self) -> &'static str {
        match self {
            Self::Length => "mm",
            Self::Angle => "deg",
            Self::Slope => "mm/m",
            Self::Turn => "turns",
            Self::Mass => "kg",
            Self::Force => "N",
            Self::Temperature => "C",
            Self::Voltage => "V",
            Self::Time => "s",
        }
    }

    /// A quantity of this kind as one might write it, for messages.
    pub fn example(self) -> &'static str {
        match self {
            Self::Length => "2025 mm",
            Self::Angle => "0.1 deg",
            Self::Slope => "0.5 mm/m",
            Self::Turn => "4 turns",
            Self::Mass => "2.4 kg",
            Self::Force => "1.5 kN",
            Self::Temperature => "20 C",
            Self::Voltage => "4.4 V",
            Self::Time => "365 days",
        }
    }

    /// The kind's name with its article, for messages.
    pub fn described(self) -> &'static str {
        match self {
            Self::Length => "a length",
            Self::Angle => "an angle",
            Self::Slope => "a slope",
            Self::Turn => "a number of turns",
            Self::Mass => "a weight",
            Self::Force => "a force",
            Self::Temperature => "a temperature",
            Self::Voltage => "a voltage",
            Self::Time => "a time",
        }
    }

    /// The units that may be written, each in its first spelling.
    pub fn units(self) -> Vec<&'static str> {
        units_of(self).map(|unit| unit.spellings[0]).collect()
    }
}

/// Reads `text` as a quantity of `kind`, in [`Kind::base_unit`]; always finite.
///
/// # Errors
/// [`Unread`] says what is wrong with the text and what is expected. Whether the number is sensible
/// is for the caller to say.
pub fn read(text: &str, kind: Kind) -> Result<f64, Unread> {
    parse(text, kind, false).map_err(|fault| Unread::new(kind, fault, false))
}

/// The same, where a number without a unit counts in the base unit.
///
/// # Errors
/// As [`read`].
pub fn read_bare(text: &str, kind: Kind) -> Result<f64, Unread> {
    parse(text, kind, true).map_err(|fault| Unread::new(kind, fault, true))
}

fn parse(text: &str, kind: Kind, bare: bool) -> Result<f64, Fault> {
    let text = plain(text);
    let text = text.trim();
    if text.is_empty() {
        return Err(Fault::Empty);
    }
    let mut pairs = Pair::split(text);
    let first = pairs.next().filter(|first| first.number.contains(|c: char| c.is_ascii_digit()));
    let Some(first) = first else { return Err(Fault::NoNumber) };
    let value = match (pairs.next(), pairs.next()) {
        (None, _) => one(&first, kind, bare)?,
        (Some(second), None) if kind == Kind::Length && first.is_feet() && second.is_inches() => {
            feet_and_inches(&first, &second, text)?
        }
        (Some(second), _) => {
            let as_power = first.unit.eq_ignore_ascii_case("e") && !second.number.is_empty();
            return Err(if as_power {
                Fault::BadNumber(shortened(text))
            } else {
                Fault::TwoQuantities
            });
        }
    };
    // Adding zero makes a plain zero of a negative one.
    if value.is_finite() { Ok(value + 0.0) } else { Err(Fault::NotFinite) }
}

fn one(pair: &Pair<'_>, kind: Kind, bare: bool) -> Result<f64, Fault> {
    let value = number(pair.number)?;
    if pair.unit.is_empty() {
        return if bare { Ok(value) } else { Err(Fault::NoUnit(shortened(pair.number))) };
    }
    Ok(find_rule(pair.unit, kind)?.apply(value))
}

/// `6 ft 2 1/2 in`, `6'-2 1/2"`: a hyphen between them joins, as on drawings, and the sign in front
/// is that of the whole.
fn feet_and_inches(feet: &Pair<'_>, inches: &Pair<'_>, text: &str) -> Result<f64, Fault> {
    let odd = || Fault::FeetAndInches(shortened(text));
    let whole = number(feet.number)?;
    let rest = number(inches.number.strip_prefix('-').unwrap_or(inches.number).trim_start())?;
    let is_whole =
        feet.number.trim_start_matches(['-', '+']).bytes().all(|byte| byte.is_ascii_digit());
    if !is_whole || !(0.0..12.0).contains(&rest) {
        return Err(odd());
    }
    let inch = 12.0 * whole.abs() + rest;
    Ok(Rule::INCH.apply(if feet.number.starts_with('-') { -inch } else { inch }))
}

#[cfg(test)]
mod tests;
