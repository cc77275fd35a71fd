//! The head's parts at register level, and a simulated room to stand them in. One set of models for
//! the demo, the tests, the simulations and the emulated flash image.
//!
//! ```text
//!   room   board, emitter on its adjusters, light, gauge, faults          what is there
//!   head   the instrument's body and true constants, how it is held       what measures
//!   scene  head in room: light on its pixels, volts, accelerations        what is felt
//!   part   converter, inclinometer, memory: registers, byte by byte       what answers
//!   bus    embedded-hal I2C, SPI and delay; pin: button, ready, lamp      what the firmware holds
//!   bench  all of it under one simulated clock
//!   wiring  what can be wrong with a head as it was built
//! ```
//!
//! Everything comes from a seed ([`noise`]): same seed, same room, same noise. No clock is read;
//! time is microseconds, handed in or made by the bus.
//!
//! For ten thousand rooms without registers: [`room::Room::observe_gap`] and
//! [`room::Room::turn_by_hand`].
//!
//! Frame: origin in the middle of the image's top edge on the board face, x right, y up, z toward
//! the viewer.
#![warn(
    unreachable_pub,
    clippy::self_named_module_files,
    clippy::too_many_lines,
    clippy::wildcard_imports
)]

pub mod bench;
pub mod bus;
pub mod first_start;
pub mod head;
pub mod noise;
pub mod part;
pub mod pin;
pub mod room;
pub mod scene;
pub mod virtual_head;
pub mod wiring;
pub mod zeroed;

pub use bench::Bench;
pub use room::Room;
pub use room::fault::Fault;
pub use wiring::Wiring;
