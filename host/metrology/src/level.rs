//! The head as a digital level: reversal, and angles in the units people use on site.

use serde::{Deserialize, Serialize};

/// A two-position reversal, each angle in the instrument's own sense.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Reversal {
    /// What was measured, free of the instrument's offset, degrees.
    pub tilt_deg: f64,
    /// The instrument's offset, degrees.
    pub offset_deg: f64,
    /// Standard uncertainty of either, degrees.
    pub u_deg: f64,
}

impl Reversal {
    /// From the angle as it stands and the angle after turning end for end, each with its standard
    /// uncertainty (scatter alone: offsets cancel). The turned instrument shows the same tilt
    /// the other way round.
    pub fn of(first_deg: f64, second_deg: f64, u_deg: f64) -> Self {
        Self {
            tilt_deg: (first_deg - second_deg) / 2.0,
            offset_deg: (first_deg + second_deg) / 2.0,
            u_deg: u_deg / 2f64.sqrt(),
        }
    }
}

/// Rise in millimetres over a metre.
pub fn mm_per_m(angle_deg: f64) -> f64 {
    1_000.0 * angle_deg.to_radians().tan()
}

/// Rise in inches over a foot.
pub fn inches_per_foot(angle_deg: f64) -> f64 {
    12.0 * angle_deg.to_radians().tan()
}

/// Inches as a ruler shows them: whole inches and the nearest fraction of `parts` (a power of two,
/// 2 to 64), lowest terms. `+1 3/8"`, `-1/16"`, `0"`; beyond a mile, or not a number, the plain
/// number.
pub fn ruler(inches: f64, parts: u32) -> String {
    if !inches.is_finite() || inches.abs() > 63_360.0 {
        return format!("{inches}\"");
    }
    let parts = parts.clamp(2, 64).next_power_of_two();
    let steps = (inches.abs() * f64::from(parts)).round() as u64;
    let (whole, left) = (steps / u64::from(parts), steps % u64::from(parts));
    let sign = match (steps, inches < 0.0) {
        (0, _) => "",
        (_, true) => "-",
        (_, false) => "+",
    };
    let common = if left == 0 { 0 } else { left.trailing_zeros() };
    let (top, bottom) = (left >> common, parts >> common);
    match (whole, left) {
        (whole, 0) => format!("{sign}{whole}\""),
        (0, _) => format!("{sign}{top}/{bottom}\""),
        (whole, _) => format!("{sign}{whole} {top}/{bottom}\""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The worked example of an engineer's level (document 27926542 of a public document store): 4
    /// divisions to the left, then 3 to the right as the observer sees it, are +4 and +3 in the
    /// instrument's own sense; level error 3.5, surface error 0.5.
    #[test]
    fn two_position_reversal_of_the_literature() {
        let reversal = Reversal::of(4.0, 3.0, 0.1);
        assert_eq!((reversal.offset_deg, reversal.tilt_deg), (3.5, 0.5));
        assert!((reversal.u_deg - 0.0707).abs() < 1e-4);
    }

    /// 0.01 degrees are 0.174533 mm per metre (computed); 1 degree is 0.20946 inches per foot.
    #[test]
    fn angles_in_the_units_of_the_site() {
        assert!((mm_per_m(0.01) - 0.174_533).abs() < 1e-6);
        assert!((inches_per_foot(1.0) - 12.0 * 0.017_455_065).abs() < 1e-7);
    }

    #[test]
    fn inches_read_as_on_a_ruler() {
        for (inches, want) in [
            (1.375, "+1 3/8\""),
            (-0.0625, "-1/16\""),
            (0.0, "0\""),
            (0.005, "0\""),
            (-0.005, "0\""),
            (2.0, "+2\""),
            (0.99, "+63/64\""),
            (0.998, "+1\""),
        ] {
            assert_eq!(ruler(inches, 64), want, "{inches}");
        }
        assert_eq!(ruler(0.3, 16), "+5/16\"");
        assert_eq!(ruler(f64::NAN, 16), "NaN\"");
    }

    proptest! {
        #[test]
        fn reversal_finds_any_tilt_and_offset(tilt in -5.0..5.0_f64, offset in -2.0..2.0_f64) {
            let reversal = Reversal::of(tilt + offset, -tilt + offset, 0.0);
            prop_assert!((reversal.tilt_deg - tilt).abs() < 1e-12 && (reversal.offset_deg - offset).abs() < 1e-12);
        }
    }
}
