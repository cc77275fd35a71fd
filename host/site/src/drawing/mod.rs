//! Drawings of a set-out as SVG text: a scale drawing of the wall and full-size hole templates.
//!
//! Coordinates of every drawing are millimetres on paper, so that a drawing printed at actual size is true to scale; each
//! carries a ruler to check that it was.

mod sheet;
pub mod template;
pub mod wall;

pub use sheet::Paper;
