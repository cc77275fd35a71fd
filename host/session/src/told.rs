//! What a link to a head, or a recording of one, tells.

use crate::{Counts, Event, Trouble};

/// What a link tells.
#[derive(Debug, Clone, PartialEq)]
pub enum Told {
    /// From the head.
    Head(Event),
    /// The link is lost; it is being looked for.
    Lost(Trouble),
    /// Counted so far; told with every pulse and loss.
    Counts(Counts),
    /// What the head sends is not recorded any more, and why.
    NotRecorded(String),
    /// A recording is at its end.
    End,
}
