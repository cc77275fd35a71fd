//! The very image that a user flashes, run without a board: `rp2040js` under Node is the chip,
//! `firmware/bench` the parts on its pins.
//!
//! | module | subject |
//! | --- | --- |
//! | [`head`] | the running image: time, parts, USB, resets |
//! | [`wire`] | the pipe between this process and the emulator |
//! | [`place`] | where the image and the emulator are, and what to do when they are not there |
//! | [`terminal`] | the image's USB serial port as a pseudo-terminal, paced by the real clock |
//!
//! The parts exist once, in Rust, and Node asks for every byte on a bus over a pipe: no addon to
//! compile for every Node, and the test that owns the parts may change them between any two
//! microseconds. It is fast enough: ten seconds at 100 readings a second took four of real time on
//! two cores with other work to do.
//!
//! Time is the emulator's own, so what a test sees is the same in every run. Cycles are those of
//! the core: an access to the peripherals 3 to 4, memory and flash without waits, as when the flash
//! is in its cache.
#![warn(
    unreachable_pub,
    clippy::self_named_module_files,
    clippy::too_many_lines,
    clippy::wildcard_imports
)]

pub mod head;
pub mod place;
#[cfg(unix)]
pub mod terminal;
pub mod wire;

pub use head::{EmulatedHead, Figures, Restart};
