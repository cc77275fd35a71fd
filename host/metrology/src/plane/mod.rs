//! The touch plane over the board: `G(x, y) = c + p x + q y - w(x, y)`.
//!
//! `c` is the gap in the middle of the image's top edge (mm), `p` and `q` are slopes (mm per metre)
//! to the right and up, `w` is the board's own shape ([`board`]). [`fit::fit`] estimates it from
//! [`observation::Observations`] with its full uncertainty; [`choice`] says where to measure.

pub mod apart;
pub mod between;
pub mod board;
pub(crate) mod chances;
pub mod choice;
mod conditioned;
pub mod consistency;
pub mod fit;
mod fourth;
mod gathered;
pub mod ground;
pub mod looking;
pub mod observation;
pub(crate) mod place;
pub mod prior;
pub mod refusal;
pub mod seating;
mod strays;
pub mod surface;
pub mod unseen;

use serde::{Deserialize, Serialize};

/// How far apart two places of a board lie, mm: no board is so large that the squares overflow.
pub(crate) fn apart_mm(a: (f64, f64), b: (f64, f64)) -> f64 {
    let (across, up) = (a.0 - b.0, a.1 - b.1);
    (across * across + up * up).sqrt()
}

/// A plane over the board.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Plane {
    /// Gap at the middle of the image's top edge over a flat board, mm.
    pub c_mm: f64,
    /// Slope to the right, mm per metre.
    pub p_mm_per_m: f64,
    /// Slope upward, mm per metre.
    pub q_mm_per_m: f64,
}

impl Plane {
    /// Height over the frame's own plane at a place, mm; what the board's shape leaves of it is the
    /// gap.
    pub fn height_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        self.c_mm + (self.p_mm_per_m * x_mm + self.q_mm_per_m * y_mm) / 1000.0
    }

    /// How a height answers to `c`, `p` and `q`.
    pub(crate) fn bearing(x_mm: f64, y_mm: f64) -> [f64; 3] {
        [1.0, x_mm / 1000.0, y_mm / 1000.0]
    }

    pub(crate) fn from_array([c_mm, p_mm_per_m, q_mm_per_m]: [f64; 3]) -> Self {
        Self { c_mm, p_mm_per_m, q_mm_per_m }
    }

    pub(crate) fn to_array(self) -> [f64; 3] {
        [self.c_mm, self.p_mm_per_m, self.q_mm_per_m]
    }
}
