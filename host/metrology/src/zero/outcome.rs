//! New constants from a session, with what they are worth and what they change.

use super::ANGLE_STEP_DEG;
use super::blocks::{self, Eye, Residual};
use super::eye;
use super::session::{Pair, Session, Step};
use crate::budget::Budget;
use serde::{Deserialize, Serialize};
use skimgauge_shared::calibration::{Calibration, Date};
use skimgauge_shared::reading::Tilt;
use skimgauge_shared::units::{CentiCelsius, Microdegrees, Micrometres, PartsPerMillion};
use thiserror::Error;

/// The eye's scale found in one light holds in another of the same kind to about this, relative:
/// sheets differ in thickness and widen with distance.
const OTHER_LIGHT: f64 = 0.25;
/// And where it will be used, to this: the sheet widens from one end of a board to the other.
const SAME_LIGHT: f64 = 0.1;
/// The two angles of a reversal may differ from each other's mirror image by twice the offset; more
/// than this is a slip, degrees.
const OFFSET_MOST_DEG: f64 = 5.0;

/// Why there are no new constants.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ZeroError {
    /// Nothing was read.
    #[error("Nothing has been read yet.")]
    Nothing,
    /// Too few blocks of different height.
    #[error("The blocks make {have} different gaps; at least 3 are needed, better 5.")]
    TooFewBlocks {
        /// Different heights.
        have: usize,
    },
    /// The blocks do not decide a slope.
    #[error(
        "The stand-off hardly changed from block to block. Is the block under the laser's spot?"
    )]
    BlocksAlike,
    /// No light at a block.
    #[error(
        "With the {block_mm} mm block the eye saw no light. Take that block again with the slide rolled to the light."
    )]
    NoLight {
        /// The block.
        block_mm: f64,
    },
    /// The light was off the eye's centre.
    #[error(
        "With the {block_mm} mm block the light stood off the eye's centre (r = {ratio:.2}). Roll the slide to it and take that block again."
    )]
    NotCentred {
        /// The block.
        block_mm: f64,
        /// The ratio.
        ratio: f64,
    },
    /// A number that is none.
    #[error("Block number {} holds something that is not a number.", .at + 1)]
    NotANumber {
        /// Which, from zero.
        at: usize,
    },
    /// The slide went through the light too fast.
    #[error(
        "Only {readings} readings fell into the middle of the light; {least} are needed. Roll the slide more slowly."
    )]
    RollTooFast {
        /// Readings there.
        readings: usize,
        /// Needed.
        least: usize,
    },
    /// The slide did not cross the light.
    #[error("The slide did not cross the light. Roll it from one side of the light to the other.")]
    RollTooShort,
    /// The ratio rises with the slide.
    #[error(
        "The eye's ratio rises as the slide rises; it should fall. Are the eye's two cells wired the wrong way round?"
    )]
    RollBackwards,
    /// A reversal without tilt, or with a slip.
    #[error("The reversal of {} gives an offset of {offset_deg:.1} degrees, which no sound head has. Turn the head end for end on the very same seat and take it again.", .step.name())]
    Reversal {
        /// Which.
        step: Step,
        /// The offset.
        offset_deg: f64,
    },
    /// No tilt was read.
    #[error("The inclinometer did not answer during the reversal of {}. Take it again.", .step.name())]
    NoTilt {
        /// Which.
        step: Step,
    },
    /// What comes out cannot be.
    #[error(
        "The new {what} would be {value}, which no sound head has. See the residuals: a block may be named wrongly."
    )]
    Implausible {
        /// Which constant.
        what: &'static str,
        /// Its value, with unit.
        value: String,
    },
}

/// One constant, before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Change {
    /// Which.
    pub what: String,
    /// Unit.
    pub unit: String,
    /// Before.
    pub before: f64,
    /// After.
    pub after: f64,
    /// Standard uncertainty after, if it is known.
    pub u: Option<f64>,
}

/// What a zeroing comes to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outcome {
    /// The constants to write.
    pub calibration: Calibration,
    /// What changes.
    pub changes: Vec<Change>,
    /// What is left over at each block.
    pub residuals: Vec<Residual>,
    /// Whether the stand-off took a bend.
    pub bent: bool,
    /// Residuals' width over what it should be; `None` without blocks to spare.
    pub birge: Option<f64>,
    /// Degrees of freedom of that.
    pub dof: usize,
    /// What makes the zero uncertain.
    pub budget: Option<Budget>,
    /// Steps that were not made: their constants are the former ones.
    pub kept: Vec<Step>,
}

impl Session {
    /// New constants, in the place of `before`.
    ///
    /// # Errors
    /// What is wrong with what was read, and what to do.
    pub fn finish(&self, before: &Calibration, date: Date, by: &str) -> Result<Outcome, ZeroError> {
        let kept = self.missing();
        if self.dark.is_none()
            && self.rolls.is_empty()
            && self.blocks.is_empty()
            && self.level.is_none()
            && self.lean.is_none()
        {
            return Err(ZeroError::Nothing);
        }
        let mut after = before.clone();
        after.date = date;
        after.by = heapless_of(by);
        if let Some(dark) = self.dark {
            after.eye.dark_outer = code("outer cell in the dark", dark.outer)?;
            after.eye.dark_inner = code("inner cell in the dark", dark.inner)?;
        }
        let dark = [f64::from(after.eye.dark_outer), f64::from(after.eye.dark_inner)];
        let inner_gain = after.eye.inner_gain.fraction();
        let rolled = if self.eye && !self.rolls.is_empty() {
            Some(eye::roll(&self.rolls, dark, inner_gain)?)
        } else {
            None
        };

        // The blocks' slope needs the eye's scale (a little), and the scale in millimetres needs
        // the slope: twice round settles it.
        let mut slope = f64::from(before.stand_off.slope_pm_per_code) * 1e-9;
        let per_k_mm = f64::from(before.stand_off.temperature_nm_per_k) * 1e-6;
        let mut scaled = None;
        for _ in 0..2 {
            let eye = Eye {
                dark,
                inner_gain,
                scale_mm: rolled.map_or(before.eye.scale.mm(), |r| r.codes_per_ratio * slope),
                scale_u_mm: rolled.map_or(before.eye.scale_u.mm(), |r| r.u * slope),
            };
            if !self.blocks.is_empty() {
                let fit = blocks::fit(self, eye, slope, per_k_mm)?;
                slope = fit.slope;
                scaled = Some(fit);
            }
        }
        if let Some(rolled) = rolled {
            // Slope at the pivot; the bend over the slide's travel is far below the eye's own
            // uncertainty.
            let scale_mm = rolled.codes_per_ratio * slope;
            let elsewhere =
                if self.light.is_some_and(|l| l.on_the_spot) { SAME_LIGHT } else { OTHER_LIGHT };
            after.eye.scale = Micrometres::from_mm(scale_mm);
            after.eye.scale_u =
                Micrometres::from_mm((rolled.u * slope).hypot(elsewhere * scale_mm));
        }
        if let Some(fit) = &scaled {
            let curve = &mut after.stand_off;
            curve.slope_pm_per_code = (fit.slope * 1e9).round() as i32;
            curve.curvature_fm_per_code2 = (fit.curvature * 1e12).round() as i32;
            curve.slope_u = PartsPerMillion::from_fraction(fit.slope_u);
            if let Some(per_k_mm) = fit.temperature {
                curve.temperature_nm_per_k = (per_k_mm * 1e6).round() as i32;
            }
            if let Some(reference_c) = fit.reference_c {
                curve.reference = CentiCelsius::from_celsius(reference_c);
            }
            if self.light.is_some() {
                after.zero = Micrometres::from_mm(fit.sum_mm - curve.origin.mm());
                after.zero_u = Micrometres::from_mm(fit.zero_u_mm);
            }
        }
        let offsets = [(self.level, 0, Step::Level), (self.lean, 1, Step::Lean)];
        for (pair, axis, step) in offsets {
            let Some(pair) = pair else { continue };
            let offset = Microdegrees::from_degrees(offset_deg(&pair, axis, step)?);
            let Tilt { level, lean } = &mut after.tilt_offset;
            *[level, lean][axis] = offset;
        }
        plausible(&after)?;
        Ok(Outcome {
            changes: changes(before, &after, self.light.is_some() && scaled.is_some()),
            residuals: scaled.as_ref().map_or_else(Vec::new, |s| s.residuals.clone()),
            bent: scaled.as_ref().is_some_and(|s| s.curvature != 0.0),
            birge: scaled.as_ref().and_then(|s| s.birge),
            dof: scaled.as_ref().map_or(0, |s| s.dof),
            budget: scaled.filter(|_| self.light.is_some()).map(|s| s.budget),
            calibration: after,
            kept,
        })
    }
}

/// Zero error of a two-position reversal: half the sum.
fn offset_deg(pair: &Pair, axis: usize, step: Step) -> Result<f64, ZeroError> {
    let (Some(first), Some(second)) = (pair.first.angles, pair.second.angles) else {
        return Err(ZeroError::NoTilt { step });
    };
    let offset_deg = (first[axis] + second[axis]) / 2.0 * ANGLE_STEP_DEG;
    if offset_deg.abs() > OFFSET_MOST_DEG {
        return Err(ZeroError::Reversal { step, offset_deg });
    }
    Ok(offset_deg)
}

fn code(what: &'static str, code: f64) -> Result<i16, ZeroError> {
    // A cell may read a hair below zero in the dark.
    let rounded = code.max(0.0).round();
    if rounded <= 4_000.0 {
        Ok(rounded as i16)
    } else {
        Err(ZeroError::Implausible { what, value: format!("{code:.0} codes") })
    }
}

fn plausible(after: &Calibration) -> Result<(), ZeroError> {
    let curve = &after.stand_off;
    let checks = [
        (
            (400_000..=1_700_000).contains(&curve.slope_pm_per_code),
            "stand-off scale",
            format!("{} pm a code", curve.slope_pm_per_code),
        ),
        (
            curve.curvature_fm_per_code2.abs() <= 20_000_000,
            "stand-off bend",
            format!("{} fm a code squared", curve.curvature_fm_per_code2),
        ),
        (
            curve.temperature_nm_per_k.abs() <= 100_000,
            "temperature coefficient",
            format!("{} nm a kelvin", curve.temperature_nm_per_k),
        ),
        (
            (50..=20_000).contains(&after.eye.scale.0),
            "eye scale",
            format!("{} mm", after.eye.scale.mm()),
        ),
        (after.zero.0.abs() <= 100_000, "zero", format!("{} mm", after.zero.mm())),
        (after.zero_u.0 <= 10_000, "zero's uncertainty", format!("{} mm", after.zero_u.mm())),
    ];
    for (fits, what, value) in checks {
        if !fits {
            return Err(ZeroError::Implausible { what, value });
        }
    }
    if after.plausible() {
        Ok(())
    } else {
        Err(ZeroError::Implausible { what: "set of constants", value: "out of range".into() })
    }
}

fn changes(before: &Calibration, after: &Calibration, zeroed: bool) -> Vec<Change> {
    let change =
        |what: &str, unit: &str, value: &dyn Fn(&Calibration) -> f64, u: Option<f64>| Change {
            what: what.into(),
            unit: unit.into(),
            before: value(before),
            after: value(after),
            u,
        };
    let slope_mm = |c: &Calibration| f64::from(c.stand_off.slope_pm_per_code) * 1e-9 * 8_000.0;
    vec![
        change("zero", "mm", &|c| c.zero.mm(), zeroed.then(|| after.zero_u.mm())),
        change(
            "stand-off scale",
            "mm a volt",
            &slope_mm,
            Some(slope_mm(after) * after.stand_off.slope_u.fraction()),
        ),
        change(
            "stand-off bend",
            "mm at 8000 codes",
            &|c| f64::from(c.stand_off.curvature_fm_per_code2) * 1e-12 * 64e6,
            None,
        ),
        change(
            "temperature coefficient",
            "um/K",
            &|c| f64::from(c.stand_off.temperature_nm_per_k) * 1e-3,
            None,
        ),
        change("eye scale", "mm", &|c| c.eye.scale.mm(), Some(after.eye.scale_u.mm())),
        change("outer cell, dark", "codes", &|c| f64::from(c.eye.dark_outer), None),
        change("inner cell, dark", "codes", &|c| f64::from(c.eye.dark_inner), None),
        change("level offset", "deg", &|c| c.tilt_offset.level.degrees(), None),
        change("lean offset", "deg", &|c| c.tilt_offset.lean.degrees(), None),
    ]
}

/// As much of a name as fits, whole characters.
fn heapless_of<const N: usize>(name: &str) -> heapless::String<N> {
    let mut kept = heapless::String::new();
    for character in name.trim().chars() {
        if kept.push(character).is_err() {
            break;
        }
    }
    kept
}
