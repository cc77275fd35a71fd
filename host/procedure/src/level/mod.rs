//! The head as a level: a bracket's level, a board's plumb. A reversal takes the head's own offset
//! out of a reading; what is found is judged against a target and kept.

mod doubt;
mod shown;
#[cfg(test)]
mod tests;

use crate::Procedure;
use crate::input::{Answer, Input};
use crate::output::{Entry, Message, News, Output};
use crate::situation::Numbered;
use crate::view::View;
use crate::view::level::{AxisFound, LevelFound, Line};
use crate::word::{Said, Word};
use skimgauge_metrology::level::Reversal;
use skimgauge_metrology::measure::{Limits, Observer};
use skimgauge_metrology::verdict::decide;
use skimgauge_quantity::{Band, Deg, Name, Sentence, Tell, say};
use skimgauge_session::{Counts, Event, HeadIs, Told, Trouble};
use skimgauge_shared::calibration::Date;
use std::time::Duration;

/// The finger that pressed shook the head: it is let go of for so long.
const LET_GO: Duration = Duration::from_millis(300);
/// A word said before the head rests waits no longer than this for it.
const REST_FOR: Duration = Duration::from_secs(5);
/// Two words are this far apart, or the second is let go.
const APART: Duration = Duration::from_millis(700);
/// Scatter of a second's mean, filtered noise, degrees.
const MEAN_U_DEG: f64 = 0.002;
/// A level stands on anything: the board's tilt says nothing of it, degrees.
const ANY_TILT_DEG: f64 = 60.0;
/// A message is shown for so long.
const MESSAGE_LASTS: Duration = Duration::from_secs(6);

/// Something to be levelled or plumbed.
#[derive(Debug, Clone, PartialEq)]
pub struct Thing {
    /// As its user calls it: `left bracket`.
    pub name: String,
    /// Against which line.
    pub line: Line,
    /// How far it may be off that line; `None`: not judged, and not kept.
    pub target: Option<Band<Deg>>,
}

/// One reading, marked.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Mark {
    level_deg: f64,
    lean_deg: f64,
}

/// The link to the head.
#[derive(Debug, Clone, PartialEq)]
enum Link {
    Greeting,
    Up(Box<HeadIs>),
    Lost(Trouble),
}

/// The head as a level.
pub struct Level {
    title: String,
    things: Vec<Thing>,
    at: usize,
    observer: Observer,
    link: Link,
    port: String,
    counts: Counts,
    first: Option<Mark>,
    /// A second mark that does not show a turn: whether there was one is asked.
    asked: Option<Mark>,
    /// A mark was asked for, at this time.
    marking: Option<Duration>,
    found: Option<LevelFound>,
    kept: Vec<LevelFound>,
    saving: Option<Sentence>,
    message: Option<(Message, Duration)>,
    /// When something was said last.
    said: Option<Duration>,
    situation: Numbered<(usize, bool, bool, bool, bool, usize)>,
    out: Vec<Output>,
}

impl Level {
    /// Of these things, one after the other; without any, of whatever the head stands on.
    pub fn new(title: &str, things: Vec<Thing>, today: Date, port: &str) -> Self {
        let mut limits = Limits::default();
        limits.board.tolerance_deg = ANY_TILT_DEG;
        let things = if things.is_empty() {
            vec![Thing { name: String::new(), line: Line::Level, target: None }]
        } else {
            things
        };
        Self {
            title: title.to_owned(),
            things,
            at: 0,
            observer: Observer::new(limits, today),
            link: Link::Greeting,
            port: port.to_owned(),
            counts: Counts::default(),
            first: None,
            asked: None,
            marking: None,
            found: None,
            kept: Vec::new(),
            saving: None,
            message: None,
            said: None,
            situation: Numbered::from((0, false, false, false, false, 0)),
            out: Vec::new(),
        }
    }

    /// What was found so far, in its order.
    pub fn found(&self) -> &[LevelFound] {
        &self.kept
    }

    fn say(&mut self, now: Duration, bad: bool, says: Sentence) {
        let message = Message { says, bad, answers: Vec::new() };
        self.out.push(Output::Tell(News::Message(message.clone())));
        self.message = Some((message, now + MESSAGE_LASTS));
    }

    fn told(&mut self, now: Duration, told: Told) {
        let now_s = now.as_secs_f64();
        match told {
            Told::Head(Event::Up(head)) => {
                self.observer.greeted(head.hello.serial);
                self.observer.calibrated(head.calibration.clone());
                self.link = Link::Up(head);
            }
            Told::Head(Event::Reading(arrived)) => {
                let at_s = arrived.arrival.as_secs_f64();
                self.observer.reading(&arrived.reading, arrived.placed, at_s);
            }
            Told::Head(Event::Sheet(sheet)) => self.observer.sheet(&sheet, now_s),
            Told::Head(Event::Pulse(pulse)) => self.observer.pulse(&pulse, now_s),
            Told::Head(Event::Button(..)) => self.goes_on(now),
            Told::Head(Event::RoundTrip { took, at }) => {
                self.observer.answered(at.seconds(), took.as_secs_f64(), now_s);
            }
            Told::Head(Event::ClockJumped) => self.observer.link_broken(),
            Told::Head(Event::Refused(why)) if self.link == Link::Greeting => {
                let trouble = Trouble::Refused { port: self.port.clone(), why };
                self.out.push(Output::End(Some(trouble)));
            }
            Told::Head(_) => (),
            Told::Lost(trouble) => {
                if !matches!(&self.link, Link::Lost(known) if *known == trouble) {
                    self.say(now, true, trouble.tell());
                }
                self.observer.link_broken();
                self.marking = None;
                self.link = Link::Lost(trouble);
            }
            Told::Counts(counts) => self.counts = counts,
            Told::NotRecorded(_) => (),
            Told::End => self.out.push(Output::End(None)),
        }
    }

    fn said(&mut self, now: Duration, said: Said) {
        let gone = self.situation.is_gone(said.seen);
        match said.word {
            Word::Quit => self.out.push(Output::End(None)),
            _ if gone => {
                let says = say!("Let go: it was meant for what stood here before. Look again.");
                self.say(now, true, says);
            }
            Word::Ready | Word::Take => self.goes_on(now),
            Word::Yes => {
                if let (Some(second), Some(first)) = (self.asked.take(), self.first) {
                    self.first = None;
                    self.turned(now, first, second);
                }
            }
            Word::Clear => (self.first, self.asked, self.marking) = (None, None, None),
            Word::Other if self.things.len() > 1 => {
                self.at = (self.at + 1) % self.things.len();
                (self.first, self.asked, self.found, self.marking) = (None, None, None, None);
            }
            Word::No => self.asked = None,
            _ => (),
        }
    }

    /// Mark here, as soon as the head rests.
    fn goes_on(&mut self, now: Duration) {
        let too_soon = self.said.replace(now).is_some_and(|at| now.saturating_sub(at) < APART);
        if too_soon || self.marking.is_some() {
            return;
        }
        if let Some(what) = self.saving.clone() {
            let says = say!("Let go: {what} is still being saved. Press again when it is.");
            return self.say(now, true, says);
        }
        if !matches!(self.link, Link::Up(_)) {
            return self.say(now, true, say!("NOT marked: the head is not connected"));
        }
        self.marking = Some(now);
    }

    fn ticks(&mut self, now: Duration) {
        if self.message.as_ref().is_some_and(|(_, until)| now > *until) {
            self.message = None;
        }
        let Some(asked) = self.marking else { return };
        let waited = now.saturating_sub(asked);
        if waited < LET_GO {
            return;
        }
        let live = self.observer.live(now.as_secs_f64());
        let tilts = live.level_deg.good().zip(live.lean_deg.good());
        match tilts.filter(|_| self.observer.level_rests()) {
            Some(((level_deg, _), (lean_deg, _))) => {
                self.marking = None;
                self.marked(now, Mark { level_deg, lean_deg });
            }
            None if waited > LET_GO + REST_FOR => {
                self.marking = None;
                let says = say!(
                    "NOT marked: the head does not come to rest, or does not tell its tilt. Hold it still and mark again."
                );
                self.say(now, true, says);
            }
            None => (),
        }
    }

    fn marked(&mut self, now: Duration, mark: Mark) {
        self.asked = None;
        let Some(first) = self.first else {
            self.first = Some(mark);
            self.found = None;
            let says =
                say!("Marked. Now turn the head end for end on the same spot, and mark again.");
            return self.say(now, false, says);
        };
        if let Some(asks) = self.doubts(first, mark) {
            self.say(now, true, say!("NOT counted: {asks}"));
            self.asked = Some(mark);
            return;
        }
        self.first = None;
        self.turned(now, first, mark);
    }

    /// The head was turned end for end between these two.
    fn turned(&mut self, now: Duration, first: Mark, second: Mark) {
        let found = self.judged(first, second);
        self.found = Some(found.clone());
        // A screen has no place for it but this; lines and JSON are told the finding itself.
        let message = Message { says: found.says.clone(), bad: false, answers: Vec::new() };
        self.message = Some((message, now + MESSAGE_LASTS));
        self.out.push(Output::Tell(News::Levelled(Box::new(found.clone()))));
        if found.target.is_none() {
            self.kept.push(found);
        } else if let Link::Up(head) = &self.link {
            self.saving = Some(say!("{}", Name(&found.thing)));
            self.out
                .push(Output::Keep(Entry::Levelled { found: Box::new(found), head: head.clone() }));
        }
    }

    fn judged(&self, first: Mark, second: Mark) -> LevelFound {
        let thing = &self.things[self.at.min(self.things.len() - 1)];
        let axis = |line: Line, pick: fn(Mark) -> f64| {
            let found = Reversal::of(pick(first), pick(second), MEAN_U_DEG);
            let expanded = Deg(crate::takes::expanded(found.u_deg, None));
            let target = thing.target.filter(|_| line == thing.line);
            AxisFound {
                tilt: Deg(found.tilt_deg),
                offset: Deg(found.offset_deg),
                u: Deg(found.u_deg),
                expanded,
                verdict: target.map(|target| decide(Deg(found.tilt_deg), expanded, target)),
            }
        };
        let level = axis(Line::Level, |mark| mark.level_deg);
        let lean = axis(Line::Plumb, |mark| mark.lean_deg);
        let says = shown::found(&thing.name, &level, &lean);
        let (line, target) = (thing.line, thing.target);
        LevelFound { thing: thing.name.clone(), line, target, level, lean, says }
    }

    fn answered(&mut self, now: Duration, answer: Answer) {
        match answer {
            Answer::Saving(what) => self.saving = what,
            Answer::Kept { entry: Entry::Levelled { found, .. }, .. } => {
                self.saving = None;
                self.kept.push(*found);
            }
            Answer::Kept { .. } => (),
            Answer::NotKept { entry, why } => {
                self.saving = None;
                self.found = None;
                self.say(now, true, say!("NOT kept: {} ({why})", entry.what()));
            }
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
}

impl Procedure for Level {
    fn on(&mut self, now: Duration, input: Input) -> Vec<Output> {
        match input {
            Input::Head(told) => self.told(now, told),
            Input::Said(said) => self.said(now, said),
            Input::Unread(why) => self.say(now, true, why),
            Input::Record(answer) => self.answered(now, answer),
            Input::Tick => self.ticks(now),
            Input::Unattended | Input::LeftOut(_) | Input::Ending | Input::Close => (),
        }
        self.situation.is((
            self.at,
            self.first.is_some(),
            self.asked.is_some(),
            self.marking.is_some(),
            self.saving.is_some(),
            self.kept.len(),
        ));
        std::mem::take(&mut self.out)
    }

    fn view(&self, now: Duration) -> View {
        self.shown(now)
    }
}
