//! What the head found as a level.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Band, Deg};

use super::measured::Head;
use super::{Phase, VerdictWord};

/// Something was levelled or plumbed with the head, turned end for end so that the head's own
/// offset falls out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Levelled {
    /// What, as its user calls it.
    pub thing: String,
    /// In which state of the installation.
    pub phase: Phase,
    /// What level and lean may be; absent where nothing was asked of them.
    #[serde(rename = "target_deg")]
    pub target: Option<Band<Deg>>,
    /// Turn in the plane of the head's back.
    pub level: LevelledAxis,
    /// Toward or from it; it counts where the head was turned to the other face of the same plate.
    pub lean: LevelledAxis,
    /// What measured.
    pub head: Head,
}

/// One axis of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LevelledAxis {
    /// The angle.
    #[serde(rename = "tilt_deg")]
    pub tilt: Deg,
    /// The head's own offset.
    #[serde(rename = "offset_deg")]
    pub offset: Deg,
    /// Standard uncertainty of either.
    #[serde(rename = "u_deg")]
    pub u: Deg,
    /// Against the target; absent without one.
    pub verdict: Option<VerdictWord>,
}
