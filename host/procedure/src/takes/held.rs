//! A take on its way to the record: first the head says who it is, then the record that it is kept.

use super::says::taken;
use super::{Kept, TAKEN_SHOWS, Takes};
use crate::input::EventId;
use crate::output::{Entry, News, Output};
use crate::view::TiltView;
use skimgauge_metrology::measure::Came;
use skimgauge_quantity::{Deg, Mm, Sentence, say};
use skimgauge_shared::message::Request;
use std::time::Duration;

/// A head that is asked who it is answers within so much; it is asked this often.
const WHO_WITHIN: Duration = Duration::from_millis(1_500);
const WHO_EVERY: Duration = Duration::from_millis(250);

/// A take that waits for the head to say who it is.
#[derive(Debug, Clone)]
pub(super) struct Held {
    entry: Entry,
    until: Duration,
    again_at: Duration,
}

impl Held {
    /// As its user knows it.
    pub(super) fn what(&self) -> Sentence {
        self.entry.what()
    }
}

/// How the head had come to where this was taken.
fn came(entry: &Entry) -> Option<Came> {
    match entry {
        Entry::Take { kept, .. } => Some(kept.came.clone()),
        Entry::Tilt { came, .. } => Some(came.clone()),
        _ => None,
    }
}

impl Takes {
    /// A take goes to the record once the head has said who it is: it may have been changed for
    /// another without a word.
    pub(super) fn hold(&mut self, now: Duration, entry: Entry) {
        if !self.asks_who {
            self.out.push(Output::Keep(entry));
            return;
        }
        self.held = Some(Held { entry, until: now + WHO_WITHIN, again_at: now + WHO_EVERY });
        self.out.push(Output::Ask(Request::Greet));
    }

    /// Greeted again, the head said that it is the same.
    pub(super) fn it_is_the_same(&mut self) {
        if let Some(held) = self.held.take() {
            // Until the record answers.
            self.saving = Some(held.what());
            self.out.push(Output::Keep(held.entry));
        }
    }

    /// The link is gone, or the head was another: what waited is not kept.
    pub(super) fn let_go_of_held(&mut self, now: Duration) {
        if let Some(held) = self.held.take() {
            let what = held.what();
            let why = say!("the head did not say who it is. Take it again ({what}).");
            self.is_not_kept(now, &held.entry, why);
        }
    }

    /// Asks again who the head is, as long as there is hope; whether it was asked.
    pub(super) fn ask_who_again(&mut self, now: Duration) -> bool {
        let Some(held) = &mut self.held else { return false };
        if now >= held.until {
            self.let_go_of_held(now);
            return false;
        }
        let again = now >= held.again_at;
        if again {
            held.again_at = now + WHO_EVERY;
            self.out.push(Output::Ask(Request::Greet));
        }
        again
    }

    /// A take could not be kept: it does not count.
    pub(super) fn is_not_kept(&mut self, now: Duration, entry: &Entry, why: Sentence) {
        self.saving = None;
        self.unkept = came(entry);
        self.say(now, true, say!("NOT taken: {why}"));
    }

    /// Something is in the record.
    /// Seats that scatter by more than is stated of them are said to, once a round.
    fn looks_at_seats(&mut self, now: Duration) {
        let worse = self.stations.seating().filter(|seating| seating.is_worse);
        let Some(shown_mm) = worse.and_then(|seating| seating.shown_mm) else { return };
        if std::mem::replace(&mut self.seats_said, true) {
            return;
        }
        let says = say!(
            "Seats scatter by {}, more than is stated of them: that is reckoned with at every station. Is there dirt \
             under the head's feet?",
            Mm(shown_mm).gap()
        );
        self.say(now, true, says);
    }

    pub(super) fn is_kept(
        &mut self,
        now: Duration,
        entry: Entry,
        event: Option<EventId>,
        place: Option<u32>,
    ) {
        if entry.is_take() {
            self.saving = None;
        }
        match entry {
            Entry::Take { at, station, kept, .. } => {
                let kept = Kept { event, ..*kept };
                let (says, bad) = taken(&station.name, &kept);
                // What came back from another seat speaks for the board, not for a slip.
                if kept.came == Came::Same {
                    self.stations.keep(at, kept);
                } else {
                    self.stations.keep_anew(at, kept);
                }
                self.counts_as_kept(now);
                if let Some(station) = self.station_view(at) {
                    let (station, whole) = (Box::new(station), Box::new(self.whole_view()));
                    self.out.push(Output::Tell(News::Take { station, event: place, whole }));
                }
                self.say(now, bad, says);
                self.looks_at_seats(now);
            }
            Entry::Tilt { tilt, came, .. } => {
                self.stations.keep_emitter(tilt);
                self.counts_as_kept(now);
                let tilt = TiltView {
                    level: Deg(tilt.level_deg),
                    lean: Deg(tilt.lean_deg),
                    u: Deg(tilt.u_deg),
                };
                let whole = Box::new(self.whole_view());
                self.out.push(Output::Tell(News::Tilt { tilt, event: place, came, whole }));
                self.say(now, false, say!("emitter: tilt taken"));
            }
            Entry::EmitterOff { saw, .. } => {
                self.stations.line_stays(saw.is_line());
                self.judge();
            }
            _ => (),
        }
        if self.until_taken && self.stations.all_taken() {
            self.out.push(Output::End(None));
        }
    }

    fn counts_as_kept(&mut self, now: Duration) {
        self.keeps = self.keeps.saturating_add(1);
        self.kept_at = Some(now + TAKEN_SHOWS);
        self.stations.on_to_missing();
        self.judge();
    }
}
