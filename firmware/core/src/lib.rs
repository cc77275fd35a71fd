//! The head's logic, without I/O of its own.
//!
//! [`head::Head::poll`] takes the time and the bytes received, and gives the bytes to send and when to call again. It
//! reads its parts through `embedded-hal` traits, so the same code runs on the board, on a desk and in a test.
//!
//! | module | subject |
//! | --- | --- |
//! | [`head`] | `poll`: everything in its turn |
//! | [`part`] | the converter, the inclinometer, the memory, each behind its bus |
//! | [`profile`] | where the sheet stands, from one scan of the line of pixels |
//! | [`sampling`] | which conversion comes next, and what a reading is made of |
//! | [`store`] | the calibration's two places in the memory |
//! | [`outbox`] | frames on their way out |
//! | [`button`], [`signal`] | what the user presses, sees and hears |
#![cfg_attr(not(test), no_std)]

pub mod button;
pub mod head;
pub mod outbox;
pub mod part;
pub mod profile;
pub mod sampling;
pub mod signal;
pub mod store;
