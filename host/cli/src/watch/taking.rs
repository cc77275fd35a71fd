//! Taking: when a press counts, whether the head has come to the station, and who is asked before a
//! take is kept.

use super::stations::{EmitterTilt, Place};
use super::{Effect, Link, Said, Watch};
use skimgauge_metrology::measure::{At, Came, Coming, Live, Observer, Shown, Sign};
use skimgauge_shared::message::{PROTOCOL, Request};
use skimgauge_shared::units::Microseconds;
use std::time::Duration;

/// As [`super::gate::APART`], on the head's clock.
const APART_ON_HEAD: Microseconds = Microseconds(super::gate::APART.as_micros() as u64);
/// A question waits so long for its answer.
const ANSWER_WITHIN: Duration = Duration::from_secs(8);
/// A head that is asked who it is answers within so much; it is asked this often.
const WHO_WITHIN: Duration = Duration::from_millis(1_500);
const WHO_EVERY: Duration = Duration::from_millis(250);

/// The user was asked whether the head is where it was not seen to come.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Asked {
    at: At,
    text: String,
    pub(super) until: Duration,
    /// The user said yes to it.
    agreed: bool,
}

/// A take that waits for the head to say who it is.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Held {
    pub(super) effect: Effect,
    what: String,
    until: Duration,
    again_at: Duration,
}

impl Watch {
    /// What is being taken or stored just now: keys and presses are let go meanwhile.
    pub fn busy(&self) -> Option<&str> {
        self.held.as_ref().map(|held| held.what.as_str()).or(self.storing.as_deref())
    }

    /// Whether a take waits for the head to say who it is.
    pub fn waits_for_head(&self) -> bool {
        self.held.is_some()
    }

    /// The question that waits for an answer.
    pub fn question(&self) -> Option<&str> {
        self.asked.as_ref().map(|asked| asked.text.as_str())
    }

    /// Where the head stands as far as anybody saw, where that is not the station that is due.
    pub fn still_at(&self) -> Option<&str> {
        let due = self.stations.station()?;
        self.arrival.stays_at().filter(|at| **at != At::Station(due.name.clone())).map(At::name)
    }

    /// What to do now, in a few words.
    pub fn hint(&self, live: &Live) -> String {
        let name = self.stations.name();
        match (self.stations.place(), &live.can_take) {
            _ if self.busy().is_some() => "wait until it is saved".to_owned(),
            (Place::Emitter, _) if self.arrival.is_off() => {
                "hold the head still on the emitter, then take its tilt".to_owned()
            }
            (Place::Emitter, _) => {
                "lift the head off the board and hold it on the emitter".to_owned()
            }
            (Place::Station(_), _) if self.still_at().is_some() => {
                format!("put the head at {name}")
            }
            (Place::Station(_), Ok(())) => "settled: take it".to_owned(),
            (Place::Station(_), Err(why)) => why.to_string(),
        }
    }

    /// A key, a word or the head's button. `button`: when it was let go, on the head's clock.
    pub(super) fn press(
        &mut self,
        now: Duration,
        said: &Said,
        button: Option<Microseconds>,
    ) -> Vec<Effect> {
        // What the head pressed in one breath is one press, however late it is heard.
        let before = button.and_then(|at| self.button.replace(at));
        let bounces = before
            .zip(button)
            .is_some_and(|(before, at)| at.since(before) < APART_ON_HEAD && at >= before);
        if bounces {
            self.gate.shut(now);
        }
        if !self.counts_as_press(now) || self.lets_go_while_storing(now) {
            return Vec::new();
        }
        match said {
            Said::Redo => self.again(now, button, false),
            Said::More => self.again(now, button, true),
            _ => self.take(now, button, false),
        }
    }

    /// Whether a press or word comes long enough after the last one; said if it does not.
    pub fn counts_as_press(&mut self, now: Duration) -> bool {
        let passes = self.gate.pass(now);
        if !passes {
            self.say(
                now,
                true,
                "Let go: it came less than 0.7 s after the last. Press again.".to_owned(),
            );
        }
        passes
    }

    /// Whether something is on its way into the record; it is said that what was pressed is let go.
    pub fn lets_go_while_storing(&mut self, now: Duration) -> bool {
        let Some(what) = self.busy() else { return false };
        let text = format!("Let go: {what} is still being saved. Press again when it is.");
        self.say(now, true, text);
        true
    }

    /// A question about a station is answered with yes: by a word of its own, so that whoever
    /// presses on and on in impatience has answered nothing. `None` where nothing was asked.
    pub(super) fn answered_yes(
        &mut self,
        now: Duration,
        button: Option<Microseconds>,
    ) -> Option<Vec<Effect>> {
        let asked =
            self.asked.as_mut().filter(|asked| asked.at != At::Emitter && now <= asked.until)?;
        asked.agreed = true;
        if self.lets_go_while_storing(now) {
            return Some(Vec::new());
        }
        Some(self.take(now, button, false))
    }

    /// A question is answered with no, or not at all.
    pub fn answered_no(&mut self, now: Duration) {
        if let Some(asked) = self.asked.take() {
            let text = format!("Nothing is taken: put the head at {} first.", asked.at.name());
            self.say(now, true, text);
        }
    }

    /// Whether the head may be taken to stand at a station by now, because it was seen to come or
    /// because the user says so when asked. From then on it is known to stand there.
    pub fn stands_at(&mut self, now: Duration, at: At) -> bool {
        let came = self.came(now, &at);
        if came.is_some() {
            self.arrival.stands(at);
        }
        came.is_some()
    }

    /// How it is known that the head is at a place; `None`: it is not, and the user was asked.
    fn came(&mut self, now: Duration, at: &At) -> Option<Came> {
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
        let (there, here) = (from.name(), at.name());
        let seen = match sign {
            Sign::Still => format!("The head has not moved since {there}"),
            Sign::Moved => {
                format!("The head moved since {there}, but was not lifted off the board")
            }
            Sign::Blind => format!("Nobody saw what became of the head since {there}"),
        };
        let text = format!("{seen}: is it at {here}? ({})", self.ways.yes());
        self.say(now, true, text.clone());
        self.asked =
            Some(Asked { at: at.clone(), text, until: now + ANSWER_WITHIN, agreed: false });
        None
    }

    fn again(&mut self, now: Duration, button: Option<Microseconds>, beside: bool) -> Vec<Effect> {
        let stands_there = self.arrival.keeps_seat();
        if self.presses.is_none()
            && self.asked.is_none()
            && self.stations.back_to_last()
            && (beside || !stands_there)
        {
            let name = self.stations.name();
            let text = if beside {
                format!(
                    "Back at {name}: lift the head, clip it on there again, then take one more."
                )
            } else {
                format!("Back at {name}: the head was moved since. Put it there, then redo.")
            };
            self.say(now, false, text);
            return Vec::new();
        }
        self.take(now, button, beside)
    }

    fn take(&mut self, now: Duration, button: Option<Microseconds>, beside: bool) -> Vec<Effect> {
        if let Some(presses) = &mut self.presses {
            *presses += 1;
            return Vec::new();
        }
        if !matches!(self.link, Link::Up(_)) {
            self.say(now, true, "NOT taken: the head is not connected".to_owned());
            return Vec::new();
        }
        let station = match self.stations.place() {
            Place::Station(station) => station,
            Place::Emitter => return self.take_tilt(now, false),
        };
        let at = At::Station(self.stations.name().to_owned());
        let beside = beside && self.stations.here().is_some();
        if beside && !matches!(self.arrival.to(&at), Coming::First | Coming::Seen) {
            let text = "NOT taken: the head still stands as it did. Lift it off the board, clip it on again, then take one more.";
            self.say(now, true, text.to_owned());
            return Vec::new();
        }
        let now_s = now.as_secs_f64();
        let takes = |observer: &mut Observer| match button {
            Some(released) => observer.take_by_button(now_s, released),
            None => observer.take(now_s),
        };
        // A question is worth asking only about what could be taken.
        if let Err(why) = takes(&mut self.observer.clone()) {
            self.asked = None;
            self.say(now, true, format!("NOT taken: {why}"));
            return Vec::new();
        }
        let Some(came) = self.came(now, &at) else { return Vec::new() };
        let Ok(take) = takes(&mut self.observer) else { return Vec::new() };
        let supersedes = self.stations.here().filter(|_| !beside).and_then(|kept| kept.event);
        let Some(mut kept) = self.stations.with(station, take, beside, self.job.bands.gap) else {
            return Vec::new();
        };
        kept.came = came;
        let what = at.name().to_owned();
        self.arrival.stands(at);
        self.hold(now, what, Effect::Keep { station, kept: Box::new(kept), supersedes })
    }

    /// Whether the user says that the head is on the emitter, which was asked: then its tilt is
    /// taken.
    pub(super) fn is_on_emitter(&mut self, now: Duration, said: &Said) -> Option<Vec<Effect>> {
        let asked =
            self.asked.as_ref().is_some_and(|asked| asked.at == At::Emitter && now <= asked.until);
        let yes = matches!(said, Said::Go(to) if *to >= self.stations.rows().len());
        if !asked || !yes {
            return None;
        }
        self.asked = None;
        if !self.counts_as_press(now) || self.lets_go_while_storing(now) {
            return Some(Vec::new());
        }
        Some(self.take_tilt(now, true))
    }

    fn take_tilt(&mut self, now: Duration, said_on: bool) -> Vec<Effect> {
        let live = self.live(now);
        let (level_deg, lean_deg, u_deg) = match (live.level_deg, live.lean_deg) {
            (
                Shown::Good { value: level_deg, u: u_level },
                Shown::Good { value: lean_deg, u: u_lean },
            ) => (level_deg, lean_deg, u_level.max(u_lean)),
            (level, lean) => {
                let why = level.why().or(lean.why());
                let text = why.map_or("the tilt is not known".to_owned(), |why| {
                    format!("{} {}", why.sentence(), why.remedy())
                });
                self.say(now, true, format!("NOT taken: {text}"));
                return Vec::new();
            }
        };
        let Some(came) = self.came_to_emitter(now, said_on) else { return Vec::new() };
        if !self.observer.level_rests() {
            let text = "NOT taken: the head turns. Hold it still on the emitter for half a second, then take its tilt.";
            self.say(now, true, text.to_owned());
            return Vec::new();
        }
        self.arrival.stands(At::Emitter);
        self.hold(
            now,
            "the emitter's tilt".to_owned(),
            Effect::KeepTilt(EmitterTilt { level_deg, lean_deg, u_deg }, came),
        )
    }

    /// As [`Self::came`], for the emitter: a head that stands there does not see the board.
    /// `said_on`: the user was asked, and says that it is there.
    fn came_to_emitter(&mut self, now: Duration, said_on: bool) -> Option<Came> {
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
            let on = self.ways.on_emitter();
            let text = format!(
                "NOT taken: the laser sees a surface, so the head is not on the emitter; {on}."
            );
            self.say(now, true, text.clone());
            self.asked =
                Some(Asked { at: At::Emitter, text, until: now + ANSWER_WITHIN, agreed: false });
            return None;
        }
        let text = "NOT taken: the head still stands at the board. Lift it off, hold it on the emitter, keep it still, then take its tilt.";
        self.say(now, true, text.to_owned());
        None
    }

    /// A take goes to the record once the head has said who it is: it may have been changed for
    /// another without a word.
    fn hold(&mut self, now: Duration, what: String, effect: Effect) -> Vec<Effect> {
        if !self.asks_who {
            return vec![effect];
        }
        self.held = Some(Held { effect, what, until: now + WHO_WITHIN, again_at: now + WHO_EVERY });
        vec![Effect::Ask(Request::Greet { protocol: PROTOCOL })]
    }

    /// The link is gone, or the head was another: what waited is not kept.
    pub(super) fn let_go_of_held(&mut self, now: Duration) {
        if let Some(held) = self.held.take() {
            let text = format!("the head did not say who it is. Take it again ({}).", held.what);
            self.forget_held(now, held.effect, &text);
        }
    }

    /// Asks again who the head is, as long as there is hope.
    pub(super) fn ask_who_again(&mut self, now: Duration) -> Option<Request> {
        let held = self.held.as_mut()?;
        if now >= held.until {
            self.let_go_of_held(now);
            return None;
        }
        (now >= held.again_at).then(|| {
            held.again_at = now + WHO_EVERY;
            Request::Greet { protocol: PROTOCOL }
        })
    }

    fn forget_held(&mut self, now: Duration, effect: Effect, why: &str) {
        let came = match effect {
            Effect::Keep { kept, .. } => Some(kept.came),
            Effect::KeepTilt(_, came) => Some(came),
            Effect::Ask(_) | Effect::Quit(_) => None,
        };
        self.not_kept(now, came, why);
    }

    /// A take could not be written: it does not count. `came`: how the head had come to its place.
    pub fn not_kept(&mut self, now: Duration, came: Option<Came>, why: &str) {
        self.unkept = came;
        self.say(now, true, format!("NOT taken: {why}"));
    }
}
