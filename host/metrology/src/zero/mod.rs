//! Finding a head's constants: zero and scale of the stand-off on the gauge, the pixels'
//! inequality in even light, level by reversal.
//!
//! A [`Session`] holds what was read, as plain data that can be written down and taken up again;
//! [`Session::finish`] makes constants of it. Nothing here knows of a port or a file.
//!
//! # The gauge
//! It stands on the board that is measured, before the eye: walls with a slit at each of two known
//! heights, so that the eye sees two lines of light at `h_low` and `h_high` over the very face that
//! the laser reads. With the stand-off `s` and a line's middle `e` in the body's frame,
//! `h = s + e + z0` gives `z0`. Lifting the head by anything flat moves `s` and `e` against each
//! other by the same amount, and the pixels' pitch is the lithographer's: so lifts of no known
//! height give the scale of `s`.
//!
//! # What is not found here
//! Lean: it is against the feet, so it wants a stand with two faces to be turned over. Its offset stays what it was, with its own uncertainty. So does the temperature
//! coefficient of the stand-off.

mod check;
mod fit;
mod gauged;
mod outcome;
pub mod pixels;
mod session;
pub mod slits;
mod still;

pub use check::{Check, Checked};
pub use fit::{Effect, Effects, Observation, Residual, Scaled, Slope, through};
pub use outcome::{Change, Outcome, ZeroError};
pub use session::{Gauge, Lamp, Pair, Session, Stand, Step};
pub use still::{Gathering, Mean, Still, StillError};
