//! What a walk hears and says.

use super::certificate::{Certificate, Check, Found};
use super::step::Step;
use super::{APART, Birth, Doing, Link};
use crate::output::Output;
use crate::word::{Said, Word};
use skimgauge_quantity::{Name, Sentence, Tell, say};
use skimgauge_session::{Event, HeadIs, Told, Trouble};
use skimgauge_shared::message::Press;
use skimgauge_shared::reading::Sample;
use std::time::Duration;

/// A check in a line, with where to look; whether it is bad.
pub(super) fn found(check: &Check) -> (bool, Sentence) {
    let (name, says) = (check.check, check.says.clone());
    match (check.verdict, check.wire) {
        (Found::Fault, Some(wire)) => {
            (true, say!("FAULT {name}: {says} Look at: {}.", Name(&wire.look())))
        }
        (Found::Fault, None) => (true, say!("FAULT {name}: {says}")),
        (Found::NotSeen, _) => (false, say!("not seen {name}: {says}")),
        (Found::AsItShouldBe, _) => (false, say!("{name}: {says}")),
    }
}

/// The step that is to be made.
pub(super) fn step(at: usize, step: Step) -> Sentence {
    say!("Step {} of {}, {}. {}", at + 1, Step::ALL.len(), step.name(), step.asks())
}

/// Why a step was left out.
pub(super) fn left_out(why: &str) -> Sentence {
    match why.trim() {
        "" => say!("left out, no reason given"),
        why => say!("left out: {}", Name(why)),
    }
}

impl Birth {
    pub(super) fn told(&mut self, now: Duration, told: Told) {
        let now_s = now.as_secs_f64();
        match told {
            Told::Head(Event::Up(head)) => self.up(now, head),
            Told::Head(Event::Reading(arrived)) => {
                let at_s = arrived.arrival.as_secs_f64();
                self.observer.reading(&arrived.reading, arrived.placed, at_s);
                let Some(head) = &self.head else { return };
                let constants = &head.calibration.calibration;
                if let Doing::Gathering { evidence, .. } = &mut self.doing {
                    evidence.reading(&arrived.reading, constants);
                }
                if let Sample::Value(steps) = arrived.reading.tilt
                    && let Sample::Value(tilt) = constants.tilt(steps)
                {
                    let degrees = [tilt.level, tilt.lean].map(|tilt| f64::from(tilt.0) * 1e-6);
                    self.tilts.push((now, degrees));
                    // Only the last second is looked at.
                    self.tilts.retain(|(at, _)| now.saturating_sub(*at) < Duration::from_secs(1));
                }
            }
            Told::Head(Event::Pulse(pulse)) => {
                self.observer.pulse(&pulse, now_s);
                if let Doing::Gathering { evidence, .. } = &mut self.doing {
                    evidence.pulse(&pulse);
                }
            }
            Told::Head(Event::Sheet(sheet)) => self.observer.sheet(&sheet, now_s),
            Told::Head(Event::Profile { scan, .. }) => {
                if let Doing::Gathering { evidence, .. } = &mut self.doing {
                    evidence.scan(&scan);
                }
            }
            Told::Head(Event::Button(press, _)) => self.pressed(now, press),
            Told::Head(Event::RoundTrip { took, at }) => {
                self.observer.answered(at.seconds(), took.as_secs_f64(), now_s);
            }
            Told::Head(Event::ClockJumped) => {
                self.restarts += 1;
                self.observer.link_broken();
                self.again();
                self.say(now, true, say!("The head restarted."));
            }
            Told::Head(Event::Refused(why)) if matches!(self.link, Link::Greeting) => {
                let trouble = Trouble::Refused { port: self.begin.port.clone(), why };
                self.out.push(Output::End(Some(trouble)));
            }
            Told::Head(_) | Told::NotRecorded(_) => (),
            Told::Lost(trouble) => self.lost(now, trouble),
            Told::Counts(counts) => self.counts = counts,
            Told::End => self.out.push(Output::End(None)),
        }
    }

    fn up(&mut self, now: Duration, head: Box<HeadIs>) {
        self.observer.greeted(head.hello.serial);
        self.observer.calibrated(head.calibration.clone());
        let first = self.head.is_none();
        self.head = Some(head.clone());
        self.link = Link::Up(head);
        if first {
            self.goes_to(now, 0);
        }
    }

    fn lost(&mut self, now: Duration, trouble: Trouble) {
        if !matches!(&self.link, Link::Lost(known) if *known == trouble) {
            self.restarts += 1;
            self.say(now, true, trouble.tell());
        }
        self.observer.link_broken();
        self.again();
        self.link = Link::Lost(trouble);
    }

    /// What was being gathered is gathered anew.
    fn again(&mut self) {
        self.tilts.clear();
        if let Doing::Gathering { evidence, .. } = &mut self.doing {
            **evidence = Default::default();
        }
    }

    fn pressed(&mut self, now: Duration, press: Press) {
        match (self.step(), press) {
            (Some(Step::Button), Press::Short) => {
                self.found(now, vec![Check::good("button", say!("heard"))]);
            }
            (Some(Step::Button), Press::Long) => {
                self.say(now, true, say!("Let go of it, and press it shortly."));
            }
            (Some(step), Press::Short) if !step.is_question() => self.ready(now),
            _ => (),
        }
    }

    pub(super) fn hears(&mut self, now: Duration, said: Said) {
        if said.word == Word::Quit {
            return self.out.push(Output::End(None));
        }
        if self.situation.is_gone(said.seen) {
            let says = say!("Let go: it was meant for what stood here before. Look again.");
            return self.say(now, true, says);
        }
        if self.said.replace(now).is_some_and(|at| now.saturating_sub(at) < APART) {
            return;
        }
        let question = self.step().is_some_and(Step::is_question);
        match said.word {
            Word::Skip => self.skip(now, ""),
            Word::Back => self.back(now),
            Word::Yes if question => self.answered(now, true),
            Word::No if question => self.answered(now, false),
            Word::Ready | Word::Take => self.ready(now),
            _ => (),
        }
    }

    /// The step is left out, and why.
    pub(super) fn skip(&mut self, now: Duration, why: &str) {
        let Some(step) = self.step().filter(|step| *step != Step::Parts) else { return };
        let not = |name: &&'static str| Check::not_seen(name, left_out(why));
        self.found(now, step.checks().iter().map(not).collect());
    }

    /// Back to the last step that a person made, which is made anew.
    fn back(&mut self, now: Duration) {
        let made = |at: &usize| self.why_not(Step::ALL[*at]).is_none();
        let Some(at) = (0..self.at.min(Step::ALL.len())).rev().find(made) else { return };
        let gone: Vec<&str> = Step::ALL[at..].iter().map(|step| step.key()).collect();
        self.checks.retain(|check| !gone.contains(&check.step));
        self.goes_to(now, at);
    }

    fn answered(&mut self, now: Duration, yes: bool) {
        let (name, wire) = match self.step() {
            Some(Step::Lamp) => ("lamp", super::wiring::LAMP),
            Some(Step::Buzzer) => ("buzzer", super::wiring::BUZZER),
            _ => return,
        };
        let seen = if name == "lamp" { say!("seen") } else { say!("heard") };
        let check = if yes { Check::good(name, seen) } else { Check::fault(name, wire) };
        self.found(now, vec![check]);
    }
}

/// All of it in a sentence.
pub(super) fn over(certificate: &Certificate) -> Sentence {
    let count =
        |verdict: Found| certificate.checks.iter().filter(|check| check.verdict == verdict).count();
    match certificate.verdict {
        Found::AsItShouldBe => say!("Everything is as it should be."),
        Found::NotSeen => {
            say!("Nothing is at fault; checks that were not seen: {}.", count(Found::NotSeen))
        }
        Found::Fault => say!("Checks at fault: {}.", count(Found::Fault)),
    }
}
