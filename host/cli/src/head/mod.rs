//! The way to a head: find it, open it, keep it, and turn its bytes into what happened.
//!
//! `skimgauge-session` is the pure part: bytes and the time in, events and bytes out, and the form
//! of a recording. [`link`] is the thin shell that owns the [`stream`] of bytes (a serial port, a
//! [`pipe`] within this program) and a thread. [`clock`] is the time both go by. [`find`] lists
//! ports and tells heads from strangers.

pub mod clock;
pub mod find;
pub mod flash;
pub mod link;
pub mod log;
mod opening;
pub mod pipe;
pub mod rule;
pub mod stream;
