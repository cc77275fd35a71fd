//! What comes to a procedure.

use crate::output::Entry;
use crate::word::Said;
use serde::{Deserialize, Serialize};
use skimgauge_quantity::Sentence;
use skimgauge_session::Told;

/// Something that came.
#[derive(Debug, Clone)]
pub enum Input {
    /// From the head or its link.
    Head(Told),
    /// A person said something.
    Said(Said),
    /// Something was typed that is no word here, and why: what was asked is not answered with it.
    Unread(Sentence),
    /// The step at hand is to be left out, for this reason.
    LeftOut(String),
    /// Nobody types any more, nor can: what needs an answer need not wait for one.
    Unattended,
    /// The record answered.
    Record(Answer),
    /// Time passed. Ten times a second.
    Tick,
    /// The work is to end as soon as what is on its way is saved.
    Ending,
    /// It ends: what follows goes to the record, and nothing more comes but the record's answers.
    Close,
}

/// An event in the record, by its hash.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct EventId(pub [u8; 32]);

/// What the record, or who writes it, says.
#[derive(Debug, Clone)]
pub enum Answer {
    /// This is on its way into the record, or nothing is any more.
    Saving(Option<Sentence>),
    /// Kept for good.
    Kept {
        /// What.
        entry: Entry,
        /// Its event, if it is one of its own and there is a record.
        event: Option<EventId>,
        /// Its event's place in the job, from 1.
        place: Option<u32>,
    },
    /// Not kept, and why: it does not count.
    NotKept {
        /// What.
        entry: Entry,
        /// Why.
        why: Sentence,
    },
    /// Not in the record yet, and why: it is tried again.
    Late {
        /// What, as its user knows it.
        what: Sentence,
        /// Why.
        why: Sentence,
    },
    /// It takes its time.
    Slow {
        /// What, as its user knows it.
        what: Sentence,
    },
}
