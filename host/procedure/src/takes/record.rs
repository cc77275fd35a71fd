//! What the record answers, and what it is given at the end.

use super::Takes;
use crate::Entry;
use crate::input::Answer;
use crate::output::Output;
use skimgauge_quantity::say;
use std::time::Duration;

impl Takes {
    /// The record, or who writes it, answered.
    pub(super) fn answered(&mut self, now: Duration, answer: Answer) {
        match answer {
            Answer::Saving(what) => self.saving = what,
            Answer::Kept { entry, event, place } => self.is_kept(now, entry, event, place),
            Answer::NotKept { entry, why } => self.is_not_kept(now, &entry, why),
            Answer::Late { what, why } => {
                let says =
                    say!("NOT in the record yet: {what} ({why}) It is tried again and again.");
                self.say(now, true, says);
            }
            Answer::Slow { what } => {
                self.say(now, false, say!("saving {what}: the record takes its time"));
            }
        }
    }

    /// Nothing more is said or taken: the verdict over what was taken goes to the record.
    pub(super) fn closes(&mut self) {
        if self.stations.taken() > 0 {
            self.out.push(Output::Keep(Entry::Judged(Box::new(self.whole.clone()))));
        }
    }
}
