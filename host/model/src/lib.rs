//! What everything in the host speaks of: the image, places on the board, stations, adjusters,
//! bands, the phase of the work, the verdict. Words and forms, no sums: those are in the crates
//! that use these.
//!
//! Frame: origin in the middle of the image's top edge, on the board's face; x right as the viewer
//! sees it, y up. On the image y is zero or negative. In JSON and in the record every form is as it
//! has always been; the tests hold each.
//!
//! What each type here stands in for:
//!
//! | here | instead of |
//! | --- | --- |
//! | [`Point`] | the `x_mm`, `y_mm` of `ControlPoint` (`metrology/src/plane/board.rs`), `GapObservation` (`plane/observation.rs`), `Spot` (`trim/solve.rs`), `Surveyed` and `Proposed` (`site/src/survey.rs`), `Corner` (`site/src/square/quadrilateral.rs`) |
//! | [`Station`] | `Station` (`metrology/src/station.rs`), `Point` (`record/src/event.rs`), the names and places of `MapPoint` (`handover/src/charts/gap_map.rs`) and `StationGap` (`handover/src/content/mod.rs`) |
//! | [`Place`] | `Place` of `src/watch/stations.rs` with its index that means the emitter (and `usize::MAX` in `src/trim/at_work.rs`), `Place` of `site/src/image.rs`, the words of `place` (`src/trim/words.rs`) and `place_name` (`src/watch/stations.rs`) |
//! | [`Image`] | `Image` (`site/src/image.rs`; the diagonal and the aspect stay there) |
//! | [`Adjuster`], [`Sense`] | the same in `metrology/src/adjuster.rs` |
//! | [`Bands`] | `Bands` (`job/src/section/band.rs`) over `Band` (`metrology/src/band.rs`, now `skimgauge_quantity::Band`) |
//! | [`Phase`] | `Phase` (`record/src/event.rs`), `phase_words` (`handover/src/content/mod.rs`) |
//! | [`Verdict`] | `Verdict` (`metrology/src/verdict.rs`), `VerdictWord` (`record/src/event.rs`), `src/screen/words.rs`, `verdict_words` (`handover/src/document.rs`) |
//!
//! (`Place` of `metrology/src/plane/place.rs` gathers takes and `Place` of
//! `metrology/src/flatness.rs` is three numbers: they are sums' own, and get other names there.
//! `Place` of `firmware/bench/src/head.rs` is the simulation's.)

mod adjuster;
mod aspect;
mod bands;
mod image;
mod phase;
mod place;
mod verdict;

pub use adjuster::{Adjuster, Sense};
pub use aspect::{Aspect, AspectError};
pub use bands::Bands;
pub use image::{Image, ImageError};
pub use phase::Phase;
pub use place::{Place, Point, Station};
pub use verdict::Verdict;
