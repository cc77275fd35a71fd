//! What a person enters about a bracket.

use serde::{Deserialize, Serialize};

use super::group::Anchor;
use super::interaction::Allowable;
use super::practice::{PlateRole, Wall};
use super::proof::{ProofLoad, ProofWanted};
use super::refusal::FixingsError;

/// How far shares may add up beside 1: thirds and sevenths written with three digits pass, a plate
/// left out never does. What they lack within this is made up, so that no part of a load is lost.
pub const SHARES_WITHIN: f64 = 0.005;

/// What hangs on the plates, or on one of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mass {
    /// What it is.
    pub name: String,
    /// Mass, kg.
    pub mass_kg: f64,
    /// Centre of mass right of the plate's middle, mm.
    #[serde(default)]
    pub x_mm: f64,
    /// Centre of mass above the plate's middle, mm.
    #[serde(default)]
    pub y_mm: f64,
    /// Centre of mass out of the wall, mm: the arm's length.
    pub arm_mm: f64,
}

/// Someone pulling, pushing or leaning, each a case of its own on top of the masses.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Handling {
    /// What happens.
    pub name: String,
    /// Force to the right, N.
    #[serde(default)]
    pub fx_n: f64,
    /// Force upward, N; a person hanging on is below zero.
    #[serde(default)]
    pub fy_n: f64,
    /// Force out of the wall, N.
    #[serde(default)]
    pub fz_n: f64,
    /// Where it acts, right of the plate's middle, mm.
    #[serde(default)]
    pub x_mm: f64,
    /// Where it acts, above the plate's middle, mm.
    #[serde(default)]
    pub y_mm: f64,
    /// Where it acts, out of the wall, mm.
    pub arm_mm: f64,
}

/// Masses, and what people do.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Loads {
    /// What hangs.
    #[serde(default)]
    pub masses: Vec<Mass>,
    /// What people do to it.
    #[serde(default)]
    pub handling: Vec<Handling>,
}

impl Loads {
    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.masses.is_empty() && self.handling.is_empty()
    }
}

/// One plate and its anchors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FixedPlate {
    /// As the user says it.
    pub name: String,
    /// Which plate of the bracket.
    pub role: PlateRole,
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// Share of the loads of all plates that this one takes, 0 to 1; may be left out where there
    /// is one plate only. Its own loads it takes whole.
    #[serde(default)]
    pub share: Option<f64>,
    /// Its anchors.
    pub anchors: Vec<Anchor>,
    /// What hangs on this plate alone, and what people do to it.
    #[serde(default)]
    pub own: Loads,
    /// What one anchor may carry, from its approval.
    #[serde(default)]
    pub allowable: Option<Allowable>,
    /// What a proof load has to show.
    #[serde(default)]
    pub proof_wanted: Option<ProofWanted>,
    /// Proof loads carried out.
    #[serde(default)]
    pub proof: Vec<ProofLoad>,
}

/// All plates of a bracket.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FixingsInput {
    /// What the wall is made of.
    pub wall: Wall,
    /// By what all loads are multiplied; 1 or more.
    pub load_factor: f64,
    /// What the plates carry together, by their shares.
    #[serde(default)]
    pub shared: Loads,
    /// The plates.
    pub plates: Vec<FixedPlate>,
}

impl FixingsInput {
    /// Each plate's share of [`FixingsInput::shared`], in the order of the plates; together 1 or
    /// more.
    ///
    /// # Errors
    /// [`FixingsError`] if the shares do not add up to 1, to within [`SHARES_WITHIN`], or one is
    /// not said where several plates carry the load.
    pub fn shares(&self) -> Result<Vec<f64>, FixingsError> {
        let said = self.plates.iter().any(|plate| plate.share.is_some());
        if self.plates.len() == 1 && !said {
            return Ok(vec![1.0]);
        }
        if self.shared.is_empty() && !said {
            return Ok(vec![0.0; self.plates.len()]);
        }
        if let Some(unsaid) = self.plates.iter().find(|plate| plate.share.is_none()) {
            return Err(FixingsError::ShareUnsaid { plate: unsaid.name.clone() });
        }
        let shares: Vec<f64> = self.plates.iter().filter_map(|plate| plate.share).collect();
        let sum: f64 = shares.iter().sum();
        // A sum that is no number is refused too. The last digit is the machine's, not the user's.
        let beside = (sum - 1.0).abs();
        if beside.is_nan() || beside > SHARES_WITHIN + 1e-9 {
            return Err(FixingsError::SharesOff { sum });
        }
        Ok(shares.into_iter().map(|share| share / sum.min(1.0)).collect())
    }
}
