//! A conversation with a head. Pure: bytes and the time in, events and bytes to send out.
//!
//! [`Session`] follows one conversation; [`recording`] is the form in which what came is kept and
//! heard again; [`Trouble`] says what is wrong with a port or with who answers there. Ports, files
//! and threads are its callers'.

pub mod recording;
mod session;
mod told;
mod trouble;

pub use session::{Arrived, Counts, Event, GREET_AGAIN_EVERY, GREET_FOR, HeadIs, Refused, Session};
pub use told::Told;
pub use trouble::Trouble;
