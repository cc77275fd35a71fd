//! A page of what a simulated head read says so wherever it says anything of it.

use skimgauge_model::Verdict;
use skimgauge_record::JobHistory;
use skimgauge_record::practice::{Heads, simulated};

use super::Reading;
use crate::document::{Block, Document};

/// What of the record is practice with a simulated head.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Practice {
    /// Nothing.
    None,
    /// All that any head read.
    All,
    /// Something beside what a real head read: it is not shown.
    Beside,
}

impl Practice {
    pub(super) fn of(history: &JobHistory) -> Self {
        match history.heads() {
            Heads::Simulated => Self::All,
            Heads::Real if simulated(&history.events).contains(&true) => Self::Beside,
            Heads::Real | Heads::None => Self::None,
        }
    }
}

/// What must be read before anything else.
pub(super) fn warnings(reading: &Reading<'_>) -> Vec<String> {
    let says = match reading.practice {
        Practice::None => return Vec::new(),
        Practice::All => {
            "SIMULATED: what this page says of readings, verdicts, zero and survey was read of a simulated head, as practice. Nothing of it \
             was measured on a board; this is no handover."
        }
        Practice::Beside => {
            "The record of this job also holds a practice with a simulated head. It is not shown on this page, and nothing of it is counted."
        }
    };
    vec![says.to_owned()]
}

/// Sections whose numbers the simulated head gave.
const OF_THE_HEAD: [&str; 10] = [
    "in-short",
    "in-full",
    "board",
    "verdicts",
    "gaps",
    "turns",
    "measured-with",
    "agreement",
    "takes",
    "proof",
];

/// The page of a practice, with the word wherever a verdict or what was read stands.
pub(super) fn labelled(mut document: Document) -> Document {
    document.kind = "Practice, no handover";
    document.word = document.verdict.map(|verdict| match verdict {
        Verdict::Within => "simulated: within",
        Verdict::Outside => "simulated: outside",
        Verdict::Unsure => "simulated: too close to call",
    });
    document.lead = format!("Simulated, nothing was measured: {}", document.lead);
    for section in &mut document.sections {
        if OF_THE_HEAD.contains(&section.id) {
            section.title = format!("{} (simulated)", section.title);
        }
        for block in &mut section.blocks {
            if let Block::Verdict(card) = block {
                card.heading = format!("{} (simulated)", card.heading);
            }
        }
    }
    document
}
