//! Whether the head has come to where something is to be taken: seen, or asked of the user.

use super::Takes;
use crate::output::Message;
use crate::word::{Stop, Word};
use skimgauge_metrology::measure::{At, Came, Coming, Sign};
use skimgauge_quantity::{Name, Sentence, say};
use skimgauge_shared::units::Microseconds;
use std::time::Duration;

/// A question waits so long for its answer.
const ANSWER_WITHIN: Duration = Duration::from_secs(8);

/// The user was asked whether the head is where it was not seen to come.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Asked {
    pub(super) at: At,
    pub(super) asks: Sentence,
    pub(super) until: Duration,
    /// The user said yes to it.
    agreed: bool,
}

impl Asked {
    /// The word that means yes: never that for a take.
    pub(super) fn yes(&self) -> Word {
        match self.at {
            At::Station(_) => Word::Yes,
            At::Emitter => Word::Go(Stop::Emitter),
        }
    }
}

/// A place at the end of `is it …?`.
fn name(at: &At) -> Sentence {
    match at {
        At::Station(name) => say!("{}", Name(name)),
        At::Emitter => say!("the emitter"),
    }
}

impl Takes {
    /// A question about a station is answered with yes: by a word of its own, so that whoever
    /// presses on and on in impatience has answered nothing. Whether one was asked.
    pub(super) fn answered_yes(&mut self, now: Duration, button: Option<Microseconds>) -> bool {
        if !self.agrees(now) {
            return false;
        }
        if !self.lets_go_while_saving(now) {
            self.take(now, button, false);
        }
        true
    }

    /// The same for who asked with [`Self::stands_at`], and asks again now.
    pub(crate) fn agrees(&mut self, now: Duration) -> bool {
        let asked = self.asked.as_mut().filter(|a| a.at != At::Emitter && now <= a.until);
        let Some(asked) = asked else { return false };
        asked.agreed = true;
        true
    }

    /// A question is answered with no, or not at all.
    pub(crate) fn answered_no(&mut self, now: Duration) {
        if let Some(asked) = self.asked.take() {
            let says = say!("Nothing is taken: put the head at {} first.", name(&asked.at));
            self.say(now, true, says);
        }
    }

    /// Whether the head may be taken to stand at a station by now, because it was seen to come or
    /// because the user says so when asked. From then on it is known to stand there.
    pub(crate) fn stands_at(&mut self, now: Duration, at: At) -> bool {
        let came = self.came(now, &at);
        if came.is_some() {
            self.arrival.stands(at);
        }
        came.is_some()
    }

    /// How it is known that the head is at a place; `None`: it is not, and the user was asked.
    pub(super) fn came(&mut self, now: Duration, at: &At) -> Option<Came> {
        let yes = self
            .asked
            .take()
            .is_some_and(|asked| asked.agreed && asked.at == *at && now <= asked.until);
        let unkept = self.unkept.take();
        let (from, sign) = match self.arrival.to(at) {
            Coming::First => return Some(Came::First),
            Coming::Seen => return Some(Came::Seen),
            Coming::Same => return Some(unkept.unwrap_or(Came::Same)),
            Coming::Unseen { from, .. } if yes => return Some(Came::Said { from }),
            Coming::Unseen { from, sign } => (from, sign),
        };
        let (there, here) = (name(&from), name(at));
        let asks = match sign {
            Sign::Still => say!("The head has not moved since {there}: is it at {here}?"),
            Sign::Moved => say!(
                "The head moved since {there}, but was not lifted off the board: is it at {here}?"
            ),
            Sign::Blind => {
                say!("Nobody saw what became of the head since {there}: is it at {here}?")
            }
        };
        self.ask(now, at.clone(), asks);
        None
    }

    fn ask(&mut self, now: Duration, at: At, asks: Sentence) {
        let asked = Asked { at, asks: asks.clone(), until: now + ANSWER_WITHIN, agreed: false };
        self.say_asking(now, Message { says: asks, bad: true, answers: vec![asked.yes()] });
        self.asked = Some(asked);
    }

    /// Whether the user says that the head is on the emitter, which was asked: then its tilt is
    /// taken.
    pub(super) fn is_on_emitter(&mut self, now: Duration, word: Word) -> bool {
        let asked =
            self.asked.as_ref().is_some_and(|asked| asked.at == At::Emitter && now <= asked.until);
        if !asked || word != Word::Go(Stop::Emitter) {
            return false;
        }
        self.asked = None;
        if self.counts(now, None) {
            self.take_tilt(now, true);
        }
        true
    }

    /// As [`Self::came`], for the emitter: a head that stands there does not see the board.
    /// `said_on`: the user was asked, and says that it is there.
    pub(super) fn came_to_emitter(&mut self, now: Duration, said_on: bool) -> Option<Came> {
        self.asked = None;
        let coming = self.arrival.to(&At::Emitter);
        let left = self.arrival.has_left() || coming == Coming::Same;
        if self.arrival.is_off() {
            return Some(match coming {
                Coming::First => Came::First,
                Coming::Same => self.unkept.take().unwrap_or(Came::Same),
                Coming::Seen | Coming::Unseen { .. } => Came::Seen,
            });
        }
        if left && said_on {
            let from = if let Coming::Unseen { from, .. } = coming { from } else { At::Emitter };
            return Some(Came::Said { from });
        }
        if left {
            // Off the board and on something again: an emitter may carry the spot as a board does.
            // No press for a take answers this, for whoever presses again and again
            // means a station.
            let asks = say!(
                "NOT taken: the laser sees a surface, so the head is not on the emitter. Is it there all the same?"
            );
            self.ask(now, At::Emitter, asks);
            return None;
        }
        let why = say!(
            "the head still stands at the board. Lift it off, hold it on the emitter, keep it still, then take its tilt."
        );
        self.refuse(now, why);
        None
    }
}
