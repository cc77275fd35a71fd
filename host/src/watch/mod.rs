//! Watching a head at the board: what is known, what the user does, and what follows. Pure: events and the time in,
//! effects out; [`crate::screen`] draws it, [`mod@line`] prints it.

pub mod line;
mod state;
pub mod stations;
mod whole;

pub use state::{Dial, Effect, Link, Message, Said, Watch};
