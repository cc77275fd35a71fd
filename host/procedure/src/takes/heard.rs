//! What the head sends, and what becomes of its link.

use super::{Link, Takes};
use crate::output::Output;
use crate::word::Word;
use skimgauge_quantity::{Name, Tell, say};
use skimgauge_session::{Event, HeadIs, Refused, Told, Trouble};
use skimgauge_shared::light::Light;
use skimgauge_shared::message::Press;
use std::time::Duration;

impl Takes {
    pub(super) fn told(&mut self, now: Duration, told: Told) {
        match told {
            Told::Lost(trouble) => self.lost(now, trouble),
            Told::Counts(counts) => self.counts = counts,
            Told::NotRecorded(why) => {
                let says = say!(
                    "The recording ends here: it cannot be written ({}). Takes go on.",
                    Name(&why)
                );
                self.say(now, true, says);
            }
            Told::End => {
                self.say(now, false, say!("The recording is at its end."));
                self.out.push(Output::End(None));
            }
            Told::Head(event) => self.heard(now, event),
        }
    }

    fn lost(&mut self, now: Duration, trouble: Trouble) {
        self.arrival.blind();
        if let Trouble::Refused { why, .. } = &trouble
            && matches!(why, Refused::Protocol { .. } | Refused::NotAHead { .. })
            && !matches!(self.link, Link::Lost(_))
        {
            self.out.push(Output::End(Some(trouble)));
            return;
        }
        self.let_go_of_held(now);
        if !matches!(&self.link, Link::Lost(known) if *known == trouble) {
            self.say(now, true, trouble.tell());
        }
        self.observer.link_broken();
        self.link = Link::Lost(trouble);
    }

    fn heard(&mut self, now: Duration, event: Event) {
        let now_s = now.as_secs_f64();
        match event {
            Event::Up(head) => self.up(now, head),
            Event::Same => self.it_is_the_same(),
            Event::Reading(arrived) => {
                let (reading, at_s) = (&arrived.reading, arrived.placed.position.at.seconds());
                self.observer.reading(reading, arrived.placed, arrived.arrival.as_secs_f64());
                self.arrival.reading(reading.stand_off.absence(), at_s);
                if reading.stand_off.value().is_some() {
                    let sheet = reading.middle.value().is_some() && reading.state.fault().is_none();
                    self.follow_pointer(now, sheet && reading.state.light() == Light::Seen);
                }
                if std::mem::replace(&mut self.moves, self.observer.moves()) < self.moves {
                    self.arrival.moved();
                }
            }
            Event::Sheet(sheet) => self.observer.sheet(&sheet, now_s),
            Event::Pulse(pulse) => self.observer.pulse(&pulse, now_s),
            Event::Button(..) if self.asks_as_left().is_some() => {
                self.say(now, true, say!("Answer first: is everything as it was left?"));
            }
            Event::Button(Press::Short, at) => self.press(now, Word::Take, Some(at)),
            Event::Button(Press::Long, at) => {
                if !self.answered_yes(now, Some(at)) {
                    self.press(now, Word::Redo, Some(at));
                }
            }
            Event::RoundTrip { took, at } => {
                self.observer.answered(at.seconds(), took.as_secs_f64(), now_s);
            }
            Event::ClockJumped => {
                self.observer.link_broken();
                self.arrival.blind();
                self.let_go_of_held(now);
                let says = say!(
                    "The head's clock jumped: it restarted, or this computer slept. Let it settle again."
                );
                self.say(now, true, says);
            }
            Event::LastWords(words) => {
                let says = say!(
                    "The head had restarted by itself after a fault at {}. Please report it.",
                    Name(&words)
                );
                self.say(now, true, says);
            }
            Event::Refused(why) => {
                // Plugged back in, a port may need a moment; the first time it is an answer.
                if matches!(self.link, Link::Greeting) {
                    let trouble = Trouble::Refused { port: self.port.clone(), why };
                    self.out.push(Output::End(Some(trouble)));
                }
            }
            Event::Codes(_)
            | Event::Profile { .. }
            | Event::Answer(..)
            | Event::Log(_)
            | Event::Skipped { .. } => (),
        }
    }

    fn up(&mut self, now: Duration, head: Box<HeadIs>) {
        if let Some(trouble) = self.not_the_jobs(&head) {
            self.out.push(Output::End(Some(trouble)));
            return;
        }
        if matches!(self.link, Link::Lost(_)) {
            let says = match head.hello.serial {
                Some(serial) => say!("{} is back.", serial.to_string()),
                None => say!("The head is back."),
            };
            self.say(now, false, says);
        } else if matches!(self.link, Link::Greeting)
            && let Some(says) = self.says_of_near_band()
        {
            self.say(now, true, says);
        }
        self.is_simulated |= head.hello.is_simulated();
        self.looks_at_constants(now, &head);
        self.looks_where_zeroed(now, &head);
        self.observer.greeted(head.hello.serial);
        self.observer.calibrated(head.calibration.clone());
        self.link = Link::Up(head);
    }

    /// Why this head may not be used: the job file asks for another.
    fn not_the_jobs(&self, head: &HeadIs) -> Option<Trouble> {
        let wanted = self.job.head.as_ref()?.serial.trim();
        let found = head.hello.serial.map(|serial| serial.to_string());
        let same = found.as_ref().is_some_and(|found| found.eq_ignore_ascii_case(wanted));
        (!same).then(|| Trouble::NotTheJobs {
            port: self.port.clone(),
            found,
            wanted: wanted.to_owned(),
        })
    }
}
