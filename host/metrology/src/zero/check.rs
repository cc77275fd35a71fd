//! A check at a job, on the gauge: the zero holds, or not.

use super::gauged;
use super::outcome::ZeroError;
use super::session::{Gauge, Stand};
use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Sentence, say};
use skimgauge_shared::calibration::Calibration;

/// A check that cannot tell errors of this size cannot say that a zero holds, mm.
const TELLS_MM: f64 = 0.15;
/// Up to here the zero holds, beyond the other it does not, in standard uncertainties: warning and
/// action limits of a control chart (ISO 7870-2: two and three standard deviations, from memory;
/// 1.96 for 95 %).
const WARNING: f64 = 1.96;
const ACTION: f64 = 3.0;

/// What a check says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Checked {
    /// The error is within its uncertainty.
    StillGood,
    /// It is beyond: zero the head again.
    NotGood,
    /// Between the two, or the uncertainty is too wide to tell.
    CannotTell,
}

/// A check's result.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Check {
    /// Height of the slit (of two: their middle), mm.
    pub known_mm: f64,
    /// The gap that the head says there, mm.
    pub taken_mm: f64,
    /// Said less known, mm.
    pub error_mm: f64,
    /// Expanded uncertainty of that (95 %), mm.
    pub expanded_mm: f64,
    /// What it means.
    pub checked: Checked,
}

impl Check {
    /// Holds one stand before the gauge against the constants in the head.
    ///
    /// # Errors
    /// The eye did not see the gauge's slits.
    pub fn of(
        stand: &Stand,
        gauge: &Gauge,
        seat_u_mm: f64,
        constants: &Calibration,
    ) -> Result<Self, ZeroError> {
        let stands = std::slice::from_ref(stand);
        let seen = gauged::seen(stand, gauge, None, constants)
            .map_err(|why| ZeroError::NoSlit { at: 0, why })?;
        let fit = gauged::fit(stands, gauge, seat_u_mm, None, constants)?.scaled;
        let curve = &constants.stand_off;
        let warm_k = stand.still.temperature_c.map(|t| t - curve.reference.celsius());
        let said = gauged::stand_off_mm(constants, stand.still.stand_off, warm_k);
        // `at_mm` is what stand-off and zero should come to there.
        let error_mm = said + constants.zero.mm() - fit.at_mm;
        let n = seen.len().max(1) as f64;
        let known_mm = seen.iter().map(|(slit, _)| gauge.heights_mm[*slit]).sum::<f64>() / n;
        let u_mm = fit.zero_u_mm.hypot(constants.zero_u.mm());
        Ok(Self::judged(known_mm, error_mm, u_mm))
    }

    /// An error with its standard uncertainty, judged.
    pub fn judged(known_mm: f64, error_mm: f64, u_mm: f64) -> Self {
        let expanded_mm = WARNING * u_mm;
        let checked = if error_mm.abs() > ACTION * u_mm {
            Checked::NotGood
        } else if error_mm.abs() <= expanded_mm && expanded_mm <= TELLS_MM {
            Checked::StillGood
        } else {
            Checked::CannotTell
        };
        Self { known_mm, taken_mm: known_mm + error_mm, error_mm, expanded_mm, checked }
    }

    /// The result in one sentence.
    pub fn sentence(&self) -> Sentence {
        let Self { known_mm, taken_mm, error_mm, expanded_mm, .. } = self;
        let found = say!(
            "{} where {} was known: {}, uncertain by {}",
            Mm(*taken_mm).fine(),
            Mm(*known_mm).fine(),
            Mm(*error_mm).fine().signed(),
            Mm(*expanded_mm).fine()
        );
        match self.checked {
            Checked::StillGood => say!("Still good: the zero holds. The head says {found}."),
            Checked::NotGood => {
                say!("Not good any more. The head says {found}. Zero it again: skimgauge zero.")
            }
            Checked::CannotTell if *expanded_mm > TELLS_MM => say!(
                "Too close to call: the head says {found}. That is too uncertain to tell; zero the head, or use a gauge that is better known."
            ),
            Checked::CannotTell => say!(
                "Too close to call: the head says {found}. Wipe the board under the head and the gauge, seat both anew and check again."
            ),
        }
    }
}
