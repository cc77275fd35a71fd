//! A head's first start, walked through: which parts answer, which way its tilt counts, how steady
//! it is, what its eye sees. What is wrong is said in the words of the wiring; what was found is the
//! head's birth certificate.
//!
//! | module | subject |
//! | --- | --- |
//! | `step` | the steps, and what each asks for |
//! | `evidence`, `gather` | what is gathered meanwhile |
//! | `limits` | what each value may be |
//! | `judge` | what may be said of what was gathered |
//! | `wiring` | parts, wires and test points of each fault |
//! | `certificate` | what was found |

mod certificate;
mod evidence;
mod gather;
mod judge;
pub mod limits;
mod said;
mod shown;
mod step;
#[cfg(test)]
mod tests;
pub mod wiring;

pub use certificate::{Certificate, Check, Found, Zeroed};
pub use limits::{Limit, Unit};
pub use step::Step;
pub use wiring::Wire;

use crate::Procedure;
use crate::input::Input;
use crate::output::{Message, News, Output};
use crate::situation::Numbered;
use crate::view::View;
use evidence::Evidence;
use skimgauge_metrology::measure::{Limits, Observer};
use skimgauge_quantity::{Sentence, say};
use skimgauge_session::{Counts, HeadIs, Trouble};
use skimgauge_shared::calibration::Date;
use skimgauge_shared::message::Request;
use std::time::Duration;

/// Lamp and buzzer show themselves for so long at a time.
const SHOWS_S: u8 = 10;
const SHOW_AGAIN: Duration = Duration::from_secs(8);
/// Two words are this far apart, or the second is let go.
const APART: Duration = Duration::from_millis(500);
const MESSAGE_LASTS: Duration = Duration::from_secs(8);
/// A head on a table stands anyhow.
const ANY_TILT_DEG: f64 = 60.0;

/// How a walk begins.
#[derive(Debug, Clone)]
pub struct Begin {
    /// The port, for what is said of it.
    pub port: String,
    /// Today.
    pub today: Date,
    /// Steps that are left out, and why.
    pub left_out: Vec<(Step, String)>,
}

enum Link {
    Greeting,
    Up(Box<HeadIs>),
    Lost(Trouble),
}

/// What goes on in a step.
enum Doing {
    /// It waits for a word.
    Waiting,
    /// The hand lets go.
    LettingGo { since: Duration },
    /// Readings are gathered.
    Gathering { since: Duration, evidence: Box<Evidence> },
}

/// The walk.
pub struct Birth {
    begin: Begin,
    link: Link,
    /// The head as it was known last.
    head: Option<Box<HeadIs>>,
    observer: Observer,
    counts: Counts,
    /// By its place in [`Step::ALL`]; past the end: over.
    at: usize,
    doing: Doing,
    checks: Vec<Check>,
    /// Level and lean at rest.
    rest: Option<[f64; 2]>,
    /// Level and lean of late, and when.
    tilts: Vec<(Duration, [f64; 2])>,
    paper_mm: Option<f64>,
    dark_codes: Option<f64>,
    scan_asked: Option<Duration>,
    shown_at: Option<Duration>,
    restarts: u32,
    unattended: bool,
    message: Option<(Message, Duration)>,
    said: Option<Duration>,
    situation: Numbered<(usize, bool, usize)>,
    ended: bool,
    out: Vec<Output>,
}

impl Birth {
    /// With a head that is still to be greeted.
    pub fn new(begin: Begin) -> Self {
        let mut limits = Limits::default();
        limits.board.tolerance_deg = ANY_TILT_DEG;
        Self {
            observer: Observer::new(limits, begin.today),
            begin,
            link: Link::Greeting,
            head: None,
            counts: Counts::default(),
            at: 0,
            doing: Doing::Waiting,
            checks: Vec::new(),
            rest: None,
            tilts: Vec::new(),
            paper_mm: None,
            dark_codes: None,
            scan_asked: None,
            shown_at: None,
            restarts: 0,
            unattended: false,
            message: None,
            said: None,
            situation: Numbered::from((0, false, 0)),
            ended: false,
            out: Vec::new(),
        }
    }

    /// Whether every step was made or left out.
    pub fn is_over(&self) -> bool {
        self.at >= Step::ALL.len()
    }

    /// What was found so far; of steps that were not come to, that they were not.
    pub fn certificate(&self) -> Certificate {
        let mut checks = self.checks.clone();
        for step in &Step::ALL[self.at.min(Step::ALL.len())..] {
            let left = step
                .checks()
                .iter()
                .filter(|name| checks.iter().all(|check| check.check != **name));
            let left: Vec<Check> = left
                .map(|name| Check::not_seen(name, say!("the walk ended before it")))
                .map(|check| Check { step: step.key(), ..check })
                .collect();
            checks.extend(left);
        }
        if let Some(head) = &self.head {
            checks.push(Check { step: "zero", ..judge::zero(head) });
        }
        checks.push(Check { step: "walk", ..judge::stayed(self.restarts) });
        Certificate::of(self.head.as_deref(), checks)
    }

    fn step(&self) -> Option<Step> {
        Step::ALL.get(self.at).copied()
    }

    fn say(&mut self, now: Duration, bad: bool, says: Sentence) {
        let message = Message { says, bad, answers: Vec::new() };
        self.out.push(Output::Tell(News::Message(message.clone())));
        self.message = Some((message, now + MESSAGE_LASTS));
    }

    /// What a step found: kept, said, and on to the next.
    fn found(&mut self, now: Duration, checks: Vec<Check>) {
        let Some(step) = self.step() else { return };
        for check in checks {
            let check = Check { step: step.key(), ..check };
            let (bad, says) = said::found(&check);
            self.say(now, bad, says);
            self.checks.push(check);
        }
        self.goes_to(now, self.at + 1);
    }

    /// To a step, past those that cannot or shall not be made.
    fn goes_to(&mut self, now: Duration, at: usize) {
        if self.step().is_some_and(Step::is_question) {
            self.out.push(Output::Ask(Request::Identify { seconds: 0 }));
        }
        self.at = at;
        self.doing = Doing::Waiting;
        self.tilts.clear();
        self.shown_at = None;
        match self.step() {
            None => {
                if !std::mem::replace(&mut self.ended, true) {
                    self.out.push(Output::End(None));
                }
            }
            Some(step) => match self.why_not(step) {
                Some(why) => {
                    let not = |name: &&'static str| Check::not_seen(name, why.clone());
                    self.found(now, step.checks().iter().map(not).collect());
                }
                None => self.begins(now, step),
            },
        }
    }

    fn begins(&mut self, now: Duration, step: Step) {
        self.out.push(Output::Tell(News::Step(said::step(self.at, step))));
        if step == Step::Parts {
            self.doing = Doing::LettingGo { since: now };
        }
        self.shows(now);
    }

    /// Lamp and buzzer show themselves while they are asked for.
    fn shows(&mut self, now: Duration) {
        let due = self.shown_at.is_none_or(|at| now.saturating_sub(at) >= SHOW_AGAIN);
        if due && self.step().is_some_and(Step::is_question) {
            self.shown_at = Some(now);
            self.out.push(Output::Ask(Request::Identify { seconds: SHOWS_S }));
        }
    }

    /// Why a step is not made, if it is not.
    fn why_not(&self, step: Step) -> Option<Sentence> {
        if let Some((_, why)) = self.begin.left_out.iter().find(|(out, _)| *out == step) {
            return Some(said::left_out(why));
        }
        let at_fault = |name: &str| {
            self.checks.iter().any(|check| check.check == name && check.verdict == Found::Fault)
        };
        let is_good = |name: &str| {
            let good = |check: &Check| check.verdict == Found::AsItShouldBe;
            self.checks.iter().any(|check| check.check == name && good(check))
        };
        let missing = |what: &'static str| Some(say!("{what} is at fault: see there"));
        if step.tilts() && at_fault("inclinometer") {
            return missing("the inclinometer");
        }
        if step.stands_off() && at_fault("converter") {
            return missing("the converter");
        }
        if matches!(step, Step::Dark | Step::Light | Step::Card) && at_fault("eye") {
            return missing("the eye");
        }
        match step {
            Step::Left | Step::Back if self.rest.is_none() => {
                Some(say!("how it stands at rest is not known"))
            }
            Step::Lift if self.paper_mm.is_none() => {
                Some(say!("how it stands on paper is not known"))
            }
            Step::Light | Step::Card if at_fault("dark") => missing("the eye in the dark"),
            Step::Card if !is_good("light") => Some(say!("it needs the lamp of the step before")),
            Step::Light | Step::Card if self.dark_codes.is_none() => {
                Some(say!("how dark the eye is when it is covered is not known"))
            }
            Step::Parts => None,
            _ => self.unattended.then(|| say!("nobody was there to do it")),
        }
    }

    /// A person said that the step is set up.
    fn ready(&mut self, now: Duration) {
        if !matches!(self.link, Link::Up(_)) || !matches!(self.doing, Doing::Waiting) {
            return;
        }
        match self.step() {
            Some(Step::Button) => {
                self.found(now, vec![Check::fault("button", wiring::BUTTON)]);
            }
            Some(step @ (Step::Left | Step::Back)) => match self.tilts.last() {
                Some((_, tilt)) => self.tilted(now, step, *tilt),
                None => self.say(now, true, say!("No tilt came just now. Wait, and go on again.")),
            },
            Some(step) if step.is_question() => (),
            Some(_) => self.doing = Doing::LettingGo { since: now },
            None => (),
        }
    }

    fn tilted(&mut self, now: Duration, step: Step, tilt: [f64; 2]) {
        let Some(rest) = self.rest else { return };
        let axis = usize::from(step == Step::Back);
        let moved = [tilt[0] - rest[0], tilt[1] - rest[1]];
        match judge::sign(axis, moved) {
            Ok(check) => self.found(now, vec![check]),
            Err(why) => self.say(now, true, why),
        }
    }
}

impl Procedure for Birth {
    fn on(&mut self, now: Duration, input: Input) -> Vec<Output> {
        match input {
            Input::Head(told) => self.told(now, told),
            Input::Said(said) => self.hears(now, said),
            Input::Unread(why) => self.say(now, true, why),
            Input::Tick => self.ticks(now),
            Input::Unattended => self.unattended = true,
            Input::LeftOut(why) => self.skip(now, &why),
            Input::Record(_) | Input::Ending | Input::Close => (),
        }
        let waits = matches!(self.doing, Doing::Waiting);
        self.situation.is((self.at, waits, self.checks.len()));
        std::mem::take(&mut self.out)
    }

    fn view(&self, now: Duration) -> View {
        self.shown(now)
    }
}
