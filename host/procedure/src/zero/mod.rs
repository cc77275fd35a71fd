//! Zeroing a head with a user at the gauge: step by step, each to be left out, gone back to or taken
//! back, the whole to be put aside and taken up again, nothing written to the head before the end; or
//! a check that the constants in the head still hold.

mod begin;
mod constants;
mod gather;
mod said;
mod shown;
mod steps;
#[cfg(test)]
mod tests;

pub use begin::{Begin, CheckedZero, Ended, Zeroed};

use crate::Procedure;
use crate::input::{Answer, Input};
use crate::output::{Entry, Message, News, Output};
use crate::situation::Numbered;
use crate::view::View;
use crate::word::{Said, Word};
use gather::Doing;
use skimgauge_metrology::measure::Observer;
use skimgauge_metrology::zero::{Mean, Outcome, Session};
use skimgauge_quantity::{Name, Sentence, Tell, say};
use skimgauge_session::{Counts, Event, Told, Trouble};
use skimgauge_shared::message::{Answer as HeadAnswer, Ask, Press};
use std::time::Duration;
use steps::Stage;

/// A message is shown for so long.
const MESSAGE_LASTS: Duration = Duration::from_secs(6);
/// A head that changes by more than this a minute has not warmed up, K.
const WARMING_K: f64 = 0.3;

/// A zeroing, or a check.
pub struct Zero {
    begin: Begin,
    serial: String,
    observer: Observer,
    counts: Counts,
    session: Session,
    /// The step to be made, by its place among `stages`; `None` once all are.
    at: Option<usize>,
    /// Steps left out.
    skipped: Vec<Stage>,
    /// Steps in the order in which they were read.
    read: Vec<Stage>,
    /// The first position of the reversal at hand, inclinometer's steps.
    first: Option<[f64; 2]>,
    /// What the eye saw last.
    seen: Option<Mean>,
    /// When the head was asked for that.
    profile_asked: Option<Duration>,
    doing: Doing,
    outcome: Option<Box<Outcome>>,
    came_to: Option<Sentence>,
    message: Option<(Message, Duration)>,
    /// The last thing said, for whoever shows no lines.
    closing: Sentence,
    ended: Option<Ended>,
    begun: bool,
    /// Nobody types any more.
    unattended: bool,
    said_warming: bool,
    situation: Numbered<(Option<usize>, bool, bool, bool, bool)>,
    out: Vec<Output>,
}

impl Zero {
    /// With a head that is up and knows its serial number.
    pub fn new(begin: Begin) -> Self {
        let mut observer = Observer::new(begin.limits, begin.today);
        observer.greeted(begin.head.hello.serial);
        observer.calibrated(begin.head.calibration.clone());
        let serial = begin.head.hello.serial.map_or_else(String::new, |serial| serial.to_string());
        Self {
            serial,
            observer,
            counts: Counts::default(),
            session: begin.session.clone(),
            at: None,
            skipped: Vec::new(),
            read: Vec::new(),
            first: None,
            seen: None,
            profile_asked: None,
            doing: Doing::Nothing,
            outcome: None,
            came_to: None,
            message: None,
            closing: Sentence::new(),
            ended: None,
            begun: false,
            unattended: false,
            said_warming: false,
            situation: Numbered::from((None, false, false, false, false)),
            out: Vec::new(),
            begin,
        }
    }

    /// How it ended; `None` while it goes on.
    pub fn ended(&self) -> Option<&Ended> {
        self.ended.as_ref()
    }

    /// What was said when it ended.
    pub fn closing(&self) -> &Sentence {
        &self.closing
    }

    fn say(&mut self, now: Duration, bad: bool, says: Sentence) {
        let message = Message { says, bad, answers: Vec::new() };
        self.out.push(Output::Tell(News::Message(message.clone())));
        self.message = Some((message, now + MESSAGE_LASTS));
    }

    /// It is over: once, with these words.
    fn end(&mut self, now: Duration, how: Ended, says: Sentence) {
        if self.ended.is_some() {
            return;
        }
        if !says.is_empty() {
            self.say(now, how != Ended::Written, says.clone());
        }
        self.stop_streaming();
        self.closing = says;
        self.ended = Some(how);
        self.out.push(Output::End(None));
    }

    /// It cannot go on.
    fn fail(&mut self, now: Duration, why: Sentence) {
        self.end(now, Ended::Failed(why), Sentence::new());
    }

    fn put_aside(&mut self, now: Duration) {
        let says = if self.begin.check {
            Sentence::new()
        } else {
            say!("Put aside in {}. Nothing was written to the head.", Name(&self.begin.put_aside))
        };
        self.end(now, Ended::PutAside, says);
    }

    /// The first thing that is said, and the first step.
    fn begins(&mut self, now: Duration) {
        self.begun = true;
        let head = &self.begin.head;
        let says = said::opening(&self.serial, head);
        let doubt = said::doubtful_date(&head.calibration, self.begin.today);
        self.say(now, false, says);
        if let Some(doubt) = doubt {
            self.say(now, true, doubt);
        }
        if self.begin.check {
            self.at = Some(0);
            return self.prompt();
        }
        if self.begin.going_on {
            let says = say!(
                "Going on with the zeroing put aside in {} ({} stands before the gauge read). --anew begins again.",
                Name(&self.begin.put_aside),
                self.session.stands.len()
            );
            self.say(now, false, says);
        }
        if self.session.gauge.is_none() {
            self.say(now, true, said::no_gauge());
        }
        self.goes_on(now);
    }

    fn told(&mut self, now: Duration, told: Told) {
        let now_s = now.as_secs_f64();
        match told {
            Told::Head(Event::Up(head)) => {
                self.observer.greeted(head.hello.serial);
                self.observer.calibrated(head.calibration.clone());
                self.begin.head = head;
            }
            Told::Head(Event::Reading(arrived)) => {
                let at_s = arrived.arrival.as_secs_f64();
                self.observer.reading(&arrived.reading, arrived.placed, at_s);
                self.doing.reading(&arrived.reading);
                self.passes(now);
            }
            Told::Head(Event::Pulse(pulse)) => {
                self.observer.pulse(&pulse, now_s);
                if let Some(t) = pulse.temperature.value() {
                    self.doing.temperature(t.celsius());
                }
            }
            Told::Head(Event::Sheet(sheet)) => self.observer.sheet(&sheet, now_s),
            Told::Head(Event::Codes(codes)) => self.doing.codes(&codes),
            Told::Head(Event::Profile { scan, .. }) => self.profile(&scan[..]),
            Told::Head(Event::Button(Press::Short, _)) => self.ready(now),
            Told::Head(Event::Answer(ask, answer)) => self.answered(now, ask, &answer),
            Told::Head(Event::RoundTrip { took, at }) => {
                self.observer.answered(at.seconds(), took.as_secs_f64(), now_s);
            }
            Told::Head(Event::ClockJumped) => self.observer.link_broken(),
            Told::Head(Event::Refused(why)) => {
                let trouble = Trouble::Refused { port: self.begin.port.clone(), why };
                self.fail(now, trouble.tell());
            }
            Told::Head(_) => (),
            Told::Lost(trouble) => {
                let says = say!(
                    "The head is gone; what was read so far is kept. Plug it in and begin again to go on. ({})",
                    trouble.tell()
                );
                self.fail(now, says);
            }
            Told::Counts(counts) => self.counts = counts,
            Told::NotRecorded(_) => (),
            Told::End => self.put_aside(now),
        }
    }

    /// An answer of the head's.
    fn answered(&mut self, now: Duration, ask: Ask, answer: &HeadAnswer) {
        if let HeadAnswer::Calibration(state) = answer {
            self.observer.calibrated(state.clone());
        }
        if !self.writes(now, ask, answer) {
            self.streams(now, ask, answer);
        }
    }

    fn said(&mut self, now: Duration, said: Said) {
        let gone = self.situation.is_gone(said.seen);
        match said.word {
            // Constants that are being written are written whole.
            Word::Quit if !self.doing.writes() => self.put_aside(now),
            _ if gone => {
                let says = say!("Let go: it was meant for what stood here before. Look again.");
                self.say(now, true, says);
            }
            _ if !matches!(self.doing, Doing::Nothing) => {
                let says = say!("Let go: the step before is not over yet.");
                self.say(now, true, says);
            }
            Word::Ready | Word::Take => self.ready(now),
            Word::Yes if self.outcome.is_some() => self.write(now),
            Word::No if self.outcome.is_some() => self.put_aside(now),
            word => self.moves(now, word),
        }
    }

    /// Go on: the step at hand is made.
    fn ready(&mut self, now: Duration) {
        if !matches!(self.doing, Doing::Nothing) || self.ended.is_some() {
            return;
        }
        if self.outcome.is_some() {
            // Only a word of their own lets them be written.
            self.prompt();
        } else if self.stage().is_some() {
            self.let_go(now);
        }
    }

    fn ticks(&mut self, now: Duration) {
        if self.message.as_ref().is_some_and(|(_, until)| now > *until) {
            self.message = None;
        }
        let warming = self.observer.live(now.as_secs_f64()).warming_k_per_min;
        if let Some(k_per_min) = warming.filter(|k| k.abs() > WARMING_K)
            && !std::mem::replace(&mut self.said_warming, true)
        {
            self.say(now, true, said::warming(k_per_min));
        }
        self.passes(now);
        if self.unattended && matches!(self.doing, Doing::Nothing) {
            self.put_aside(now);
        }
    }

    fn kept(&mut self, now: Duration, answer: Answer) {
        match answer {
            Answer::Kept { entry: Entry::Zeroing(_), .. } => {
                self.doing = Doing::Nothing;
                if self.ended.is_none() {
                    self.goes_on(now);
                }
            }
            Answer::Kept { entry: Entry::Zeroed(_), .. } => {
                self.doing = Doing::Nothing;
                self.end(now, Ended::Written, say!("Kept in {}.", Name(&self.begin.record)));
            }
            Answer::NotKept { entry: Entry::Zeroing(_), why } => self.not_kept(now, why),
            Answer::NotKept { entry: Entry::Zeroed(_), why } => {
                self.doing = Doing::Nothing;
                let says = say!(
                    "The head has its new constants, but they could not be recorded: {why} What was read stays in {}.",
                    Name(&self.begin.put_aside)
                );
                self.end(now, Ended::NotRecorded, says);
            }
            Answer::Slow { what } => {
                self.say(now, false, say!("saving {what}: it takes its time"));
            }
            _ => (),
        }
    }

    /// What was read could not be kept: it is not counted.
    fn not_kept(&mut self, now: Duration, why: Sentence) {
        if let Doing::Keeping { former, at } = std::mem::take(&mut self.doing) {
            self.session = *former;
            self.at = at;
        }
        let says = say!("NOT kept: what was read ({why})");
        if self.ended.is_some() {
            self.closing = says.clone();
            self.ended = Some(Ended::Failed(says));
        } else {
            self.say(now, true, says);
            self.prompt();
        }
    }
}

impl Procedure for Zero {
    fn on(&mut self, now: Duration, input: Input) -> Vec<Output> {
        match input {
            Input::Record(answer) => self.kept(now, answer),
            // What is on its way into the head is waited for.
            Input::Head(Told::Head(Event::Answer(ask, answer))) => self.answered(now, ask, &answer),
            _ if self.ended.is_some() => (),
            input if !self.begun => {
                self.begins(now);
                let mut out = std::mem::take(&mut self.out);
                out.extend(self.on(now, input));
                return out;
            }
            Input::Head(told) => self.told(now, told),
            Input::Said(said) => self.said(now, said),
            Input::Unread(why) => self.say(now, true, why),
            Input::Tick => self.ticks(now),
            Input::Unattended => self.unattended = true,
            Input::LeftOut(_) => (),
            Input::Ending | Input::Close if self.doing.writes() => (),
            Input::Ending | Input::Close => self.put_aside(now),
        }
        let busy = !matches!(self.doing, Doing::Nothing);
        let (first, asks) = (self.first.is_some(), self.outcome.is_some());
        self.situation.is((self.at, first, asks, busy, self.ended.is_some()));
        std::mem::take(&mut self.out)
    }

    fn view(&self, now: Duration) -> View {
        self.shown(now)
    }
}
