//! What the page tells is kept, and may be what was asked.

use super::told::{Event, Phase, Told};
use super::{Kept, Proving};
use skimgauge_proof::plan::{Ask, HOLD_MS, line};
use skimgauge_proof::raw::{Asked, Came, Contact, Proof, Report};
use skimgauge_quantity::say;
use std::time::Duration;

/// More contacts than any proof has; what comes then is from something else.
const MOST_CONTACTS: usize = 15_000;
/// A contact longer than any line, parts of its path.
const MOST_PARTS: usize = 300_000;
/// Beyond what is judged a hold lasts so long, so that its settling may be left out.
const HOLD_MORE_MS: f64 = 300.0;
/// A browser's clock is at most so far before this program's, as it is followed.
const LEADS_MS: f64 = 2000.0;
/// So near a line's end counts as its end.
const AT_END_MM: f64 = 120.0;

impl Proving {
    pub(super) fn told(&mut self, now: Duration, told: Told) {
        if !told.sent_ms.is_finite() {
            return;
        }
        let now_ms = now.as_secs_f64() * 1000.0;
        let origin = *self.origin_ms.get_or_insert(told.sent_ms - now_ms);
        let sent_ms = (told.sent_ms - origin).max(0.0);
        // The least lag seen is the nearest to the truth; a clock that was set is followed.
        let ahead = sent_ms - now_ms;
        if ahead > self.ahead_ms || ahead < self.ahead_ms - 5000.0 {
            self.ahead_ms = ahead;
        }
        if let Some(seen) = told.window {
            self.window(seen.from(sent_ms));
        }
        for event in told.events {
            let at_ms = (event.at_ms - origin).max(0.0);
            self.event(now, at_ms, &event);
        }
    }

    fn window(&mut self, window: skimgauge_proof::raw::Window) {
        // A page that was loaded anew: nothing is down any more.
        self.down.clear();
        let windows = &mut self.proof.windows;
        let from_ms = windows.last().map_or(0.0, |last| window.from_ms.max(last.from_ms));
        let new = skimgauge_proof::raw::Window { from_ms, ..window };
        if !new.can_be() {
            return;
        }
        let same = windows.last().is_some_and(|last| {
            skimgauge_proof::raw::Window { from_ms: last.from_ms, ..new } == *last
        });
        if !same && windows.len() < 1000 {
            windows.push(new);
        }
    }

    fn event(&mut self, now: Duration, at_ms: f64, event: &Event) {
        // Nothing can be placed before the window is known.
        let Some(window) = self.proof.windows.last().copied() else { return };
        let first_ms = self.proof.asked.first().map_or(0.0, |asked| asked.from_ms);
        let at_ms = self.after_all(event, at_ms.min(self.ms(now) + LEADS_MS).max(first_ms));
        let report = Report {
            at_ms,
            x: event.x.clamp(0.0, window.width),
            y: event.y.clamp(0.0, window.height),
        };
        self.look(at_ms);
        match event.phase {
            Phase::Down => self.comes_down(event, report),
            Phase::Move => self.goes_on(event, report),
            Phase::Up | Phase::Cancel => {
                self.goes_on(event, report);
                if let Some(kept) = self.down.remove(&event.id) {
                    if let Some(contact) = self.kept(kept) {
                        contact.lifted = event.phase == Phase::Up;
                    }
                    if let Kept::Asked(asked, contact) = kept {
                        self.lifted(now, asked, contact, at_ms);
                    }
                }
            }
        }
        self.touched_ms = self.touched_ms.max(at_ms);
        self.look(at_ms);
    }

    /// A contact's times never run backwards, whatever a browser says.
    fn after_all(&mut self, event: &Event, at_ms: f64) -> f64 {
        let before = match self.down.get(&event.id).copied() {
            Some(kept) => self.kept(kept).map_or(0.0, |contact| contact.up_ms()),
            None => 0.0,
        };
        at_ms.max(before)
    }

    fn kept(&mut self, kept: Kept) -> Option<&mut Contact> {
        match kept {
            Kept::Asked(asked, contact) => {
                self.proof.asked.get_mut(asked)?.contacts.get_mut(contact)
            }
            Kept::Paused(contact) => self.proof.paused.get_mut(contact),
        }
    }

    fn comes_down(&mut self, event: &Event, report: Report) {
        let contacts = self.proof.paused.len()
            + self.proof.asked.iter().map(|asked| asked.contacts.len()).sum::<usize>();
        if contacts >= MOST_CONTACTS {
            return;
        }
        let mut contact = Contact::new(event.id, event.kind, report);
        size(&mut contact, event);
        // By its time: what came late, or from hands on their way off, is of what was asked then.
        let at = self.proof.asked.iter().rposition(|asked| asked.from_ms <= report.at_ms);
        let kept = match at.filter(|_| !self.paused) {
            Some(at) => {
                let contacts = &mut self.proof.asked[at].contacts;
                contacts.push(contact);
                Kept::Asked(at, contacts.len() - 1)
            }
            None => {
                self.proof.paused.push(contact);
                Kept::Paused(self.proof.paused.len() - 1)
            }
        };
        self.down.insert(event.id, kept);
    }

    fn goes_on(&mut self, event: &Event, report: Report) {
        let Some(kept) = self.down.get(&event.id).copied() else { return };
        let up = matches!(event.phase, Phase::Up | Phase::Cancel);
        if let Some(contact) = self.kept(kept).filter(|contact| contact.path.len() < MOST_PARTS) {
            contact.report(report);
            if !up {
                size(contact, event);
            }
        }
        if let Kept::Asked(asked, contact) = kept {
            self.held(asked, contact, report.at_ms);
        }
    }

    /// A contact that is held long enough: the next thing may be asked.
    fn held(&mut self, at: usize, contact: usize, at_ms: f64) {
        let Some(asked) = self.current().filter(|_| at + 1 == self.proof.asked.len()) else {
            return;
        };
        let Some(contact) = asked.contacts.get(contact) else { return };
        let long = at_ms - contact.down_ms() >= HOLD_MS + HOLD_MORE_MS;
        if matches!(asked.ask, Ask::Hold { .. }) && long && self.proof.is_answer(asked, contact) {
            self.done(at_ms, Came::Done);
        }
    }

    /// A contact was lifted: it may be what was asked.
    fn lifted(&mut self, now: Duration, at: usize, contact: usize, at_ms: f64) {
        let Some(asked) = self.current().filter(|_| at + 1 == self.proof.asked.len()) else {
            return;
        };
        let Some(contact) = asked.contacts.get(contact) else { return };
        let answers = self.proof.is_answer(asked, contact);
        match asked.ask {
            Ask::Mark { .. } if answers => self.done(at_ms, Came::Done),
            Ask::Mark { .. } => {
                self.tell(
                    now,
                    true,
                    say!("that was away from the mark, or a hand's side: tap the mark"),
                );
            }
            Ask::Hold { .. } if answers => {
                if at_ms - contact.down_ms() >= HOLD_MS {
                    self.done(at_ms, Came::Done);
                } else {
                    self.tell(
                        now,
                        true,
                        say!("lifted too soon, or lost: press again and hold for two seconds"),
                    );
                }
            }
            Ask::Stroke { .. } if went_there_and_back(&self.proof, asked) == 2 => {
                self.done(at_ms, Came::Done);
            }
            _ => (),
        }
    }
}

fn size(contact: &mut Contact, event: &Event) {
    contact.width = contact.width.max(event.width.clamp(0.0, 100_000.0));
    contact.pressure = contact.pressure.max(event.pressure.clamp(0.0, 1.0));
}

/// How much of a line was drawn: 0 less than one way, 1 to its far end, 2 there and back.
pub(super) fn went_there_and_back(proof: &Proof, asked: &Asked) -> u8 {
    let Ask::Stroke { stroke } = asked.ask else { return 0 };
    let Some((from, to)) = line(proof.image, proof.limits.inset, stroke) else { return 0 };
    let mut stage = 0;
    let mut begun = false;
    for contact in &asked.contacts {
        for report in contact.reports() {
            let at = proof.place(report);
            begun |= at.apart(from).0 <= AT_END_MM;
            if begun && stage == 0 && at.apart(to).0 <= AT_END_MM {
                stage = 1;
            }
            if stage == 1 && at.apart(from).0 <= AT_END_MM {
                return 2;
            }
        }
    }
    stage
}
