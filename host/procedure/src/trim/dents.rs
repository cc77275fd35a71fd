//! Whether anybody went over the board for dents and bumps that single readings miss: asked once,
//! where the work would end within.

use super::Trim;
use crate::output::Entry;
use crate::word::Word;
use skimgauge_metrology::plane::unseen::LookedOver;
use skimgauge_model::Verdict;
use skimgauge_quantity::{Sentence, say};

/// What is kept of the answer.
const NOTHING_FOUND: &str =
    "gone over with a straightedge, or the flat of the hand: no dent and no bump was found";

const DENTS_FOUND: &str = "gone over with a straightedge, or the flat of the hand: it has dents or bumps, which are to be surveyed";

/// How far the question is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) enum Dents {
    /// Not asked yet.
    #[default]
    Unasked,
    /// Waits for its answer.
    Asked,
    /// Answered, whatever it was.
    Answered,
}

impl Trim {
    /// The work would end within: it is asked where a dent or bump would matter.
    pub(super) fn asks_for_dents(&mut self) {
        let whole = self.takes.whole();
        let matters = whole.verdict == Verdict::Within && whole.unseen.is_some();
        if matters && self.dents == Dents::Unasked {
            self.dents = Dents::Asked;
        }
    }

    /// What is asked, while it waits.
    pub(super) fn question_of_dents(&self) -> Option<Sentence> {
        (self.dents == Dents::Asked).then(|| {
            say!(
                "Run a straightedge, or the flat of your hand, over the whole board (about a minute). Is it free of dents and bumps?"
            )
        })
    }

    /// The answer: yes means that somebody looked and found nothing, no that there is something.
    pub(super) fn dents_answered(&mut self, word: Word) {
        self.dents = Dents::Answered;
        let (found, note) = match word {
            Word::Yes => (LookedOver::Nothing, NOTHING_FOUND),
            _ => (LookedOver::Found, DENTS_FOUND),
        };
        self.takes.put(Entry::Note(note.to_owned()));
        self.takes.is_looked_over(found);
        self.takes.put(Entry::Judged(Box::new(self.takes.whole().clone())));
        let whole = self.takes.whole_view();
        self.say(whole.line(), whole.verdict != Verdict::Within);
    }
}
