//! A number as it is to be shown: how finely follows from what it is for, never from how large it
//! happens to be.
//!
//! | for | mm | inch |
//! | --- | --- | --- |
//! | [`Mm::gap`] | `2.41 mm` | `0.095 in` |
//! | [`Mm::limit`] | `1 mm`, `0.5 mm` | `0.039 in` |
//! | [`Mm::fine`] | `0.021 mm` | `0.0008 in` |
//! | [`Mm::uncertainty`] | `0.09 mm`, `0.004 mm` | `0.004 in`, `0.0002 in` |
//! | [`Mm::wall`] | `2025 mm` | `79 3/4 in` |
//! | [`Mm::tape`] | `2025 mm`, `93.4 mm` | `79 23/32 in` |
//! | [`Mm::size`] | `0.5 mm`, `610 mm` | `0.0197 in`, `24.0157 in` |
//! | [`force()`] | `1500 N` | `337.2 lbf` |
//! | [`mass()`] | `18 kg` | `39.7 lb` |
//!
//! Gaps and small differences are decimals in inches, as feeler stock is marked; lengths on the
//! wall and by tape are fractions, as tapes are divided. So a column of one purpose has one style.

mod column;
mod load;

use serde::{Deserialize, Serialize};

pub use column::column;
use load::{KG_PER_LB, N_PER_LBF};
pub use load::{force, mass};

use crate::digits::{Digits, decimals_for, word};
use crate::style::{Style, Units};
use crate::turning::amount;
use crate::unit::{Celsius, Deg, Kelvin, MM_PER_INCH, Mm, MmPerM, Turns};

/// What a number is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Purpose {
    Gap,
    Limit,
    Fine,
    Uncertainty,
    Wall,
    Tape,
    Size,
    Slope,
    Angle,
    FineAngle,
    AngleUncertainty,
    Temperature,
    Warmth,
    Turns,
    Amount,
    Turning,
    Percent,
    Force,
    Mass,
    Plain(u8),
}

/// A number with its purpose. It becomes text last, in the [`Style`] asked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    pub(crate) show: Purpose,
    #[serde(with = "number_or_null")]
    pub(crate) value: f64,
    #[serde(default, skip_serializing_if = "is_false")]
    pub(crate) signed: bool,
}

fn is_false(flag: &bool) -> bool {
    !flag
}

/// JSON has no word for what is not a number.
mod number_or_null {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub(super) fn serialize<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
        value.is_finite().then_some(*value).serialize(serializer)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
        Ok(Option::deserialize(deserializer)?.unwrap_or(f64::NAN))
    }
}

/// Two numbers that share a unit: `1 to 4 mm`, `2.41 ± 0.09 mm`. The unit stands once, behind the
/// second.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    pub(crate) first: Figure,
    pub(crate) joint: Joint,
    pub(crate) second: Figure,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Joint {
    To,
    GiveOrTake,
    By,
}

impl Figure {
    fn new(show: Purpose, value: f64) -> Self {
        Self { show, value, signed: false }
    }

    /// With a plus where it is above zero.
    #[must_use]
    pub fn signed(self) -> Self {
        Self { signed: true, ..self }
    }

    /// From this to that: `1 to 4 mm`.
    pub fn to(self, high: Self) -> Pair {
        Pair { first: self, joint: Joint::To, second: high }
    }

    /// This by that: `2025 x 1265 mm`.
    pub fn by(self, other: Self) -> Pair {
        Pair { first: self, joint: Joint::By, second: other }
    }

    /// This give or take that: `2.41 ± 0.09 mm`.
    pub fn give_or_take(self, u: Self) -> Pair {
        Pair { first: self, joint: Joint::GiveOrTake, second: u }
    }

    /// With its unit. What is not a number is a word instead: `not known`, `too large`.
    pub fn text(self, style: Style) -> String {
        let number = self.number(style);
        self.with_unit(number, style)
    }

    /// Without its unit, for large digits and for places whose unit is said elsewhere.
    pub fn number(self, style: Style) -> String {
        if let Some(word) = word(self.value) {
            return word.to_owned();
        }
        match self.show {
            Purpose::Amount => amount(self.value),
            Purpose::Turning => match Turns(self.value).rotation() {
                Some(rotation) => format!("{} {}", amount(self.value), rotation.word()),
                _ => amount(self.value),
            },
            _ => self.digits(style).of(self.shown(style), self.signed, style),
        }
    }

    /// Without its unit and with all decimals, for a column of figures of one purpose.
    pub fn cell(self, style: Style) -> String {
        match self.show {
            _ if self.is_word(style) => self.number(style),
            Purpose::Amount | Purpose::Turning => self.number(style),
            // No anchor is known to a part of one.
            Purpose::Force => Digits::Fixed(0).of(self.shown(style), self.signed, style),
            _ => self.digits(style).for_column().of(self.shown(style), self.signed, style),
        }
    }

    /// The unit as it stands behind the number, or in the head of a column; empty for words and
    /// plain numbers.
    pub fn unit(self, style: Style) -> &'static str {
        let inch = style.units == Units::Inch;
        match self.show {
            Purpose::Slope if inch => "in/ft",
            Purpose::Slope => "mm/m",
            Purpose::Angle | Purpose::FineAngle | Purpose::AngleUncertainty => "\u{b0}",
            Purpose::Temperature => "\u{b0}C",
            Purpose::Warmth => "K",
            Purpose::Turns => {
                if self.number(style) == "1" {
                    "turn"
                } else {
                    "turns"
                }
            }
            Purpose::Percent => "%",
            Purpose::Force => style.units.force_sign(),
            Purpose::Mass if inch => "lb",
            Purpose::Mass => "kg",
            Purpose::Amount | Purpose::Turning | Purpose::Plain(_) => "",
            _ => style.units.sign(),
        }
    }

    fn with_unit(self, number: String, style: Style) -> String {
        match self.unit(style) {
            _ if self.is_word(style) => number,
            "" => number,
            "\u{b0}" => number + "\u{b0}",
            unit => format!("{number}{}{unit}", style.blank()),
        }
    }

    fn is_word(self, style: Style) -> bool {
        word(self.value).or(word(self.shown(style))).is_some()
    }

    fn is_length(self) -> bool {
        use Purpose::{Fine, Gap, Limit, Size, Tape, Uncertainty, Wall};
        matches!(self.show, Gap | Limit | Fine | Uncertainty | Wall | Tape | Size)
    }

    /// The value in the unit shown.
    fn shown(self, style: Style) -> f64 {
        match (style.units, self.show) {
            (Units::Inch, Purpose::Slope) => MmPerM(self.value).inch_per_foot(),
            (Units::Inch, _) if self.is_length() => self.value / MM_PER_INCH,
            (Units::Inch, Purpose::Force) => self.value / N_PER_LBF,
            (Units::Inch, Purpose::Mass) => self.value / KG_PER_LB,
            (_, Purpose::Percent) => 100.0 * self.value,
            _ => self.value,
        }
    }

    fn digits(self, style: Style) -> Digits {
        let inch = style.units == Units::Inch;
        let by_units = |mm, in_inch| if inch { in_inch } else { mm };
        match self.show {
            Purpose::Gap => Digits::Fixed(by_units(2, 3)),
            Purpose::Limit => Digits::Trimmed(by_units(2, 3)),
            Purpose::Fine => Digits::Fixed(by_units(3, 4)),
            Purpose::Uncertainty => Digits::Fixed(decimals_for(self.shown(style), by_units(2, 3))),
            Purpose::Wall if inch => Digits::Fraction(16),
            Purpose::Wall => Digits::Fixed(0),
            Purpose::Tape if inch => Digits::Fraction(64),
            Purpose::Tape => Digits::Trimmed(1),
            Purpose::Size => Digits::Trimmed(by_units(3, 4)),
            Purpose::Slope => Digits::Fixed(by_units(2, 4)),
            Purpose::Angle => Digits::Fixed(2),
            Purpose::FineAngle => Digits::Fixed(3),
            Purpose::AngleUncertainty => Digits::Fixed(decimals_for(self.value, 3)),
            Purpose::Temperature | Purpose::Warmth => Digits::Fixed(1),
            Purpose::Turns => Digits::Trimmed(2),
            Purpose::Percent | Purpose::Amount | Purpose::Turning => Digits::Fixed(0),
            Purpose::Force | Purpose::Mass => Digits::Trimmed(by_units(3, 1)),
            Purpose::Plain(decimals) => Digits::Fixed(usize::from(decimals)),
        }
    }
}

impl Pair {
    /// Both, with their unit behind the second.
    pub fn text(self, style: Style) -> String {
        let joint = match self.joint {
            Joint::To => "to",
            Joint::GiveOrTake => "\u{b1}",
            Joint::By => "x",
        };
        let first = self.first.is_word(style);
        let second = self.second.is_word(style);
        if first || second {
            let (first, second) = (self.first.text(style), self.second.text(style));
            return format!("{first} {joint} {second}");
        }
        let numbers = if self.mixes(style) {
            column([Some(self.first), Some(self.second)], style)
        } else {
            vec![self.first.number(style), self.second.number(style)]
        };
        let blank = style.blank();
        self.second.with_unit(numbers.join(&format!("{blank}{joint}{blank}")), style)
    }

    /// Whether one of the two would be a fraction and the other decimals.
    fn mixes(self, style: Style) -> bool {
        let is_fraction = |figure: Figure| matches!(figure.digits(style), Digits::Fraction(_));
        is_fraction(self.first) != is_fraction(self.second)
    }
}

/// A number without a unit, with as many decimals as it has, at most three: `1.5`, `10`.
pub fn short(value: f64) -> Figure {
    let is_enough = |decimals: &u8| {
        let parts = 10_f64.powi(i32::from(*decimals));
        ((value * parts).round() - value * parts).abs() < 1e-6
    };
    plain(value, (0..3).find(is_enough).unwrap_or(3))
}

/// A number that has no unit: chi-square, a factor, with so many decimals.
pub fn plain(value: f64, decimals: u8) -> Figure {
    // More say nothing in an f64.
    Figure::new(Purpose::Plain(decimals.min(17)), value)
}

/// A share of one, in whole percent: `42 %`.
pub fn percent(share: f64) -> Figure {
    Figure::new(Purpose::Percent, share)
}

impl Mm {
    /// As a gap, or a difference of gaps: to 0.01 mm or 0.001 in.
    pub fn gap(self) -> Figure {
        Figure::new(Purpose::Gap, self.0)
    }

    /// As an end of a band: like a gap, without zeros that say nothing.
    pub fn limit(self) -> Figure {
        Figure::new(Purpose::Limit, self.0)
    }

    /// As a small difference, or a height of the board: to 0.001 mm or 0.0001 in.
    pub fn fine(self) -> Figure {
        Figure::new(Purpose::Fine, self.0)
    }

    /// As an uncertainty: like a gap, with more decimals where they would leave nothing of it.
    pub fn uncertainty(self) -> Figure {
        Figure::new(Purpose::Uncertainty, self.0)
    }

    /// As a length on the wall or a place on the board: to 1 mm or 1/16 in.
    pub fn wall(self) -> Figure {
        Figure::new(Purpose::Wall, self.0)
    }

    /// As a length by tape, or a mark to be drilled: to 0.1 mm or 1/64 in.
    pub fn tape(self) -> Figure {
        Figure::new(Purpose::Tape, self.0)
    }

    /// As a stated size, such as a gauge block's or a pitch: to 0.001 mm or 0.0001 in at most.
    pub fn size(self) -> Figure {
        Figure::new(Purpose::Size, self.0)
    }
}

impl MmPerM {
    /// To 0.01 mm/m or 0.0001 in/ft.
    pub fn figure(self) -> Figure {
        Figure::new(Purpose::Slope, self.0)
    }
}

impl Deg {
    /// To 0.01 degrees: level and lean.
    pub fn figure(self) -> Figure {
        Figure::new(Purpose::Angle, self.0)
    }

    /// To 0.001 degrees: offsets, rotation of the image.
    pub fn fine(self) -> Figure {
        Figure::new(Purpose::FineAngle, self.0)
    }

    /// As the uncertainty of such: with more decimals where they would leave nothing of it.
    pub fn fine_uncertainty(self) -> Figure {
        Figure::new(Purpose::AngleUncertainty, self.0)
    }
}

impl Celsius {
    /// To 0.1 degrees.
    pub fn figure(self) -> Figure {
        Figure::new(Purpose::Temperature, self.0)
    }
}

impl Kelvin {
    /// To 0.1 K.
    pub fn figure(self) -> Figure {
        Figure::new(Purpose::Warmth, self.0)
    }
}

impl Turns {
    /// As a number: `0.72 turns`.
    pub fn figure(self) -> Figure {
        Figure::new(Purpose::Turns, self.0)
    }

    /// How much, in words, without its sense: `nearly three quarters of a turn`.
    pub fn amount(self) -> Figure {
        Figure::new(Purpose::Amount, self.0)
    }

    /// How much and which way, in words: `nearly three quarters of a turn clockwise`.
    pub fn in_words(self) -> Figure {
        Figure::new(Purpose::Turning, self.0)
    }
}

#[cfg(test)]
mod tests;
