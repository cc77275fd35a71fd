//! Trimming a touch plane at the board.
//!
//! [`guide`] is the state machine: takes, live gaps and the user's words in, advice and what came
//! of it out; pure. [`at_work`] ties it to a watch and its record, [`steady`] tells when a live gap
//! has come to rest, [`words`] says it all. The sums are in `skimgauge-metrology`.

pub mod at_work;
pub mod guide;
pub mod steady;
#[cfg(test)]
mod tests;
pub mod turning;
pub mod words;

/// The touch plane stays this far off the board on the way, mm.
pub const GUARD_MM: f64 = 0.3;
