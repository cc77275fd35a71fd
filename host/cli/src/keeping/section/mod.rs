//! What set-out, fixings, square and survey put into the record, from their pure results.

mod fixings;
mod set_out;
mod square;
mod survey;

pub use fixings::fixings;
pub use set_out::set_out;
use skimgauge_quantity::Say;
use skimgauge_record::section::Said;
pub use square::square;
pub use survey::survey;

/// Every sentence, as the record keeps it.
fn said<T: Say>(sentences: impl IntoIterator<Item = T>) -> Vec<Said> {
    sentences.into_iter().map(|sentence| Said::of(&sentence)).collect()
}
