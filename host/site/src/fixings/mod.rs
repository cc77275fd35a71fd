//! Anchors and what they carry. Never says that a wall is safe.

pub mod enough;
pub mod group;
mod input;
pub mod interaction;
pub mod practice;
pub mod proof;
mod report;

pub use input::{FixedPlate, FixingsInput, Handling, Mass};
pub use report::{AnchorUse, CaseReport, FixingsError, FixingsReport, Judged, PlateReport, fixings};
