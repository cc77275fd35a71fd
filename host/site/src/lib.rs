//! What is decided before the emitter is switched on: set-out, fixings, square, reach and where to
//! survey.
//!
//! Pure: every function takes values and returns values. No clock, port, file or screen is within
//! reach of this crate.
//!
//! Three frames are used, all right-handed with x right as the viewer sees it, y up and z out of
//! the wall:
//! - the *image's frame*: origin in the middle of the image's top edge;
//! - the *wall's frame* ([`setout`]): x from the wall's left end, y from the finished floor;
//! - the *plate's frame* ([`fixings`]): origin in the middle of the plate.

pub mod drawing;
pub mod entry;
pub mod fixings;
pub mod reach;
pub mod setout;
pub mod square;
pub mod survey;
pub mod viewing;
