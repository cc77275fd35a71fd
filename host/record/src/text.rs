//! What may stand in a record's names and texts.

pub use skimgauge_quantity::steers;
