//! What head and host agree on: units, messages, framing, and the way from raw codes to engineering
//! values.
//!
//! | module | subject |
//! | --- | --- |
//! | [`units`] | one type per unit on the wire |
//! | [`identity`] | which head, which version |
//! | [`usb`] | who a head is on the USB bus |
//! | [`mark`] | how a flash image is known as a head's |
//! | [`reading`] | a reading: per channel a value or a named absence |
//! | [`light`] | what the eye says of the sheet: faults, trust, thickness, room light |
//! | [`pixels`] | the line of pixels: its table, a whole scan |
//! | [`calibration`] | a head's constants, and the conversions that use them |
//! | [`exchange`] | writing a head's constants, from the host's side |
//! | [`message`] | every message in both directions, as a table |
//! | [`frame`] | bytes on the wire: postcard, CRC-32, COBS; the byte-fed decoder |
//! | [`check`] | the checksum of frames and of what the memory holds |
//! | [`sequence`] | the readings' short sequence numbers and times made long again, losses counted |
#![cfg_attr(not(test), no_std)]
#![warn(
    unreachable_pub,
    clippy::self_named_module_files,
    clippy::too_many_lines,
    clippy::wildcard_imports
)]

pub mod calibration;
pub mod check;
mod coded;
pub mod exchange;
pub mod frame;
pub mod identity;
pub mod light;
pub mod mark;
pub mod message;
pub mod pixels;
pub mod reading;
pub mod sequence;
pub mod units;
pub mod usb;
