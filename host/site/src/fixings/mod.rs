//! Anchors and what they carry. Never says that a wall is safe.

mod cases;
mod check;
pub mod contact;
pub mod enough;
pub mod group;
mod input;
pub mod interaction;
pub mod practice;
pub mod proof;
mod refusal;
mod report;
mod worth;

pub use cases::{AnchorUse, CaseReport};
pub use input::{FixedPlate, FixingsInput, Handling, Loads, Mass, SHARES_WITHIN};
pub use refusal::FixingsError;
pub use report::{Counted, FixingsReport, Judged, PlateReport, crowding, fixings};
pub use worth::worthless;
