//! How well the head repeats.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::Mm;

/// The same gap taken again and again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Repeats {
    /// Takes made.
    pub takes: u32,
    /// Their standard deviation.
    #[serde(rename = "scatter_mm")]
    pub scatter: Mm,
    /// The gap while a take settled: seconds, and the gap then.
    #[serde(default)]
    pub history: Vec<(f64, Mm)>,
}
