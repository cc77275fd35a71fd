//! Anchors and what they carry. Never says that a wall is safe.

pub mod enough;
pub mod group;
pub mod interaction;
pub mod practice;
pub mod proof;
mod report;

pub use report::{
    AnchorUse, CaseReport, FixedPlate, FixingsError, FixingsInput, FixingsReport, Handling, Judged, Mass, PlateReport,
    fixings,
};
