//! What everything in the host speaks of: the image, places on the board, stations, adjusters,
//! bands, the phase of the work, what is noticed of a turn, the verdict. Words and forms, no sums: those are in the crates
//! that use these.
//!
//! Frame: origin in the middle of the image's top edge, on the board's face; x right as the viewer
//! sees it, y up. On the image y is zero or negative. In JSON and in the record every form is as it
//! has always been; the tests hold each.

mod adjuster;
mod aspect;
mod bands;
mod image;
mod noticed;
mod phase;
mod place;
mod verdict;

pub use adjuster::{Adjuster, Sense};
pub use aspect::{Aspect, AspectError};
pub use bands::Bands;
pub use image::{Image, ImageError};
pub use noticed::TurnNoticed;
pub use phase::Phase;
pub use place::{Place, Point, Station};
pub use verdict::Verdict;
