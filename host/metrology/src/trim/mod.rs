//! Which adjuster, which way, how far, in what order; and what was learned from how the plane
//! answered.

pub mod blind;
pub mod feasible;
pub mod influence;
pub mod learn;
pub mod person;
mod pitch;
pub mod plan;
pub mod promise;
pub mod replay;
pub mod response;
pub mod rounds;
pub mod slipping;
pub mod solve;
pub mod survey;

use thiserror::Error;

/// Why no setting can be worked out.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TrimError {
    /// The three adjusters do not decide a plane.
    #[error(
        "the adjusters {names} are in a line (within {height_mm:.1} mm): three adjusters in a line cannot lean the plane \
         across it; check their positions"
    )]
    InALine {
        /// The three names.
        names: String,
        /// Smallest height of their triangle, mm.
        height_mm: f64,
    },
    /// A position, pitch or travel that cannot be.
    #[error("adjuster {name}: its {what} is {value}, which cannot be; check the job file")]
    BadAdjuster {
        /// Its name.
        name: String,
        /// `position`, `pitch`, `travel`.
        what: &'static str,
        /// As given.
        value: f64,
    },
    /// Nothing to bring into the band.
    #[error("there is no control point to bring into the band")]
    NoPoints,
    /// A gap or effect that is not a number, or numbers too uneven to work with.
    #[error("the gaps at the control points are not numbers that can be worked with")]
    Numbers,
}
