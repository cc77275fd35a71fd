//! What this program writes at the most: names, texts, sizes, rounds. What comes in from elsewhere is held to the same.

/// The highest round of a job.
pub const LAST_ROUND: u32 = 100_000;
