//! Watching a head at the board: what is known, what the user does, and what follows. Pure: events
//! and the time in, effects out; [`crate::console::screen`] draws it, [`mod@line`] prints it.
//!
//! [`stations`] holds places and takes, [`gate`] lets go what is pressed too soon, [`keys`] are the
//! screen's, [`ways`] are the words for them.

pub mod gate;
pub mod keys;
pub mod line;
mod said;
mod state;
pub mod stations;
mod taking;
#[cfg(test)]
mod tests;
#[cfg(test)]
pub(crate) mod trial;
pub mod ways;
mod whole;

pub use said::{Dial, Effect, Link, Message, Said};
pub use state::Watch;
pub use ways::Ways;
