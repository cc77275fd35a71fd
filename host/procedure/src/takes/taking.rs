//! When a press counts, and what a take needs.

use super::{EmitterTilt, Link, Takes};
use crate::output::Entry;
use crate::word::{Stop, Word};
use skimgauge_metrology::measure::{At, Coming, Live, NotTaken, Observer, Shown, Take};
use skimgauge_quantity::{Name, Sentence, say};
use skimgauge_shared::units::Microseconds;
use std::time::Duration;

/// As [`super::gate::APART`], on the head's clock.
const APART_ON_HEAD: Microseconds = Microseconds(super::gate::APART.as_micros() as u64);

impl Takes {
    /// A word for a take, or the head's button. `button`: when it was let go, on the head's clock.
    pub(super) fn press(&mut self, now: Duration, word: Word, button: Option<Microseconds>) {
        if !self.counts(now, button) {
            return;
        }
        match word {
            Word::Redo => self.again(now, button, false),
            Word::More => self.again(now, button, true),
            _ => self.take(now, button, false),
        }
    }

    /// Whether a word, or a press of the head's button, comes long enough after the last and while
    /// nothing is being saved; said if it does not.
    pub(crate) fn counts(&mut self, now: Duration, button: Option<Microseconds>) -> bool {
        // What the head pressed in one breath is one press, however late it is heard.
        let before = button.and_then(|at| self.button.replace(at));
        let bounces = before
            .zip(button)
            .is_some_and(|(before, at)| at.since(before) < APART_ON_HEAD && at >= before);
        if bounces {
            self.gate.shut(now);
        }
        if !self.gate.pass(now) {
            let says = say!("Let go: it came less than 0.7 s after the last. Press again.");
            self.say(now, true, says);
            return false;
        }
        !self.lets_go_while_saving(now)
    }

    /// Whether something is on its way into the record; it is said that what was pressed is let go.
    pub(super) fn lets_go_while_saving(&mut self, now: Duration) -> bool {
        let Some(what) = self.busy() else { return false };
        let says = say!("Let go: {what} is still being saved. Press again when it is.");
        self.say(now, true, says);
        true
    }

    fn again(&mut self, now: Duration, button: Option<Microseconds>, beside: bool) {
        let stands_there = self.arrival.keeps_seat();
        if self.asked.is_none() && self.stations.back_to_last() && (beside || !stands_there) {
            let name = Name(self.stations.name());
            let says = if beside {
                say!("Back at {name}: lift the head, clip it on there again, then take one more.")
            } else {
                say!("Back at {name}: the head was moved since. Put it there, then redo.")
            };
            self.say(now, false, says);
            return;
        }
        self.take(now, button, beside);
    }

    /// A good take of what the head says now, or just before its button was pressed.
    fn made(
        observer: &mut Observer,
        now: Duration,
        button: Option<Microseconds>,
    ) -> Result<Take, NotTaken> {
        let now_s = now.as_secs_f64();
        match button {
            Some(released) => observer.take_by_button(now_s, released),
            None => observer.take(now_s),
        }
    }

    pub(super) fn take(&mut self, now: Duration, button: Option<Microseconds>, beside: bool) {
        let Link::Up(head) = &self.link else {
            return self.refuse(now, say!("the head is not connected"));
        };
        let head = head.clone();
        let station = match self.stations.stop() {
            Stop::Station(station) => station,
            Stop::Emitter => return self.take_tilt(now, false),
        };
        let at = At::Station(self.stations.name().to_owned());
        let beside = beside && self.stations.here().is_some();
        if beside && !matches!(self.arrival.to(&at), Coming::First | Coming::Seen) {
            let why = say!(
                "the head still stands as it did. Lift it off the board, clip it on again, then take one more."
            );
            return self.refuse(now, why);
        }
        // A question is worth asking only about what could be taken.
        if let Err(why) = Self::made(&mut self.observer.clone(), now, button) {
            self.asked = None;
            let why = self.why_not(now, why, &self.live(now));
            return self.refuse(now, why);
        }
        let Some(came) = self.came(now, &at) else { return };
        let Ok(take) = Self::made(&mut self.observer, now, button) else { return };
        let supersedes = self.stations.here().filter(|_| !beside).and_then(|kept| kept.event);
        let Some(mut kept) = self.stations.with(station, take, beside, self.job.bands.gap) else {
            return;
        };
        kept.came = came;
        self.arrival.stands(at);
        let Some(place) = self.stations.station().cloned() else { return };
        let told = self.stations.told_with(station, &kept, &self.job, &self.board);
        let kept = Box::new(kept);
        self.hold(now, Entry::Take { at: station, station: place, kept, told, supersedes, head });
    }

    pub(super) fn refuse(&mut self, now: Duration, why: Sentence) {
        self.say(now, true, say!("NOT taken: {why}"));
    }

    /// `said_on`: the user was asked, and says that the head is on the emitter.
    pub(super) fn take_tilt(&mut self, now: Duration, said_on: bool) {
        let Link::Up(head) = &self.link else { return };
        let head = head.clone();
        let live = self.live(now);
        let (level_deg, lean_deg, u_deg) = match (live.level_deg, live.lean_deg) {
            (
                Shown::Good { value: level_deg, u: u_level },
                Shown::Good { value: lean_deg, u: u_lean },
            ) => (level_deg, lean_deg, u_level.max(u_lean)),
            (level, lean) => {
                let why = level.why().or(lean.why()).map_or_else(
                    || say!("the tilt is not known"),
                    |why| say!("{} {}", why.sentence(), why.remedy()),
                );
                return self.refuse(now, why);
            }
        };
        let Some(came) = self.came_to_emitter(now, said_on) else { return };
        if !self.observer.level_rests() {
            let why = say!(
                "the head turns. Hold it still on the emitter for half a second, then take its tilt."
            );
            return self.refuse(now, why);
        }
        self.arrival.stands(At::Emitter);
        let own_u_deg = live.tilt_own_u_deg.unwrap_or(u_deg);
        let tilt = EmitterTilt { level_deg, lean_deg, u_deg, own_u_deg };
        self.hold(now, Entry::Tilt { tilt, came, head });
    }

    /// The station that is due, where the head was last known to stand elsewhere.
    pub(super) fn still_at(&self) -> Option<&At> {
        let due = self.stations.station()?;
        self.arrival.stays_at().filter(|at| **at != At::Station(due.name.clone()))
    }

    /// Whether nothing is known of where the head stands: its next take is the first.
    fn is_first(&self) -> bool {
        let at = At::Station(self.stations.name().to_owned());
        self.arrival.to(&at) == Coming::First
    }

    /// What to do now, in one instruction.
    pub(super) fn instruction(&self, now: Duration, live: &Live) -> Sentence {
        let name = Name(self.stations.name());
        match (self.stations.stop(), &live.can_take) {
            _ if self.busy().is_some() => say!("wait until it is saved"),
            (Stop::Emitter, _) if self.arrival.is_off() => {
                say!("hold the head still on the emitter, then take its tilt")
            }
            (Stop::Emitter, _) => say!("lift the head off the board and hold it on the emitter"),
            (Stop::Station(_), _) if self.still_at().is_some() => say!("put the head at {name}"),
            // Of the first nobody has seen it come.
            (Stop::Station(_), Ok(())) if self.is_first() => {
                say!("settled: take it, if the head stands at {name}")
            }
            (Stop::Station(_), Ok(())) => say!("settled: take it"),
            (Stop::Station(_), Err(why)) => self.why_not(now, *why, live),
        }
    }

    /// The station with its place on the board.
    pub(super) fn place(&self) -> skimgauge_model::Place {
        self.stations
            .station()
            .map_or(skimgauge_model::Place::Emitter, |station| station.clone().into())
    }
}
