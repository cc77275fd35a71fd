//! What a person can reach on the wall, from the floor.
//!
//! The inch figures of the 2010 ADA Standards, section 308, are the master here: that is the unit
//! they were set in. The millimetre figures printed beside them are rounded (48 in is 1219.2 mm,
//! printed 1220) and are reported as printed. A height between the two is said to be so rather than
//! judged.

use serde::Serialize;

use crate::entry::{EntryError, within};
use skimgauge_quantity::MM_PER_INCH;

/// Which unit's figures decide.
pub const MASTER: &str =
    "inches decide; millimetres are shown as printed in the standard, which rounds them";

/// Who reaches, and how firm the figure is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// A requirement of the standard.
    Standard,
    /// Advice printed with the standard; not a requirement.
    Advisory,
    /// Common practice, no source.
    CommonPractice,
}

/// Heights above the floor that can be reached.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reach {
    /// Who reaches, and how.
    pub who: &'static str,
    /// Highest, inches.
    pub high_in: f64,
    /// Lowest, inches.
    pub low_in: f64,
    /// Highest as the source prints it, mm.
    pub high_printed_mm: f64,
    /// Lowest as the source prints it, mm.
    pub low_printed_mm: f64,
    /// How firm the figure is.
    pub standing: Standing,
    /// Clause or origin.
    pub source: &'static str,
}

impl Reach {
    /// Highest by the master unit, mm.
    pub fn high_mm(&self) -> f64 {
        self.high_in * MM_PER_INCH
    }

    /// Lowest by the master unit, mm.
    pub fn low_mm(&self) -> f64 {
        self.low_in * MM_PER_INCH
    }
}

const fn standard(who: &'static str, high: (f64, f64), source: &'static str) -> Reach {
    Reach {
        who,
        high_in: high.0,
        low_in: 15.0,
        high_printed_mm: high.1,
        low_printed_mm: 380.0,
        standing: Standing::Standard,
        source,
    }
}

/// Forward reach of a seated adult over an obstruction `depth_in` deep; zero for none.
///
/// # Errors
/// [`EntryError`] for a depth below zero or above 25 in, over which 308.2.2 allows no forward
/// reach.
pub fn forward(depth_in: f64) -> Result<Reach, EntryError> {
    let depth_in =
        within("depth of the obstruction in front of the board", depth_in, 0.0, 25.0, "in")?;
    Ok(if depth_in == 0.0 {
        standard("seated adult, facing", (48.0, 1220.0), "2010 ADA Standards 308.2.1")
    } else if depth_in <= 20.0 {
        standard(
            "seated adult, facing, over a shelf to 20 in",
            (48.0, 1220.0),
            "2010 ADA Standards 308.2.2",
        )
    } else {
        standard(
            "seated adult, facing, over a shelf to 25 in",
            (44.0, 1120.0),
            "2010 ADA Standards 308.2.2",
        )
    })
}

/// Side reach of a seated adult over an obstruction `height_in` high and `depth_in` deep; zeros for
/// none.
///
/// # Errors
/// [`EntryError`] for an obstruction above 34 in or deeper than 24 in, over which 308.3.2 allows no
/// side reach.
pub fn side(height_in: f64, depth_in: f64) -> Result<Reach, EntryError> {
    within("height of the obstruction beside the board", height_in, 0.0, 34.0, "in")?;
    let depth_in = within("depth of the obstruction beside the board", depth_in, 0.0, 24.0, "in")?;
    Ok(if depth_in <= 10.0 {
        standard("seated adult, beside", (48.0, 1220.0), "2010 ADA Standards 308.3.1")
    } else {
        // The mm figure of this clause is from memory; the inches were read.
        standard(
            "seated adult, beside, over a shelf past 10 in",
            (46.0, 1170.0),
            "2010 ADA Standards 308.3.2",
        )
    })
}

/// Reach of a child of `age_years`: the advisory table with 308.1.
///
/// # Errors
/// [`EntryError`] for an age that the table does not list (3 to 12).
pub fn child(age_years: u8) -> Result<Reach, EntryError> {
    let (who, high, low) = match age_years {
        3 | 4 => ("child of 3 to 4", (36.0, 915.0), (20.0, 510.0)),
        5..=8 => ("child of 5 to 8", (40.0, 1015.0), (18.0, 455.0)),
        9..=12 => ("child of 9 to 12", (44.0, 1120.0), (16.0, 405.0)),
        _ => {
            return Err(EntryError::OutOfRange {
                what: "child's age (the advisory table lists no others)".into(),
                value: f64::from(age_years),
                unit: "years",
                low: 3.0,
                high: 12.0,
            });
        }
    };
    Ok(Reach {
        who,
        high_in: high.0,
        low_in: low.0,
        high_printed_mm: high.1,
        low_printed_mm: low.1,
        standing: Standing::Advisory,
        source: "advisory table with 2010 ADA Standards 308.1",
    })
}

/// Reach of a standing adult. The standard gives none; the figure is common practice, no source.
pub fn standing_adult() -> Reach {
    Reach {
        who: "standing adult",
        high_in: 1830.0 / MM_PER_INCH,
        low_in: 610.0 / MM_PER_INCH,
        high_printed_mm: 1830.0,
        low_printed_mm: 610.0,
        standing: Standing::CommonPractice,
        source: "common practice, no source",
    }
}

/// Everyone a room is planned for: seated adult from the front and from the side, standing adult,
/// children by age.
///
/// `shelf_depth_mm` is how far a shelf or tray under the image sticks out; zero for none.
///
/// # Errors
/// [`EntryError`] if the shelf is deeper than 308 allows any reach over.
pub fn everyone(shelf_depth_mm: f64) -> Result<Vec<Reach>, EntryError> {
    let depth_in = within("depth of the shelf under the image", shelf_depth_mm, 0.0, 610.0, "mm")?
        / MM_PER_INCH;
    Ok(vec![
        forward(depth_in)?,
        side(0.0, depth_in)?,
        standing_adult(),
        child(3)?,
        child(5)?,
        child(9)?,
    ])
}

/// How a height compares with a reach.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Within {
    /// Within both the master figure and the printed one.
    Reached,
    /// Between the inch figure and its rounded millimetre print: reached by one and not by the
    /// other.
    BetweenUnits,
    /// Out of reach.
    OutOfReach,
}

/// How much of an image one person reaches.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ImageReach {
    /// Who, and up to where.
    pub reach: Reach,
    /// Share of the image's height within reach, 0 to 1, by the master unit.
    pub share: f64,
    /// The image's top edge.
    pub top: Within,
    /// The image's bottom edge.
    pub bottom: Within,
    /// By how much the whole image would have to come down for its top to be reached, mm; zero if
    /// it is.
    pub lower_by_mm: f64,
}

/// What `reach` covers of an image that stands from `bottom_mm` to `top_mm` above the floor.
pub fn of_image(reach: Reach, bottom_mm: f64, top_mm: f64) -> ImageReach {
    let covered_mm = (top_mm.min(reach.high_mm()) - bottom_mm.max(reach.low_mm())).max(0.0);
    let judge = |height_mm: f64| {
        // 48 x 25.4 is not exact in binary: a nanometre of slack.
        let by = |low_mm: f64, high_mm: f64| (low_mm - 1e-6..=high_mm + 1e-6).contains(&height_mm);
        match (by(reach.low_mm(), reach.high_mm()), by(reach.low_printed_mm, reach.high_printed_mm))
        {
            (true, true) => Within::Reached,
            (false, false) => Within::OutOfReach,
            _ => Within::BetweenUnits,
        }
    };
    ImageReach {
        share: (covered_mm / (top_mm - bottom_mm)).clamp(0.0, 1.0),
        top: judge(top_mm),
        bottom: judge(bottom_mm),
        lower_by_mm: (top_mm - reach.high_mm()).max(0.0),
        reach,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// 2010 ADA Standards 308.2 (read at corada.com), 308.3 (inches read in reprints; 1170 mm from
    /// memory), and the children's advisory with 308.1 (read in a state's reprint).
    #[test]
    fn published_reach_ranges() {
        let figures = |reach: Reach| {
            (reach.high_in, reach.high_printed_mm, reach.low_in, reach.low_printed_mm)
        };
        assert_eq!(figures(forward(0.0).unwrap()), (48.0, 1220.0, 15.0, 380.0));
        assert_eq!(figures(forward(20.0).unwrap()), (48.0, 1220.0, 15.0, 380.0));
        assert_eq!(figures(forward(20.1).unwrap()), (44.0, 1120.0, 15.0, 380.0));
        assert_eq!(figures(forward(25.0).unwrap()), (44.0, 1120.0, 15.0, 380.0));
        assert_eq!(figures(side(0.0, 0.0).unwrap()), (48.0, 1220.0, 15.0, 380.0));
        assert_eq!(figures(side(34.0, 10.0).unwrap()), (48.0, 1220.0, 15.0, 380.0));
        assert_eq!(figures(side(34.0, 24.0).unwrap()), (46.0, 1170.0, 15.0, 380.0));
        assert_eq!(figures(child(3).unwrap()), (36.0, 915.0, 20.0, 510.0));
        assert_eq!(figures(child(4).unwrap()), (36.0, 915.0, 20.0, 510.0));
        assert_eq!(figures(child(8).unwrap()), (40.0, 1015.0, 18.0, 455.0));
        assert_eq!(figures(child(12).unwrap()), (44.0, 1120.0, 16.0, 405.0));
    }

    #[test]
    fn what_the_clauses_do_not_allow_is_refused() {
        assert!(forward(25.1).is_err());
        assert!(side(34.1, 5.0).is_err());
        assert!(side(30.0, 24.1).is_err());
        assert!(child(2).is_err() && child(13).is_err());
        assert!(forward(f64::NAN).is_err());
    }

    /// The superseded side reach of 54 in must not be allowed.
    #[test]
    fn the_superseded_side_reach_is_out() {
        let seen = of_image(side(0.0, 0.0).unwrap(), 800.0, 54.0 * MM_PER_INCH);
        assert_eq!(seen.top, Within::OutOfReach);
        assert!((seen.lower_by_mm - 6.0 * MM_PER_INCH).abs() < 1e-9);
    }

    #[test]
    fn a_height_between_inch_and_printed_millimetre_is_said_to_be_so() {
        let at = |top_mm| of_image(forward(0.0).unwrap(), 800.0, top_mm).top;
        assert_eq!(at(1219.2), Within::Reached);
        assert_eq!(at(1219.6), Within::BetweenUnits);
        assert_eq!(at(1220.5), Within::OutOfReach);
    }

    proptest! {
        #[test]
        fn a_higher_image_is_never_reached_better_at_its_top(bottom_mm in 400.0..1500.0_f64, height_mm in 300.0..1500.0_f64, up_mm in 0.0..500.0_f64) {
            for reach in everyone(0.0).unwrap() {
                let low = of_image(reach.clone(), bottom_mm, bottom_mm + height_mm);
                let high = of_image(reach, bottom_mm + up_mm, bottom_mm + height_mm + up_mm);
                prop_assert!(high.lower_by_mm >= low.lower_by_mm);
                prop_assert!((0.0..=1.0).contains(&low.share) && (0.0..=1.0).contains(&high.share));
            }
        }
    }
}
