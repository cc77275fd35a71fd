//! A number that can be shown, together with whether it may be believed.

use super::fault::Fault;
use serde::{Deserialize, Serialize};

/// A measured number as it may be shown. What is doubtful or absent cannot be had as a good number:
/// only [`Shown::good`] gives one, and only if it is. The field's name carries the unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum Shown {
    /// Measured, and nothing speaks against it.
    Good {
        /// The number.
        value: f64,
        /// Its standard uncertainty.
        u: f64,
    },
    /// Measured, and not to be believed.
    Doubtful {
        /// The number; show it only together with why.
        value: f64,
        /// What speaks against it.
        why: Fault,
    },
    /// Not measured.
    Absent {
        /// Why not.
        why: Fault,
    },
}

impl Shown {
    /// The number and its standard uncertainty, if it is good.
    pub fn good(self) -> Option<(f64, f64)> {
        match self {
            Self::Good { value, u } => Some((value, u)),
            Self::Doubtful { .. } | Self::Absent { .. } => None,
        }
    }

    /// What speaks against it, if anything does.
    pub fn why(self) -> Option<Fault> {
        match self {
            Self::Good { .. } => None,
            Self::Doubtful { why, .. } | Self::Absent { why } => Some(why),
        }
    }
}
