//! New constants from a session, with what they are worth and what they change.

use super::fit::Residual;
use super::gauged;
use super::pixels::{self, Compared, NoTable};
use super::session::{Pair, Session, Step};
use super::slits::NoSlit;
use crate::budget::Budget;
use serde::{Deserialize, Serialize};
use skimgauge_shared::calibration::{CODE_UV, Calibration, Date, PIVOT_CODE};
use skimgauge_shared::pixels::Pixels;
use skimgauge_shared::units::{CentiCelsius, Microdegrees, Micrometres, PartsPerMillion};
use thiserror::Error;

/// Unit of the inclinometer's steps, degrees (SCL3300: 90 degrees over 2^14).
pub(super) const STEP_DEG: f64 = 90.0 / 16_384.0;
/// The two angles of a reversal may differ from each other's mirror image by twice the offset; more
/// than this is a slip, degrees.
const OFFSET_MOST_DEG: f64 = 5.0;
/// A zero that moves by more than this many of its uncertainties, former and new, is worth a word.
const MOVED: f64 = 3.0;

/// Why there are no new constants.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ZeroError {
    /// Nothing was read.
    #[error("Nothing has been read yet.")]
    Nothing,
    /// The stands do not decide a zero or a slope.
    #[error(
        "The stand-off hardly changed from stand to stand, or not as the lines of light did. Was the head lifted on something flat under all three feet? Take the lifted stands again."
    )]
    StandsAlike,
    /// The gauge's slits were not seen.
    #[error("Stand {} before the gauge: {why}", .at + 1)]
    NoSlit {
        /// Which, from zero.
        at: usize,
        /// What was seen instead.
        why: NoSlit,
    },
    /// A number that is none.
    #[error("Stand {} before the gauge holds something that is not a number.", .at + 1)]
    NotANumber {
        /// Which, from zero.
        at: usize,
    },
    /// The gauge's heights are not known.
    #[error("The heights of the gauge's slits are missing: --light, as on its label.")]
    NoGauge,
    /// A reversal with a slip.
    #[error("The reversal of {} gives an offset of {offset_deg:.1} degrees, which no sound head has. Turn the head end for end at the very same place and take it again.", .step.name())]
    Reversal {
        /// Which.
        step: Step,
        /// The offset.
        offset_deg: f64,
    },
    /// The pixels could not be compared.
    #[error("{0}")]
    Pixels(NoTable),
    /// What comes out cannot be.
    #[error(
        "The new {what} would be {value}, which no sound head has. Are the gauge's heights as on its label (--light)?"
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
    /// The pixels' table to write before them; `None`: the one in the head stays.
    #[serde(skip)]
    pub pixels: Option<Box<Pixels>>,
    /// What changes.
    pub changes: Vec<Change>,
    /// What is left over of each line of light.
    pub residuals: Vec<Residual>,
    /// Whether the stand-off took a bend.
    pub bent: bool,
    /// Residuals' width over what it should be; `None` without one to spare.
    pub birge: Option<f64>,
    /// Degrees of freedom of that.
    pub dof: usize,
    /// What makes the zero uncertain.
    pub budget: Option<Budget>,
    /// How the gap scattered from seat to seat on the board: each less the mean of all, mm.
    pub seats_mm: Vec<f64>,
    /// The zero moved by more than it and its former uncertainty explain: a knock, or a label read
    /// wrongly; mm.
    pub moved_mm: Option<f64>,
    /// Steps that were not made: their constants are the former ones.
    pub kept: Vec<Step>,
}

impl Session {
    /// New constants, in the place of `before`.
    ///
    /// # Errors
    /// What is wrong with what was read, and what to do.
    pub fn finish(&self, before: &Calibration, date: Date, by: &str) -> Result<Outcome, ZeroError> {
        let compared = match (&self.dark, &self.even) {
            (Some(dark), Some(even)) => {
                Some(pixels::compare(even, dark, &Pixels::UNCOMPARED).map_err(ZeroError::Pixels)?)
            }
            _ => None,
        };
        if self.stands.is_empty() && self.level.is_none() && compared.is_none() {
            return Err(ZeroError::Nothing);
        }
        let mut after = before.clone();
        after.date = date;
        after.by = heapless_of(by);
        let table = compared.as_ref().map(|compared| &compared.table);
        let mut gauged = None;
        if !self.stands.is_empty() {
            let gauge = self.gauge.as_ref().ok_or(ZeroError::NoGauge)?;
            let fit = gauged::fit(&self.stands, gauge, self.seat_u_mm, table, before)?;
            put(&mut after, before, &fit);
            gauged = Some(fit);
        }
        if let Some(pair) = &self.level {
            let offset = Microdegrees::from_degrees(offset_deg(pair)?);
            after.tilt_offset.level = offset;
        }
        if let Some(table) = table {
            after.pixels = table.digest();
        }
        plausible(&after)?;
        let zeroed = gauged.is_some();
        let (scaled, seats_mm) = gauged.map(|gauged| (gauged.scaled, gauged.seats_mm)).unzip();
        let seats_mm = seats_mm.unwrap_or_default();
        Ok(Outcome {
            changes: changes(before, &after, zeroed, compared.as_ref()),
            residuals: scaled.as_ref().map_or_else(Vec::new, |s| s.residuals.clone()),
            bent: scaled.as_ref().is_some_and(|s| s.bent),
            birge: scaled.as_ref().and_then(|s| s.birge),
            dof: scaled.as_ref().map_or(0, |s| s.dof),
            moved_mm: if zeroed { moved_mm(before, &after, self) } else { None },
            seats_mm,
            budget: scaled.map(|s| Budget { value: after.zero.mm(), ..s.budget }),
            pixels: compared.map(|compared| Box::new(compared.table)),
            kept: self.missing(),
            calibration: after,
        })
    }
}

/// The fit's curve and zero into the constants. The stand-off stays what it was where the head
/// stands on the board; what is left over is the zero.
fn put(after: &mut Calibration, before: &Calibration, fit: &gauged::Gauged) {
    let scaled = &fit.scaled;
    if let Some(reference_c) = fit.reference_c {
        after.stand_off.reference = CentiCelsius((reference_c * 100.0).round() as i16);
    }
    let home_mm = gauged::stand_off_mm(before, scaled.code, None);
    if let Some(slope) = scaled.slope {
        let to_pivot = f64::from(PIVOT_CODE) - scaled.code;
        let at_pivot = slope + 2.0 * scaled.curvature * to_pivot;
        let curve = &mut after.stand_off;
        curve.slope_pm_per_code = (at_pivot * 1e9).round() as i32;
        curve.curvature_fm_per_code2 = (scaled.curvature * 1e12).round() as i32;
        curve.slope_u = PartsPerMillion::from_fraction(scaled.slope_u * (slope / at_pivot).abs());
        curve.origin =
            Micrometres::from_mm(home_mm + slope * to_pivot + scaled.curvature * to_pivot.powi(2));
    }
    // What rounding did to the curve goes into the zero, not into the gap.
    let rounded_mm = gauged::stand_off_mm(after, scaled.code, None);
    after.zero = Micrometres::from_mm(scaled.at_mm - rounded_mm);
    // Rounded up: no zero is better known than a micrometre.
    after.zero_u = Micrometres((scaled.zero_u_mm * 1e3).ceil().max(1.0) as i32);
}

/// What a stand-off and its zero come to where the head stands, before and after: by how much more
/// than its uncertainty it moved.
fn moved_mm(before: &Calibration, after: &Calibration, session: &Session) -> Option<f64> {
    let code = session.stands.iter().find(|stand| !stand.lifted)?.still.stand_off;
    let sum = |c: &Calibration| gauged::stand_off_mm(c, code, None) + c.zero.mm();
    let moved_mm = sum(after) - sum(before);
    let u_mm = before.zero_u.mm().hypot(after.zero_u.mm());
    (moved_mm.abs() > MOVED * u_mm).then_some(moved_mm)
}

/// Zero error of a two-position reversal: half the sum.
fn offset_deg(pair: &Pair) -> Result<f64, ZeroError> {
    let offset_deg = (pair.first[0] + pair.second[0]) / 2.0 * STEP_DEG;
    if offset_deg.abs() > OFFSET_MOST_DEG {
        return Err(ZeroError::Reversal { step: Step::Level, offset_deg });
    }
    Ok(offset_deg)
}

fn plausible(after: &Calibration) -> Result<(), ZeroError> {
    let curve = &after.stand_off;
    let checks = [
        (
            (400_000..=4_000_000).contains(&curve.slope_pm_per_code.unsigned_abs()),
            "stand-off scale",
            format!("{} pm a code", curve.slope_pm_per_code),
        ),
        (
            curve.curvature_fm_per_code2.abs() <= 20_000_000,
            "stand-off bend",
            format!("{} fm a code squared", curve.curvature_fm_per_code2),
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

fn changes(
    before: &Calibration,
    after: &Calibration,
    zeroed: bool,
    compared: Option<&Compared>,
) -> Vec<Change> {
    let change =
        |what: &str, unit: &str, value: &dyn Fn(&Calibration) -> f64, u: Option<f64>| Change {
            what: what.into(),
            unit: unit.into(),
            before: value(before),
            after: value(after),
            u,
        };
    let codes_a_volt = 1e6 / f64::from(CODE_UV);
    let slope_mm = |c: &Calibration| f64::from(c.stand_off.slope_pm_per_code) * 1e-9 * codes_a_volt;
    let mut changes = vec![
        change("zero", "mm", &|c| c.zero.mm(), zeroed.then(|| after.zero_u.mm())),
        change(
            "stand-off scale",
            "mm a volt",
            &slope_mm,
            Some(slope_mm(after).abs() * after.stand_off.slope_u.fraction()),
        ),
        change(
            "stand-off bend",
            "mm at 5000 codes",
            &|c| f64::from(c.stand_off.curvature_fm_per_code2) * 1e-12 * 25e6,
            None,
        ),
        change("level offset", "deg", &|c| c.tilt_offset.level.degrees(), None),
    ];
    if let Some(compared) = compared {
        changes.push(Change {
            what: "pixels unequal".into(),
            unit: "%".into(),
            before: compared.unequal * 100.0,
            after: compared.left * 100.0,
            u: None,
        });
    }
    changes
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
