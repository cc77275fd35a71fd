//! Anchors and what they carry. Says nothing about the wall.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::Mm;

use super::Said;

/// Every plate with its most loaded anchor, and every anchor in the case that loads it most. The
/// rest comes out again from the job file, which the record has too.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fixings {
    /// By what the loads were multiplied.
    pub load_factor: f64,
    /// How the loads were shared among anchors.
    pub method: Vec<Said>,
    /// Every mass that was counted.
    pub counted: Vec<Said>,
    /// The plates.
    pub plates: Vec<PlateLoad>,
    /// Their anchors.
    pub anchors: Vec<AnchorLoad>,
    /// Anchors pulled before they were trusted.
    pub proof_loads: Vec<ProofLoad>,
    /// What to know and do.
    pub remarks: Vec<Said>,
    /// To be shown with all of it.
    pub cautions: Vec<Said>,
}

/// How a plate's loads compare with the allowed values entered. Says nothing about the wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WithinAllowed {
    /// Every anchor within the allowed values entered, their spacing kept, no proof load failed.
    WithinAllowed,
    /// Some anchor beyond them, too close to another, or found slipping.
    BeyondAllowed,
    /// No approval data: loads only.
    NotJudged,
}

impl WithinAllowed {
    /// The words for people.
    pub fn shown(self) -> &'static str {
        match self {
            Self::WithinAllowed => "within the values entered",
            Self::BeyondAllowed => "beyond the values entered",
            Self::NotJudged => "not judged: no approval data",
        }
    }
}

/// One plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlateLoad {
    /// Its name.
    pub plate: String,
    /// Compared with the allowed values.
    pub judged: WithinAllowed,
    /// Use of the most loaded anchor, percent; absent without approval data.
    pub used_percent: Option<f64>,
    /// The most loaded anchor.
    pub most_loaded: String,
    /// Its tension, N.
    pub tension_n: f64,
    /// Its shear, N.
    pub shear_n: f64,
    /// The case in which it is.
    #[serde(rename = "with")]
    pub case: String,
}

/// One anchor in the case that loads its plate most.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AnchorLoad {
    /// Its plate.
    pub plate: String,
    /// As marked on the template.
    pub anchor: String,
    /// Tension, N.
    pub tension_n: f64,
    /// Shear, N.
    pub shear_n: f64,
    /// Its use, percent; absent without approval data.
    pub used_percent: Option<f64>,
}

/// What one pull on an anchor showed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProofFound {
    /// Load reached, time held, slip within what is allowed.
    Held,
    /// It moved more than allowed.
    Slipped,
    /// Pulled so far beyond the load asked for that it may be harmed.
    TooMuchLoad,
    /// Not pulled hard enough to show anything.
    TooLittleLoad,
    /// Not held long enough to show anything.
    TooShort,
}

impl ProofFound {
    /// The words for people.
    pub fn shown(self) -> &'static str {
        match self {
            Self::Held => "held",
            Self::Slipped => "slipped",
            Self::TooMuchLoad => "far beyond the load asked for: may be harmed",
            Self::TooLittleLoad => "too little load to show anything",
            Self::TooShort => "too short to show anything",
        }
    }
}

/// One pull on one anchor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProofLoad {
    /// The plate that the anchor is of; absent in records that did not keep it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plate: Option<String>,
    /// Which anchor.
    pub anchor: String,
    /// Load applied, N.
    pub load_n: f64,
    /// Time it was held, s.
    pub held_s: f64,
    /// How far the anchor moved.
    #[serde(rename = "slip_mm")]
    pub slip: Mm,
    /// What it showed.
    pub found: ProofFound,
}
