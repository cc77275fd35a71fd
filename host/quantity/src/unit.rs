//! One type for each unit that people meet in the work, with the arithmetic that makes sense for it
//! and no other.

use std::cmp::Ordering;
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::read::{self, Kind, Unread};

/// One inch, exactly (international yard and pound agreement, 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// A number with a unit. In JSON it is the bare number: its key says the unit.
pub trait Quantity: Copy + PartialOrd + fmt::Debug + Sub<Output: Magnitude> {
    /// What it measures, for reading.
    const KIND: Kind;

    /// From the number in its unit.
    fn of(value: f64) -> Self;

    /// The number in its unit.
    fn value(self) -> f64;
}

/// The size of a difference between two quantities.
pub trait Magnitude: Copy + PartialOrd + fmt::Debug {
    /// From the number in its unit.
    fn of(value: f64) -> Self;

    /// The number in its unit.
    fn value(self) -> f64;
}

macro_rules! unit {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// Whether it is a number, and not infinite.
            pub fn is_finite(self) -> bool {
                self.0.is_finite()
            }

            /// The smaller of the two; the other where one is not a number.
            #[must_use]
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The larger of the two; the other where one is not a number.
            #[must_use]
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// Order that has a place for what is not a number too; for sorting.
            pub fn total_cmp(&self, other: &Self) -> Ordering {
                self.0.total_cmp(&other.0)
            }
        }

        impl Magnitude for $name {
            fn of(value: f64) -> Self {
                Self(value)
            }

            fn value(self) -> f64 {
                self.0
            }
        }
    };
}

/// What can be added, taken from one another, made larger and compared by ratio.
macro_rules! amount {
    ($name:ident) => {
        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);

            /// Its size without its sign.
            #[must_use]
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }

            /// The root of the sum of both squares: how independent uncertainties add.
            #[must_use]
            pub fn hypot(self, other: Self) -> Self {
                Self(self.0.hypot(other.0))
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl SubAssign for $name {
            fn sub_assign(&mut self, other: Self) {
                self.0 -= other.0;
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, times: f64) -> Self {
                Self(self.0 * times)
            }
        }

        impl Mul<$name> for f64 {
            type Output = $name;
            fn mul(self, amount: $name) -> $name {
                amount * self
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, parts: f64) -> Self {
                Self(self.0 / parts)
            }
        }

        /// How many times the other it is.
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }

        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
                Self(all.map(|one| one.0).sum())
            }
        }
    };
}

/// What a person may write, with its unit.
macro_rules! written {
    ($name:ident, $kind:ident) => {
        impl Quantity for $name {
            const KIND: Kind = Kind::$kind;

            fn of(value: f64) -> Self {
                Self(value)
            }

            fn value(self) -> f64 {
                self.0
            }
        }

        impl $name {
            #[doc = concat!("Reads what a person wrote, where a bare number counts in ", stringify!($name), "'s own unit.")]
            ///
            /// # Errors
            /// [`Unread`] says what is wrong with the text and what is expected.
            pub fn read_bare(text: &str) -> Result<Self, Unread> {
                read::read_bare(text, Kind::$kind).map(Self)
            }
        }

        /// Reads what a person wrote: a number and its unit.
        impl FromStr for $name {
            type Err = Unread;

            fn from_str(text: &str) -> Result<Self, Unread> {
                read::read(text, Kind::$kind).map(Self)
            }
        }
    };
}

unit!(
    /// Millimetres: gaps, lengths, places.
    Mm
);
amount!(Mm);
written!(Mm, Length);

unit!(
    /// A slope, millimetres per metre.
    MmPerM
);
amount!(MmPerM);
written!(MmPerM, Slope);

unit!(
    /// Degrees of arc: level, lean, rotation.
    Deg
);
amount!(Deg);
written!(Deg, Angle);

unit!(
    /// Whole turns of an adjuster, clockwise positive as seen from its head.
    Turns
);
amount!(Turns);
written!(Turns, Turn);

unit!(
    /// A temperature, degrees Celsius. Two of them have a difference, [`Kelvin`], but no sum.
    Celsius
);
written!(Celsius, Temperature);

unit!(
    /// A difference of temperatures, kelvin.
    Kelvin
);
amount!(Kelvin);

impl Mm {
    /// From inches.
    pub fn from_inch(inch: f64) -> Self {
        Self(inch * MM_PER_INCH)
    }

    /// In inches.
    pub fn inch(self) -> f64 {
        self.0 / MM_PER_INCH
    }
}

impl MmPerM {
    /// The slope that rises so far over a run. Infinite or not a number where the run is zero.
    pub fn of_rise(rise: Mm, run: Mm) -> Self {
        Self(1000.0 * (rise / run))
    }

    /// How far it rises over a run.
    pub fn rise_over(self, run: Mm) -> Mm {
        run * (self.0 / 1000.0)
    }

    /// The angle whose tangent it is.
    pub fn angle(self) -> Deg {
        Deg((self.0 / 1000.0).atan().to_degrees())
    }

    /// In inches per foot.
    pub fn inch_per_foot(self) -> f64 {
        self.0 * 12.0 / 1000.0
    }
}

impl Deg {
    /// In radians.
    pub fn radians(self) -> f64 {
        self.0.to_radians()
    }

    /// The slope that is its tangent.
    pub fn slope(self) -> MmPerM {
        MmPerM(1000.0 * self.radians().tan())
    }
}

impl Sub for Celsius {
    type Output = Kelvin;
    fn sub(self, other: Self) -> Kelvin {
        Kelvin(self.0 - other.0)
    }
}

impl Add<Kelvin> for Celsius {
    type Output = Self;
    fn add(self, warmer: Kelvin) -> Self {
        Self(self.0 + warmer.0)
    }
}

impl Sub<Kelvin> for Celsius {
    type Output = Self;
    fn sub(self, colder: Kelvin) -> Self {
        Self(self.0 - colder.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arithmetic_keeps_the_unit() {
        assert_eq!(Mm(2.0) + Mm(0.5) - Mm(1.0), Mm(1.5));
        assert_eq!((Mm(3.0) / 2.0, Mm(3.0) / Mm(2.0)), (Mm(1.5), 1.5));
        assert_eq!([Mm(1.0), Mm(2.0)].into_iter().sum::<Mm>(), Mm(3.0));
        assert_eq!((-Mm(3.0)).abs().hypot(Mm(4.0)), Mm(5.0));
        assert_eq!(Celsius(21.5) - Celsius(20.0), Kelvin(1.5));
        assert_eq!(Celsius(20.0) + Kelvin(1.5), Celsius(21.5));
        assert_eq!(Mm::from_inch(94.0), Mm(94.0 * 25.4));
    }

    /// One mm/m is 0.0573 degrees and 0.012 in/ft: tangent, computed with numpy.
    #[test]
    fn slopes_and_angles_are_the_same_thing() {
        assert_eq!(MmPerM::of_rise(Mm(2.0), Mm(2000.0)), MmPerM(1.0));
        assert_eq!(MmPerM(1.0).rise_over(Mm(2000.0)), Mm(2.0));
        assert!((MmPerM(1.0).angle().0 - 0.057_295_760_414_500_6).abs() < 1e-15);
        assert!((Deg(0.057_295_760_414_500_6).slope().0 - 1.0).abs() < 1e-12);
        assert!((MmPerM(1.0).inch_per_foot() - 0.012).abs() < 1e-15);
    }

    #[test]
    fn in_json_a_quantity_is_its_number() {
        assert_eq!(serde_json::to_string(&Mm(2.41)).unwrap(), "2.41");
        assert_eq!(serde_json::from_str::<Turns>("-0.25").unwrap(), Turns(-0.25));
        assert_eq!(serde_json::to_string(&[Deg(0.1), Deg(1.0)]).unwrap(), "[0.1,1.0]");
    }
}
