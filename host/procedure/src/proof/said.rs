//! Words.

use super::{MOST_MISSES, Proving};
use crate::word::{Said, Word};
use skimgauge_proof::marks;
use skimgauge_proof::plan::Ask;
use skimgauge_proof::raw::Came;
use skimgauge_quantity::say;
use std::time::Duration;

impl Proving {
    pub(super) fn said(&mut self, now: Duration, said: Said) {
        let gone = self.situation.is_gone(said.seen);
        match said.word {
            Word::Quit => self.end(),
            _ if gone => {
                let says = say!("let go: it was meant for what stood here before; look again");
                self.tell(now, true, says);
            }
            Word::Missed => self.missed(now),
            Word::Redo => self.undo(now),
            Word::Skip => self.leave_out(now),
            Word::Pause => self.pause(now),
            Word::Ready => self.ready(now),
            _ => (),
        }
    }

    /// It was done, and the display did not react.
    fn missed(&mut self, now: Duration) {
        let Some(asked) = self.current().filter(|_| !self.paused) else { return };
        let ask = asked.ask.clone();
        if !matches!(ask, Ask::Mark { .. } | Ask::Stroke { .. } | Ask::Hold { .. }) {
            return;
        }
        let at_ms = self.ms(now);
        self.done(at_ms, Came::NoReaction);
        let misses = self.proof.asked.iter().rev().take_while(|asked| asked.ask == ask).count();
        if misses < MOST_MISSES {
            self.queue.push_front(ask);
            self.tell(now, false, say!("noted: the display did not react. Once more, please"));
        } else {
            self.tell(now, true, say!("noted: the display does not react there. On to the next"));
        }
    }

    /// Takes back the last mark.
    fn undo(&mut self, now: Duration) {
        let open = usize::from(self.open);
        let done = self.proof.asked.len() - open;
        let last = self.proof.asked[..done].iter().rposition(|asked| asked.came != Came::Undone);
        let Some(last) = last else {
            return self.tell(now, true, say!("there is nothing to take back"));
        };
        let ask = self.proof.asked[last].ask.clone();
        self.proof.asked[last].came = Came::Undone;
        if let Some(current) = self.current() {
            // What was asked meanwhile is asked again after it.
            let again = current.ask.clone();
            let at_ms = self.ms(now);
            self.done(at_ms, Came::Undone);
            self.queue.push_front(again);
        }
        // A touch that was not seen has been asked again already.
        if self.queue.front() != Some(&ask) {
            self.queue.push_front(ask);
        }
        self.tell(now, false, say!("taken back; it stays in the record and does not count"));
    }

    /// Out of reach, or not to be had.
    fn leave_out(&mut self, now: Duration) {
        let Some(asked) = self.current() else { return };
        let ask = asked.ask.clone();
        let at_ms = self.ms(now);
        self.done(at_ms, Came::Undone);
        let Ask::Mark { mark, .. } = ask else {
            return self.tell(now, false, say!("left out; the verdict will say so"));
        };
        if !self.proof.left_out.contains(&mark) {
            self.proof.left_out.push(mark);
        }
        let kept = skimgauge_proof::plan::core(&self.proof.left_out);
        self.queue.retain(|ask| {
            kept.contains(ask) || matches!(ask, Ask::Leaf { .. } | Ask::Dashes { .. })
        });
        let says =
            say!("{} is left out as out of reach; the verdict will say so", marks::name(mark));
        self.tell(now, false, says);
    }

    fn pause(&mut self, now: Duration) {
        self.paused = !self.paused;
        if self.paused {
            // Hands off is begun anew afterwards: a minute is a minute.
            if let Some(asked) = self.current() {
                let ask = asked.ask.clone();
                let at_ms = self.ms(now);
                self.done(at_ms, Came::Undone);
                self.queue.push_front(ask);
            }
            self.tell(now, false, say!("pause: what touches now does not count"));
        } else {
            self.down.clear();
            self.tell(now, false, say!("going on"));
        }
    }

    fn ready(&mut self, now: Duration) {
        if self.paused {
            return self.pause(now);
        }
        let at_ms = self.ms(now);
        if self.current().is_some_and(|asked| matches!(asked.ask, Ask::Leaf { .. })) {
            self.lies_ms.get_or_insert(at_ms);
        } else if self.current().is_some_and(|asked| matches!(asked.ask, Ask::Dashes { .. })) {
            self.done(at_ms, Came::Done);
        }
    }
}
