//! What a person enters about a bracket.

use serde::{Deserialize, Serialize};

use super::group::Anchor;
use super::interaction::Allowable;
use super::practice::{PlateRole, Wall};
use super::proof::{ProofLoad, ProofWanted};

/// What hangs on a plate.
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
    /// Share of the masses and handling that this plate takes, above 0 to 1.
    #[serde(default = "whole")]
    pub share: f64,
    /// Its anchors.
    pub anchors: Vec<Anchor>,
    /// What hangs on it.
    pub masses: Vec<Mass>,
    /// What people do to it.
    #[serde(default)]
    pub handling: Vec<Handling>,
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

fn whole() -> f64 {
    1.0
}

/// All plates of a bracket.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FixingsInput {
    /// What the wall is made of.
    pub wall: Wall,
    /// By what all loads are multiplied; 1 or more.
    pub load_factor: f64,
    /// The plates.
    pub plates: Vec<FixedPlate>,
}
