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
    /// The board's material moves the laser's reading otherwise than it did where the head was
    /// zeroed, standard uncertainty, mm: nothing where it was zeroed on this very board.
    pub material_u_mm: f64,
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
            material_u_mm: 0.0,
        }
    }
}
