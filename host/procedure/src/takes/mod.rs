//! Takes: what stands at each station, and what is judged from it.

mod kept;
mod whole;

pub use kept::{EmitterTilt, Kept};
pub use whole::{TiltVerdict, Undecided, Whole};
