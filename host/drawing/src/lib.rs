//! Charts of the board and of the work, as SVG: for the handover, the page in a browser, and
//! whatever shows them next. Pure.
//!
//! Every chart is a whole `svg` element that stands alone in light colours (as attributes) and
//! takes the page's colours where it stands in a page (by class, see [`palette`]). Lines and shapes
//! carry the meaning; colour helps. Lengths come as [`Mm`](skimgauge_quantity::Mm) and are shown in
//! the units asked for.

pub mod control;
mod field;
pub mod gap_map;
mod line;
pub mod mark;
pub mod palette;
pub mod residuals;
pub mod rounds;
mod scale;
pub mod shares;
mod sheet;
pub mod touch;
pub mod trace;

pub use line::line;
/// A drawing, to be written out.
pub use svg::Document;
