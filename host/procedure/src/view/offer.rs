//! What can be said now.

use crate::word::Word;
use serde::Serialize;
use skimgauge_quantity::Sentence;

/// A word that can be said now.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Offer {
    /// The word.
    pub word: Word,
    /// What it does, for a person: `take bottom left`.
    pub does: Sentence,
}

/// What waits for an answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Question {
    /// What is asked, without the ways to answer.
    pub asks: Sentence,
    /// What means yes. Every other word means no.
    pub yes: Word,
    /// Whether holding the head's button means yes, too.
    pub yes_by_button: bool,
}
