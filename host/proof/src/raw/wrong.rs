//! What a proof says that cannot be.

use super::{Asked, Contact, FORM, Proof, Window};
use skimgauge_quantity::{Sentence, say};

/// More than a proof has.
const MOST_ASKED: usize = 2000;
const MOST_CONTACTS: usize = 20_000;
const MOST_STEPS: usize = 2_000_000;
/// Longest time that a proof takes, ms: a day.
const LONGEST_MS: f64 = 86_400_000.0;

impl Proof {
    /// What it says that cannot be; `None` where it can be judged.
    pub fn wrong(&self) -> Option<Sentence> {
        if self.form != FORM {
            return Some(say!("it has form {}, and this program reads form {}", self.form, FORM));
        }
        if self.image.checked().is_err() {
            return Some(say!("its image cannot be"));
        }
        if !self.limits.can_be() {
            return Some(say!("its limits cannot be"));
        }
        if self.windows.is_empty() || !self.windows.iter().all(Window::can_be) {
            return Some(say!("its window cannot be"));
        }
        if self.windows.windows(2).any(|pair| pair[1].from_ms < pair[0].from_ms) {
            return Some(say!("its windows stand in no order"));
        }
        if self.left_out.iter().any(|mark| usize::from(*mark) >= crate::marks::MARKS) {
            return Some(say!("a mark is left out that there is not"));
        }
        if self
            .gaps
            .iter()
            .any(|gap| !((0.0..=1000.0).contains(&gap.gap.0) && (0.0..=100.0).contains(&gap.u.0)))
        {
            return Some(say!("a gap in it cannot be"));
        }
        let mut sizes =
            (self.paused.len(), self.paused.iter().map(|c| c.path.len()).sum::<usize>());
        for asked in &self.asked {
            sizes.0 += asked.contacts.len();
            sizes.1 += asked.contacts.iter().map(|contact| contact.path.len()).sum::<usize>();
        }
        if let Some(why) = self.paused.iter().find_map(|contact| self.wrong_contact(contact, 0.0)) {
            return Some(say!("in a pause: {why}"));
        }
        if self.asked.len() > MOST_ASKED || sizes.0 > MOST_CONTACTS || sizes.1 > MOST_STEPS {
            return Some(say!("it is longer than any proof"));
        }
        let mut before = f64::NEG_INFINITY;
        for (asked, number) in self.asked.iter().zip(1u32..) {
            if let Some(why) = self.wrong_with(asked, before) {
                return Some(say!("what was asked as number {number}: {why}"));
            }
            before = asked.from_ms;
        }
        None
    }

    fn wrong_with(&self, asked: &Asked, before: f64) -> Option<Sentence> {
        if !asked.ask.can_be(self.image) {
            return Some(say!("it cannot be asked"));
        }
        let in_order = asked.from_ms >= before && asked.to_ms >= asked.from_ms;
        if !in_order || asked.to_ms > LONGEST_MS || asked.from_ms < 0.0 {
            return Some(say!("its times cannot be"));
        }
        asked.contacts.iter().find_map(|contact| self.wrong_contact(contact, asked.from_ms))
    }

    fn wrong_contact(&self, contact: &Contact, from_ms: f64) -> Option<Sentence> {
        if contact.path.is_empty() || !contact.path.len().is_multiple_of(3) {
            return Some(say!("a contact has no place"));
        }
        let numbers = [contact.width, contact.pressure];
        if !numbers.into_iter().all(|number| (0.0..=100_000.0).contains(&number)) {
            return Some(say!("a contact's size cannot be"));
        }
        let mut last_ms = f64::NEG_INFINITY;
        for report in contact.reports() {
            let window = self.window_at(report.at_ms);
            let there = (-1.0..=window.width + 1.0).contains(&report.x)
                && (-1.0..=window.height + 1.0).contains(&report.y);
            if !there {
                return Some(say!("a contact is beside the screen"));
            }
            if report.at_ms < last_ms || report.at_ms < from_ms - 60_000.0 {
                return Some(say!("a contact's times go backwards"));
            }
            if report.at_ms > LONGEST_MS {
                return Some(say!("a contact's times cannot be"));
            }
            last_ms = report.at_ms;
        }
        None
    }
}
