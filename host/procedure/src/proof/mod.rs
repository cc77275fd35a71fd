//! The touch proof: marks are tapped, lines drawn, contacts held, hands kept off, on the display
//! itself. A machine of its own: it hears a browser instead of a head.
//!
//! | file | what |
//! | --- | --- |
//! | here | the machine: what is asked next, and when something asked is done |
//! | [`told`] | what the page tells: its window, and every report of every contact |
//! | `said` | words: did not react, undo, leave out, pause, ready |
//! | [`view`] | how it stands |
//!
//! Times are the browser's own, so that a slow network changes nothing of what is measured; this
//! program's clock only ends what nobody touches (hands off, a pause between two strokes).

mod heard;
mod said;
#[cfg(test)]
mod tests;
pub mod told;
pub mod view;

use crate::situation::Numbered;
use crate::word::Said;
use skimgauge_model::{Image, Verdict};
use skimgauge_proof::judge::{Judged, What, judge};
use skimgauge_proof::limits::{Limits, Tool};
use skimgauge_proof::plan::{Ask, DASHES, HANDS_OFF_MS, LEAF_MS, core, more};
use skimgauge_proof::raw::{Asked, Came, Contact, FORM, Gap, HeadGap, Proof};
use skimgauge_quantity::{Sentence, say};
use std::collections::{BTreeMap, VecDeque};
use std::time::Duration;

pub use told::{Event, Phase, Told};
pub use view::View;

/// Something said stands so long.
const MESSAGE_LASTS: Duration = Duration::from_secs(8);
/// So long to step back before hands off counts, ms.
const STEP_BACK_MS: f64 = 3000.0;
/// After so long without a contact a line is over, or ten dashes are, ms.
const IDLE_MS: f64 = 2000.0;
const DASHES_IDLE_MS: f64 = 1500.0;
/// A mark that does not react so often is gone on from.
const MOST_MISSES: usize = 4;

/// With what a proof begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Begin {
    /// The job's name.
    pub title: String,
    /// The image that is touched.
    pub image: Image,
    /// With what.
    pub tool: Tool,
    /// What is allowed.
    pub limits: Limits,
    /// How the gap stands.
    pub gap: Gap,
    /// Marks out of reach.
    pub left_out: Vec<u8>,
    /// Leaves to be laid.
    pub leaves: Vec<Ask>,
    /// The head's gaps where they are laid.
    pub gaps: Vec<HeadGap>,
}

/// Something that came.
#[derive(Debug, Clone)]
pub enum Input {
    /// The page told something.
    Told(Told),
    /// A person said something.
    Said(Said),
    /// Time passed. Ten times a second.
    Tick,
}

/// What follows.
#[derive(Debug, Clone)]
pub enum Output {
    /// Tell it to whoever listens, once.
    Tell(Sentence),
    /// All is done, or somebody had enough: this is what was made, and what it says.
    Over(Box<Made>),
    /// Somebody had enough before there was anything to judge, and why there is nothing.
    Nothing(Sentence),
}

/// A proof as it was made, and what it says.
#[derive(Debug, Clone, PartialEq)]
pub struct Made {
    /// To be kept, and judged again.
    pub proof: Proof,
    /// Judged.
    pub judged: Judged,
}

/// Where a contact that is down is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kept {
    Asked(usize, usize),
    Paused(usize),
}

/// The proof at work.
#[derive(Debug)]
pub struct Proving {
    title: String,
    proof: Proof,
    queue: VecDeque<Ask>,
    /// The last thing asked is still to be done.
    open: bool,
    asked_more: bool,
    paused: bool,
    /// Contacts that are down, by the browser's number for them.
    down: BTreeMap<i64, Kept>,
    /// The browser's clock at the proof's beginning, ms, and how far it is before this program's.
    origin_ms: Option<f64>,
    ahead_ms: f64,
    /// When a contact was last heard of.
    touched_ms: f64,
    /// A leaf lies since.
    lies_ms: Option<f64>,
    message: Option<(Sentence, bool, Duration)>,
    over: Option<Box<Made>>,
    situation: Numbered<(usize, bool, bool, bool)>,
    out: Vec<Output>,
}

impl Proving {
    /// A proof that waits for its page.
    pub fn new(begin: Begin) -> Self {
        let mut queue: VecDeque<Ask> = core(&begin.left_out).into();
        queue.extend(begin.leaves);
        Self {
            title: begin.title,
            proof: Proof {
                form: FORM,
                image: begin.image,
                tool: begin.tool,
                limits: begin.limits,
                gap: begin.gap,
                left_out: begin.left_out,
                windows: Vec::new(),
                asked: Vec::new(),
                gaps: begin.gaps,
                paused: Vec::new(),
                simulated: false,
            },
            queue,
            open: false,
            asked_more: false,
            paused: false,
            down: BTreeMap::new(),
            origin_ms: None,
            ahead_ms: 0.0,
            touched_ms: 0.0,
            lies_ms: None,
            message: None,
            over: None,
            situation: Numbered::from((0, false, false, false)),
            out: Vec::new(),
        }
    }

    /// Something came, at this time: what follows, in its order.
    pub fn on(&mut self, now: Duration, input: Input) -> Vec<Output> {
        if self.over.is_none() {
            match input {
                Input::Told(told) => self.told(now, told),
                Input::Said(said) => self.said(now, said),
                Input::Tick => (),
            }
            self.look(self.ms(now));
        }
        if self.message.as_ref().is_some_and(|(_, _, until)| now > *until) {
            self.message = None;
        }
        let over = self.over.is_some();
        self.situation.is((self.proof.asked.len(), self.open, self.paused, over));
        std::mem::take(&mut self.out)
    }

    /// What was made so far.
    pub fn proof(&self) -> &Proof {
        &self.proof
    }

    /// The proof's time now, ms, by this program's clock.
    fn ms(&self, now: Duration) -> f64 {
        (now.as_secs_f64() * 1000.0 + self.ahead_ms).max(0.0)
    }

    fn tell(&mut self, now: Duration, bad: bool, says: Sentence) {
        self.out.push(Output::Tell(says.clone()));
        self.message = Some((says, bad, now + MESSAGE_LASTS));
    }

    /// What is asked just now.
    fn current(&self) -> Option<&Asked> {
        self.proof.asked.last().filter(|_| self.open)
    }

    /// Goes on where something is done by its time alone, and asks the next thing.
    fn look(&mut self, at_ms: f64) {
        if self.origin_ms.is_none() || self.paused {
            return;
        }
        if let Some(asked) = self.current() {
            if self.is_done(asked, at_ms) {
                self.done(at_ms, Came::Done);
            } else {
                return;
            }
        }
        if !self.open && self.over.is_none() {
            self.ask_next(at_ms);
        }
    }

    fn ask_next(&mut self, at_ms: f64) {
        if self.queue.is_empty() && !self.asked_more {
            self.asked_more = true;
            if self.wants_more() {
                self.queue.extend(more(&self.proof.left_out));
                let says = say!(
                    "something is outside or too close to call: quick dashes and the diagonals"
                );
                self.out.push(Output::Tell(says));
            }
        }
        let Some(ask) = self.queue.pop_front() else { return self.end() };
        let before = self.proof.asked.last().map_or(0.0, |asked| asked.to_ms);
        let mut from_ms = at_ms.max(before);
        if ask == Ask::HandsOff {
            from_ms += STEP_BACK_MS;
        }
        self.lies_ms = None;
        self.proof.asked.push(Asked {
            ask,
            from_ms,
            to_ms: from_ms,
            came: Came::Done,
            contacts: Vec::new(),
        });
        self.open = true;
    }

    /// Whether dashes and diagonals would tell something.
    fn wants_more(&self) -> bool {
        let of_touch = [What::Map, What::Misses, What::Ghosts, What::Jitter, What::Lines];
        judge(&self.proof).is_ok_and(|judged| {
            judged
                .parts
                .iter()
                .any(|part| of_touch.contains(&part.what) && part.verdict != Verdict::Within)
        })
    }

    /// What is asked now ended so.
    fn done(&mut self, at_ms: f64, came: Came) {
        if let Some(asked) = self.proof.asked.last_mut().filter(|_| self.open) {
            asked.to_ms = at_ms.max(asked.from_ms);
            asked.came = came;
            self.open = false;
        }
    }

    fn is_done(&self, asked: &Asked, at_ms: f64) -> bool {
        match asked.ask {
            // These end with what was touched.
            Ask::Mark { .. } | Ask::Hold { .. } => false,
            Ask::Stroke { .. } => {
                self.down.is_empty()
                    && at_ms - self.touched_ms >= IDLE_MS
                    && heard::went_there_and_back(&self.proof, asked) >= 1
            }
            Ask::HandsOff => at_ms - asked.from_ms >= HANDS_OFF_MS,
            Ask::Dashes { .. } => {
                // Fewer than were drawn ran together, or are not all drawn yet: that only the person
                // knows.
                let answers = |contact: &&Contact| self.proof.is_answer(asked, contact);
                asked.contacts.iter().filter(answers).count() >= DASHES
                    && self.down.is_empty()
                    && at_ms - self.touched_ms >= DASHES_IDLE_MS
            }
            Ask::Leaf { .. } => self.lies_ms.is_some_and(|since| at_ms - since >= LEAF_MS),
        }
    }

    /// Ends it with what there is.
    fn end(&mut self) {
        if self.over.is_some() {
            return;
        }
        if self.open {
            // What was asked and not done was not asked.
            let last = self.proof.asked.pop();
            self.open = false;
            if let Some(asked) = last {
                self.proof.paused.extend(asked.contacts);
            }
            self.down.clear();
        }
        if self.proof.asked.is_empty() && !self.proof.windows.is_empty() {
            let says = say!("nothing was proved: nothing that it asks for was done");
            return self.out.push(Output::Nothing(says));
        }
        match judge(&self.proof) {
            Ok(judged) => {
                let made = Box::new(Made { proof: self.proof.clone(), judged });
                self.over = Some(made.clone());
                self.out.push(Output::Over(made));
            }
            Err(_) if self.proof.windows.is_empty() => {
                self.out.push(Output::Nothing(say!("nothing was proved: its page was not opened")));
            }
            Err(why) => {
                let says = say!("nothing was proved: this cannot be judged ({why})");
                self.out.push(Output::Nothing(says));
            }
        }
    }
}
