//! What was read of a simulated head. It says so in its greeting, and what it is called says so too,
//! which stands with all that is read of it; what has no head beside it has a mark of its own, or
//! follows the head that was last in use.
//!
//! A job that only simulated heads read is a practice: it is shown as one. In a job that a real head
//! read, nothing of a practice counts.

use crate::JobHistory;
use crate::chain::Hash;
use crate::event::{Body, Head};
use crate::history::Event;
use crate::section::{Section, Tool};
use skimgauge_shared::identity::SerialNumber;
use std::collections::HashSet;

/// Whether this is a simulated head's serial number.
pub fn is_simulated(serial: &str) -> bool {
    serial.starts_with(SerialNumber::SHOWN_SIMULATED)
}

/// Which heads read a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heads {
    /// None.
    None,
    /// Simulated ones alone.
    Simulated,
    /// A real one, whatever others.
    Real,
}

impl Head {
    /// Whether it is simulated.
    pub fn is_simulated(&self) -> bool {
        is_simulated(&self.serial)
    }
}

/// The head that an event names.
fn head(body: &Body) -> Option<&Head> {
    match body {
        Body::CalibrationUsed(used) => Some(&used.head),
        Body::Take(take) => Some(&take.head),
        Body::EmitterTilt(tilt) => Some(&tilt.head),
        Body::EmitterOff(off) => Some(&off.head),
        Body::Calibrated(found) => Some(&found.head),
        Body::ZeroChecked(checked) => Some(&checked.head),
        Body::Section(Section::Level(level)) => match &level.tool {
            Tool::Head(head) => Some(head),
            Tool::Own(_) => None,
        },
        _ => None,
    }
}

/// Which heads read what these events tell of.
pub fn heads(events: &[Event]) -> Heads {
    let all = || events.iter().filter_map(|event| head(&event.body));
    if all().any(|head| !head.is_simulated()) {
        Heads::Real
    } else if all().next().is_some() {
        Heads::Simulated
    } else {
        Heads::None
    }
}

/// Of each event whether it is of a practice with a simulated head.
pub fn simulated(events: &[Event]) -> Vec<bool> {
    let mut in_use = false;
    let mut taken: HashSet<Hash> = HashSet::new();
    let of = |event: &Event| {
        if let Some(head) = head(&event.body) {
            in_use = head.is_simulated();
            if in_use {
                taken.insert(event.hash);
            }
            return in_use;
        }
        match &event.body {
            Body::Judged(judged) => judged.simulated,
            Body::Section(Section::Survey(survey)) => survey.simulated,
            Body::Section(Section::Touch(touch)) => touch.made["simulated"] == true,
            Body::AsLeft(left) => left.takes.iter().chain(&left.tilt).any(|h| taken.contains(h)),
            Body::StruckOut(struck) => struck.takes.iter().any(|hash| taken.contains(hash)),
            Body::TurnAdvised(_) | Body::TurnObserved(_) | Body::Touched(_) => in_use,
            _ => false,
        }
    };
    events.iter().map(of).collect()
}

impl JobHistory {
    /// Which heads read it.
    pub fn heads(&self) -> Heads {
        heads(&self.events)
    }

    /// What counts: without what was only practised, where a real head read anything.
    #[must_use]
    pub fn without_practice(mut self) -> Self {
        if self.heads() == Heads::Real {
            let simulated = simulated(&self.events);
            let mut simulated = simulated.iter();
            self.events.retain(|_| !simulated.next().is_some_and(|simulated| *simulated));
        }
        self
    }
}
