//! The demonstration: a simulated head, board and emitter; the host talks to the head over a
//! pseudo-terminal as it would to a real one.
//!
//! [`stage`] is the room with its head at a port; [`installer`] does a job by itself, [`carry`] is
//! how it moves the head; [`turning`] lets the user turn the adjusters, [`hand`] obeys words.

pub mod carry;
#[cfg(feature = "emulated")]
mod emulated;
pub mod hand;
pub mod installer;
pub mod stage;
pub mod turning;
