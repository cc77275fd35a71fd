//! The head's logic, without I/O of its own.
//!
//! [`Head::poll`] takes the time and the bytes received, and gives the bytes to send and when to
//! call again. It reads its parts through `embedded-hal` traits, which a board names in one
//! [`Hardware`], so the same code runs on the board, on a desk and in a test.
//!
//! | module | subject |
//! | --- | --- |
//! | `hardware` | what the head needs of its board |
//! | `head` | `poll`: everything in its turn; requests and their answers |
//! | `part` | the converter, the inclinometer, the memory, each behind its bus |
//! | [`pixel_line`] | the line of pixels: start pulses, exposures, scans |
//! | [`profile`] | where the sheet stands, from one scan of that line; a crate of its own |
//! | `eye` | the line and its profiles together: light, doubt |
//! | `sampling` | which conversion comes next, and what a reading is made of |
//! | `frozen` | a stand-off that no longer changes |
//! | `constants`, `store` | the head's constants: in use, staged, written; their two places in the memory |
//! | `outbox` | frames on their way out |
//! | [`starts`] | starts in a row that came to nothing |
//! | `button`, `signal` | what the user presses, sees and hears |
#![cfg_attr(not(test), no_std)]
#![warn(
    unreachable_pub,
    clippy::self_named_module_files,
    clippy::too_many_lines,
    clippy::wildcard_imports
)]

mod button;
mod constants;
mod eye;
mod frozen;
mod hardware;
mod head;
mod outbox;
mod part;
mod sampling;
mod signal;
pub mod starts;
mod store;

pub use hardware::{Buzzer, Hardware, LogSource, Parts, ReadyLatch};
pub use head::{Head, Start, Step};
pub use part::pixel_line;
pub use skimgauge_profile as profile;
