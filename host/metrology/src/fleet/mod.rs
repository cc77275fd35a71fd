//! What many jobs together say of heads and adjusters: sums alone, whoever's jobs they are.
//!
//! - [`chart`]: one value after another held against limits, so that what drifts is named;
//! - [`advance`]: how far an adjuster moves for one turn, from watched turns;
//! - [`spread`]: means of what has an uncertainty each, and how much they differ beyond it.

pub mod advance;
pub mod chart;
pub mod spread;
