//! Drawings as SVG text: the wall at scale, full-size hole templates, and the board's shape.
//!
//! Coordinates of every drawing are millimetres on paper, so that a drawing printed at actual size
//! is true to scale; each carries a ruler to check that it was.

pub mod board;
mod sheet;
pub mod template;
pub mod wall;

pub use sheet::Paper;

/// On the `svg` element of every drawing, name and value: by this a drawing of this program is
/// known again.
pub const DRAWN_BY: (&str, &str) = ("data-drawn-by", "skimgauge");
