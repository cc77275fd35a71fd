//! Finding a head's constants: gap scale and zero on gauge blocks, eye scale by rolling the slide
//! through the light, tilt offsets by reversal, the temperature coefficient where two temperatures
//! were seen, dark offsets of the cells.
//!
//! A [`Session`] holds what was read, as plain data that can be written down and taken up again;
//! [`Session::finish`] makes constants of it. Nothing here knows of a port or a file.
//!
//! The rig: a flat plate with a light at a known height over it. The head stands on the plate with
//! its slide rolled to the light; a block of height `b` under the laser's spot makes the gap `light
//! - b`.

mod blocks;
mod check;
mod eye;
pub mod line;
mod outcome;
mod session;
mod still;

pub use blocks::Residual;
pub use check::{Check, Checked};
pub use outcome::{Change, Outcome, ZeroError};
pub use session::{BlockStill, Light, Pair, Session, Step};
pub use still::{Gathering, RollPoint, Still, StillError};

/// Unit of the inclinometer's angle codes, degrees (SCL3300: 90 degrees over 2^14).
const ANGLE_STEP_DEG: f64 = 90.0 / 16_384.0;
