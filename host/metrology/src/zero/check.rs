//! A minute's check on one block: still good, or not.

use crate::coverage::{DofRule, LEVEL, Share, combined_u, effective_dof, expand};
use crate::measure::Take;
use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Sentence, say};

/// A check that cannot tell errors of this size cannot call a head good, mm.
const TELLS_MM: f64 = 0.2;

/// What a check says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Checked {
    /// The error is within its uncertainty.
    StillGood,
    /// It is beyond: zero the head again.
    NotGood,
    /// The uncertainty is too wide to tell.
    CannotTell,
}

/// A check's result.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Check {
    /// Known gap, mm.
    pub known_mm: f64,
    /// Gap taken, mm.
    pub taken_mm: f64,
    /// Taken less known, mm.
    pub error_mm: f64,
    /// Expanded uncertainty of that (95 %), mm.
    pub expanded_mm: f64,
    /// What it means.
    pub checked: Checked,
}

impl Check {
    /// Holds a take against a known gap with its standard uncertainty.
    pub fn of(take: &Take, known_mm: f64, known_u_mm: f64) -> Self {
        let shares = [
            Share { u: take.u_mm, dof: take.dof.unwrap_or(f64::INFINITY) },
            Share { u: known_u_mm, dof: f64::INFINITY },
        ];
        let expanded =
            expand(combined_u(&shares), effective_dof(&shares), LEVEL, DofRule::Truncate);
        let expanded_mm = expanded.map_or(f64::INFINITY, |e| e.expanded);
        let error_mm = take.gap_mm - known_mm;
        let checked = if error_mm.abs() > expanded_mm {
            Checked::NotGood
        } else if expanded_mm <= TELLS_MM {
            Checked::StillGood
        } else {
            Checked::CannotTell
        };
        Self { known_mm, taken_mm: take.gap_mm, error_mm, expanded_mm, checked }
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
            Checked::StillGood => say!("Still good. The head says {found}."),
            Checked::NotGood => {
                say!("Not good any more. The head says {found}. Zero it again: skimgauge zero.")
            }
            Checked::CannotTell => {
                say!(
                    "Cannot tell. The head says {found}, which is too wide. Zero it, or use a better block."
                )
            }
        }
    }
}
