//! The way to a head: find it, open it, keep it, and turn its bytes into what happened.
//!
//! [`session`] is pure: bytes and the time in, events and bytes out. [`link`] is the thin shell
//! that owns the [`stream`] of bytes (a serial port, a [`pipe`] within this program) and a thread;
//! [`recording`] keeps and replays what came. [`clock`] is the time both go by. [`find`] lists
//! ports and tells heads from strangers.

pub mod clock;
pub mod find;
pub mod flash;
pub mod link;
pub mod log;
pub mod pipe;
pub mod recording;
pub mod session;
pub mod stream;
pub mod trouble;
