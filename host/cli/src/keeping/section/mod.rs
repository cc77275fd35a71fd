//! What set-out, fixings, square and survey put into the record, from their pure results.

mod fixings;
mod set_out;
mod square;
mod survey;
mod touch;

pub use fixings::fixings;
pub use set_out::set_out;
use skimgauge_quantity::{Say, Units};
use skimgauge_record::section::Said;
pub use square::square;
pub use survey::survey;
pub use touch::touch;

/// A drawing, as SVG, with its lengths in either unit.
#[derive(Debug, Clone, PartialEq)]
pub struct InBoth {
    /// In millimetres.
    pub mm: String,
    /// In inches.
    pub inch: String,
}

impl InBoth {
    /// The one that has its lengths in this unit.
    pub fn of(&self, units: Units) -> &str {
        match units {
            Units::Mm => &self.mm,
            Units::Inch => &self.inch,
        }
    }
}

/// Every sentence, as the record keeps it.
fn said<T: Say>(sentences: impl IntoIterator<Item = T>) -> Vec<Said> {
    sentences.into_iter().map(|sentence| Said::of(&sentence)).collect()
}
