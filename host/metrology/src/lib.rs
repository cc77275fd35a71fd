//! From readings to takes, from takes to the plane, its verdict and the turns that mend it.
//!
//! Pure: every function takes its values and the time as arguments. No clock, port, file or screen
//! is within reach of this crate, and its dependencies are arithmetic alone.

pub mod assess;
pub mod budget;
pub mod coverage;
pub mod flatness;
pub mod level;
pub mod linear;
pub mod measure;
pub mod minimax;
pub mod plane;
pub mod report;
pub mod trim;
pub mod verdict;
pub mod zero;
