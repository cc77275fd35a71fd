//! Trimming a touch plane: what the readings say and which screw to turn, in words.
//!
//! [`words`] says it; the sums are in `skimgauge-metrology`.

pub mod words;

/// The touch plane stays this far off the board on the way, mm.
pub const GUARD_MM: f64 = 0.3;
