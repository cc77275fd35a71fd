//! Readings to takes: what the head says now, how far it can be trusted, and when it may be kept.
//!
//! Feed an [`Observer`] with readings, sheets, pulses and the head's calibration; ask it for [`Live`] as
//! often as the screen wants, and for a [`Take`] when the user does. Time comes in with each call:
//! seconds on the host's monotonic clock.

pub mod allan;
pub mod arrival;
pub mod fault;
mod limits;
mod observer;
pub mod seats;
mod settle;
mod shown;
mod take;
mod trace;
mod trend;

pub use arrival::{Arrival, At, Came, Coming, Sign};
pub use fault::{Bearing, Fault};
pub use limits::{BoardTilt, Limits, MATERIAL_MM, Material};
pub use observer::{EyeView, Live, Observer};
pub use settle::State;
pub use shown::Shown;
pub use take::{NotTaken, Part, Source, Take};
