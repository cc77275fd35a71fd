//! The image on the board: its size and the places named after it.

use serde::{Deserialize, Serialize};

/// The projected or displayed image, a rectangle. Origin of the job's frame: middle of its top edge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Image {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
}
