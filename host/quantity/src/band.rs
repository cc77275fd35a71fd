//! What a quantity may be: from low to high.

use serde::{Deserialize, Serialize};

use crate::unit::{Magnitude, Quantity};

/// What a measured value may be, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Ends<T>", bound(deserialize = "T: Quantity + Deserialize<'de>"))]
pub struct Band<T> {
    /// Lowest value that passes.
    pub low: T,
    /// Highest value that passes.
    pub high: T,
}

/// Where a value lies against a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// Less than its low end.
    Below,
    /// Between its ends, or on one.
    Inside,
    /// More than its high end.
    Above,
}

#[derive(Deserialize)]
struct Ends<T> {
    low: T,
    high: T,
}

impl<T: Quantity> TryFrom<Ends<T>> for Band<T> {
    type Error = &'static str;

    fn try_from(ends: Ends<T>) -> Result<Self, Self::Error> {
        Self::new(ends.low, ends.high)
            .ok_or("a band's low end must be less than its high end, and both numbers")
    }
}

/// What two values of a quantity differ by.
type Apart<T> = <T as std::ops::Sub>::Output;

impl<T: Quantity> Band<T> {
    /// The band, or `None` unless both ends are finite and `low < high`.
    pub fn new(low: T, high: T) -> Option<Self> {
        (low.value().is_finite() && high.value().is_finite() && low < high)
            .then_some(Self { low, high })
    }

    /// Whether the value lies in it; what is not a number never does.
    pub fn contains(self, value: T) -> bool {
        value >= self.low && value <= self.high
    }

    /// Where the value lies; `None` for what is not a number.
    pub fn side(self, value: T) -> Option<Side> {
        match value {
            value if value < self.low => Some(Side::Below),
            value if value > self.high => Some(Side::Above),
            value if self.contains(value) => Some(Side::Inside),
            _ => None,
        }
    }

    /// High minus low.
    pub fn width(self) -> Apart<T> {
        self.high - self.low
    }

    /// Halfway between low and high: what an adjuster aims for.
    pub fn middle(self) -> T {
        T::of(self.low.value() + self.width().value() / 2.0)
    }

    /// From the value to the nearer end: how far it is inside; negative outside.
    pub fn inside(self, value: T) -> Apart<T> {
        let (above, below) = (value - self.low, self.high - value);
        if above <= below { above } else { below }
    }

    /// How far the value is beyond the nearer end; negative inside.
    pub fn beyond(self, value: T) -> Apart<T> {
        Apart::<T>::of(-self.inside(value).value())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::unit::{Celsius, Kelvin, Mm};
    use proptest::prelude::*;

    const BAND: Band<Mm> = Band { low: Mm(1.0), high: Mm(4.0) };

    #[test]
    fn ends_belong_to_the_band() {
        assert!(BAND.contains(Mm(1.0)) && BAND.contains(Mm(4.0)));
        assert!(!BAND.contains(Mm(0.999)) && !BAND.contains(Mm(f64::NAN)));
        assert_eq!((BAND.width(), BAND.middle()), (Mm(3.0), Mm(2.5)));
        assert_eq!(
            (BAND.inside(Mm(1.25)), BAND.inside(Mm(4.5)), BAND.beyond(Mm(4.5))),
            (Mm(0.25), Mm(-0.5), Mm(0.5))
        );
        assert_eq!(BAND.side(Mm(f64::NAN)), None);
        let warm = Band { low: Celsius(5.0), high: Celsius(40.0) };
        assert_eq!((warm.width(), warm.middle()), (Kelvin(35.0), Celsius(22.5)));
    }

    #[test]
    fn a_band_without_an_inside_is_none() {
        for (low, high) in [(1.0, 1.0), (2.0, 1.0), (f64::NAN, 1.0), (0.0, f64::INFINITY)] {
            assert_eq!(Band::new(Mm(low), Mm(high)), None);
        }
    }

    #[test]
    fn in_json_a_band_has_its_ends_and_a_crossed_one_is_refused() {
        assert_eq!(serde_json::to_string(&BAND).unwrap(), r#"{"low":1.0,"high":4.0}"#);
        assert_eq!(serde_json::from_str::<Band<Mm>>(r#"{"low":1.0,"high":4.0}"#).unwrap(), BAND);
        let refused =
            serde_json::from_str::<Band<Mm>>(r#"{"low":4.0,"high":1.0}"#).unwrap_err().to_string();
        assert!(refused.contains("low end"), "{refused}");
    }

    proptest! {
        #[test]
        fn side_inside_and_contains_agree(low in -1e6..1e6_f64, width in 1e-6..1e6_f64, value in any::<f64>()) {
            let Some(band) = Band::new(Mm(low), Mm(low + width)) else { return Ok(()) };
            let value = Mm(value);
            prop_assert_eq!(band.contains(value), band.side(value) == Some(Side::Inside));
            if value.is_finite() {
                prop_assert_eq!(band.contains(value), band.inside(value) >= Mm::ZERO);
            }
            prop_assert!(band.contains(band.middle()));
        }
    }
}
