//! When a head is not to be trusted.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Band, Celsius};

/// How the board stands, and how far a seated head's tilt may differ from it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BoardTilt {
    /// Degrees; positive when the board's right side is high.
    pub level_deg: f64,
    /// Degrees; positive when the board's top comes toward the viewer.
    pub lean_deg: f64,
    /// A head that differs by more than this on either axis is not seated, degrees.
    pub tolerance_deg: f64,
}

impl Default for BoardTilt {
    /// A plumb and level board, within 3 degrees: a foot off by 1 mm on a base of some 50 mm turns
    /// the head by about one, but a board that nobody measured may itself be that far off.
    /// Common practice, no source.
    fn default() -> Self {
        Self { level_deg: 0.0, lean_deg: 0.0, tolerance_deg: 3.0 }
    }
}

/// Limits that a job sets, and uncertainties that no reading can show.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// Longest time since the head was zeroed, days.
    pub calibration_age_days: f64,
    /// Temperatures at which the head is trusted.
    pub temperature_c: Band<Celsius>,
    /// Lowest supply of the head, V.
    pub supply_least_v: f64,
    /// How the board stands.
    pub board: BoardTilt,
    /// What is left of the seat, standard uncertainty, mm: the lean of the body times the distance
    /// from laser spot to eye, and the board's texture under the spot.
    pub seat_u_mm: f64,
    /// Degrees of freedom of it; `None` where it is taken as known.
    #[serde(default)]
    pub seat_dof: Option<f64>,
    /// How the board's material moves the laser's reading.
    pub material: Material,
}

/// How far the laser may read a board's face off where it is, against a gauge block or another
/// board, at most, mm: gloss, texture and translucency move a triangulating sensor (common practice,
/// no source).
pub const MATERIAL_MM: f64 = 0.2;

/// The board's material moves the laser's reading otherwise than it did where the head was zeroed.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Material {
    /// By this, standard uncertainty, mm: nothing where it was zeroed on this very board.
    pub u_mm: f64,
    /// The zero in force is not known to have been made, or found to hold, on this board.
    pub elsewhere: bool,
}

impl Material {
    /// A zero that was made on another material, for which nothing is known but that its effect is
    /// at most this, mm: a rectangular distribution (JCGM 100, 4.3.7).
    pub fn elsewhere(most_mm: f64) -> Self {
        Self { u_mm: most_mm / 3f64.sqrt(), elsewhere: most_mm > 0.0 }
    }

    /// A zero that was held against the gauge on this board, and found to be off by so much, known
    /// to a standard uncertainty; both mm. What was found is not taken off, so it counts whole.
    pub fn checked(error_mm: f64, u_mm: f64) -> Self {
        Self { u_mm: error_mm.hypot(u_mm), elsewhere: false }
    }
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            calibration_age_days: 365.0,
            temperature_c: Band { low: Celsius(5.0), high: Celsius(40.0) },
            supply_least_v: 4.4,
            board: BoardTilt::default(),
            // As `hardware/error-budget.md` has it.
            seat_u_mm: 0.018,
            seat_dof: None,
            material: Material::default(),
        }
    }
}
