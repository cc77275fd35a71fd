//! One type per unit, so that no bare number crosses the wire.

use core::ops::{Add, Neg, Sub};
use serde::{Deserialize, Serialize};

macro_rules! unit {
    ($(#[$doc:meta])* $name:ident($inner:ty), $to:ident = $per:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[serde(transparent)]
        pub struct $name(pub $inner);

        impl $name {
            #[doc = concat!("The value for people, ", stringify!($to), ".")]
            pub fn $to(self) -> f64 {
                self.0 as f64 / $per
            }
        }
    };
}

macro_rules! signed {
    ($name:ident, $inner:ty, $from:ident, $per:expr) => {
        impl $name {
            /// Rounded to the nearest; out of range or not a number saturates (as `as` does: not a
            /// number becomes 0).
            pub fn $from(value: f64) -> Self {
                let scaled = value * $per;
                Self((scaled + if scaled < 0.0 { -0.5 } else { 0.5 }) as $inner)
            }

            /// Distance from zero, saturating.
            pub fn abs(self) -> Self {
                Self(self.0.saturating_abs())
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0.saturating_add(other.0))
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0.saturating_sub(other.0))
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(self.0.saturating_neg())
            }
        }
    };
}

unit!(
    /// Micrometres. Stand-offs, offsets, gaps.
    Micrometres(i32), mm = 1e3
);
signed!(Micrometres, i32, from_mm, 1e3);

unit!(
    /// Microdegrees. Level and lean.
    Microdegrees(i32), degrees = 1e6
);
signed!(Microdegrees, i32, from_degrees, 1e6);

unit!(
    /// Hundredths of a degree Celsius.
    CentiCelsius(i16), celsius = 1e2
);
signed!(CentiCelsius, i16, from_celsius, 1e2);

unit!(
    /// Parts per million of a scale.
    PartsPerMillion(i32), fraction = 1e6
);
signed!(PartsPerMillion, i32, from_fraction, 1e6);

unit!(
    /// Millivolts.
    Millivolts(u16), volts = 1e3
);

unit!(
    /// Microseconds on the head's own clock, zero when it started.
    Microseconds(u64), seconds = 1e6
);

impl Microseconds {
    /// Whole milliseconds as microseconds.
    pub const fn from_millis(millis: u64) -> Self {
        Self(millis * 1_000)
    }

    /// Time since `earlier`; zero if `earlier` is later.
    // On the head, whose core has 32 bits, one call is shorter than the sum in place.
    #[cfg_attr(target_arch = "arm", inline(never))]
    pub const fn since(self, earlier: Self) -> Self {
        Self(self.0.saturating_sub(earlier.0))
    }

    /// This much later, saturating.
    #[cfg_attr(target_arch = "arm", inline(never))]
    pub const fn after(self, delay: Self) -> Self {
        Self(self.0.saturating_add(delay.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn millimetres_round_to_the_nearest_micrometre_both_ways() {
        assert_eq!(Micrometres::from_mm(3.0004), Micrometres(3_000));
        assert_eq!(Micrometres::from_mm(-3.0006), Micrometres(-3_001));
        assert_eq!(Micrometres(2_500).mm(), 2.5);
    }

    #[test]
    fn nothing_overflows() {
        assert_eq!(Micrometres(i32::MAX) + Micrometres(1), Micrometres(i32::MAX));
        assert_eq!(-Microdegrees(i32::MIN), Microdegrees(i32::MAX));
        assert_eq!(Microdegrees::from_degrees(f64::NAN), Microdegrees(0));
        assert_eq!(Microdegrees::from_degrees(1e12), Microdegrees(i32::MAX));
        assert_eq!(Microseconds(1).since(Microseconds(2)), Microseconds(0));
    }
}
