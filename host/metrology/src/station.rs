//! Where the head is clipped.

use serde::{Deserialize, Serialize};

/// A place on the image where a gap is taken, in the image's frame (origin: middle of the image's
/// top edge; x right, y up).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Station {
    /// As the user says it: `top left`, `bottom`.
    pub name: String,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm; zero or less on the image.
    pub y_mm: f64,
}
