//! Where the head sees no sheet: what that tells, and how the work goes on without a reading.

use super::{Advice, Guide, Stage, Told};
use crate::trim::turning::End;
use skimgauge_metrology::assess::{EYE, MEASURABLE, SHEET_MM, seen, watched};
use skimgauge_metrology::trim::blind::{Blind, Missing};
use skimgauge_quantity::{Band, Mm, Name, Sentence, say};
use std::time::Duration;

/// A station from which the sheet is seen to leave the window for so long is passed over.
const PASSED_OVER: Duration = Duration::from_secs(8);

/// A head that is clipped on and sees no light for so long will see none.
const SEES_NOTHING: Duration = Duration::from_secs(15);
/// ... and where the sheet is seen to leave the window, for so long.
const LEAVES: Duration = Duration::from_secs(3);
/// A head that has not come to rest for so long hangs on something that shakes.
const RESTLESS: Duration = Duration::from_secs(25);

/// What a take tells of the eye.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Eye {
    /// Thickness of the sheet, mm.
    pub sheet_mm: f64,
    /// The first pixel's middle over the board, mm.
    pub first_pixel_mm: f64,
}

/// What the head sees, and what it cannot.
#[derive(Debug, Clone)]
pub(super) struct Sight {
    /// Gaps that the head sees of this emitter's sheet.
    pub(super) seen: Band<Mm>,
    /// The thickest sheet of all takes, mm.
    sheet_mm: f64,
    /// What it misses now, and since when.
    missing: Option<(Missing, Duration)>,
    /// By station, what it missed in this round.
    blind: Vec<Option<Missing>>,
    /// By station: left out of this round by a word.
    left_out: Vec<bool>,
    emitter_left_out: bool,
    /// The head was off the board since the last station was passed over.
    lifted: bool,
    /// The station that was said to see no light.
    hinted: Option<usize>,
    /// That the light of the turn was lost was said.
    pub(super) lost_said: bool,
    /// The blind stations of this round were asked for once more.
    again: bool,
    /// Since when a head that was said to be clipped on is waited for.
    pub(super) waits_since: Duration,
}

impl Sight {
    pub(super) fn of(stations: usize) -> Self {
        Self {
            seen: MEASURABLE,
            sheet_mm: 0.0,
            missing: None,
            blind: vec![None; stations],
            left_out: vec![false; stations],
            emitter_left_out: false,
            lifted: true,
            hinted: None,
            lost_said: false,
            again: false,
            waits_since: Duration::ZERO,
        }
    }

    pub(super) fn new_round(&mut self) {
        self.blind.fill(None);
        self.left_out.fill(false);
        (self.hinted, self.again) = (None, false);
    }

    /// Gaps between which a turn is watched.
    pub(super) fn watched(&self) -> Band<Mm> {
        watched(self.seen)
    }

    /// A sheet of this thickness was read, and the first pixel stood so high over the board.
    pub(super) fn read(&mut self, eye: Option<Eye>) {
        let Some(Eye { sheet_mm, first_pixel_mm }) = eye else { return };
        self.sheet_mm = self.sheet_mm.max(sheet_mm);
        // What is further from the body's than a line can be put in says nothing of it.
        let off_mm = first_pixel_mm - EYE.low.0;
        let stands_mm = if (-0.3..1.2).contains(&off_mm) { first_pixel_mm } else { EYE.low.0 };
        self.seen = seen(stands_mm, self.sheet_mm.max(SHEET_MM));
    }

    /// Whether a station may still be read in this round.
    pub(super) fn is_open(&self, station: usize) -> bool {
        self.blind.get(station).is_some_and(Option::is_none) && !self.is_left_out(station)
    }

    pub(super) fn is_left_out(&self, station: usize) -> bool {
        self.left_out.get(station).copied().unwrap_or(false)
    }

    pub(super) fn emitter_is_left_out(&self) -> bool {
        self.emitter_left_out
    }

    /// Whether light is missed for long enough to be told, and was not yet.
    pub(super) fn is_lost(&self, now: Duration) -> bool {
        let since = self.missing.map(|(_, since)| now.saturating_sub(since));
        !self.lost_said && since.is_some_and(|since| since > LEAVES)
    }

    fn any_blind(&self) -> bool {
        self.blind.iter().any(Option::is_some)
    }
}

impl Guide {
    /// What the head misses of the sheet where it stands now, `None` where it sees it or is not on
    /// the board; `off`: it is off the board.
    pub(crate) fn looks_at(&mut self, now: Duration, missing: Option<Missing>, off: bool) {
        let since = self.sight.missing.map_or(now, |(_, since)| since);
        self.sight.missing = missing.map(|missing| (missing, since));
        self.sight.lifted |= off;
        if matches!(self.work.stage, Stage::Take) {
            self.sees_dark(now);
        }
    }

    /// Whether the head shows a good gap now.
    pub(crate) fn sees(&self) -> bool {
        self.steady.last().is_some()
    }

    /// The good gap that the head shows now, mm.
    pub(crate) fn live_mm(&self) -> Option<f64> {
        self.steady.last()
    }

    /// Whether the head was not lifted since a station was passed over or left out.
    pub(crate) fn is_still_there(&self) -> bool {
        !self.sight.lifted
    }

    /// Places of this round that see no sheet.
    pub(super) fn blind_places(&self) -> Vec<Blind> {
        let stations = self.of.stations.iter().zip(&self.sight.blind);
        stations
            .filter_map(|(station, missing)| {
                let (x_mm, y_mm) = (station.at.x.0, station.at.y.0);
                Some(Blind { x_mm, y_mm, missing: (*missing)?, seen: self.sight.seen })
            })
            .collect()
    }

    /// Learns from the places that see no sheet.
    pub(super) fn learns_the_blind(&mut self) {
        let blind = self.blind_places();
        self.work.learner.blind(&blind, self.of.size_mm(), &self.board);
    }

    /// Whether too little is read for a plane, and what sees no light tells where it is.
    pub(super) fn is_brought_back(&self) -> bool {
        self.answer().is_none() && self.sight.any_blind()
    }

    /// What is missed at the station that is to be taken, where the head may be there.
    fn missed_at(&self, station: usize) -> Option<(Missing, Duration)> {
        let elsewhere = self.stands.is_some_and(|at| at != station);
        self.sight.missing.filter(|_| !elsewhere && self.sight.lifted)
    }

    /// Whether light is missed where something is to be taken.
    pub(crate) fn is_missed(&self) -> bool {
        matches!(self.advice, Advice::Take { station } if self.missed_at(station).is_some())
    }

    /// Whether a part of the sheet is seen there, and the rest leaves the eye. No light at all shows
    /// nothing of what was read before: it may be off, or a hand in its way.
    fn leaves_at(&self, station: usize) -> bool {
        matches!(self.missed_at(station), Some((Missing::Part, _)))
    }

    /// The station at hand sees no light: after a while it is passed over in this round, or said
    /// what to look for.
    fn sees_dark(&mut self, now: Duration) {
        let Advice::Take { station } = self.advice else { return };
        let Some((missing, since)) = self.missed_at(station) else { return };
        if now.saturating_sub(since) < PASSED_OVER {
            return;
        }
        let name = self.station(station).map_or("", |station| station.name.as_str());
        match missing {
            Missing::Part => {
                let says = say!(
                    "At {} the light leaves what the head sees ({}): it is passed over, and that is learnt from.",
                    Name(name),
                    self.sight.seen.low.gap().to(self.sight.seen.high.gap())
                );
                self.say(says, true);
                self.is_blind(station, missing);
            }
            Missing::All if self.sight.hinted != Some(station) => {
                let says = say!(
                    "{} sees no light. Is the emitter on, and the eye turned to it? If both are so, the light stands \
                     too low or too high for the head there: say that {} is left out.",
                    Name(name),
                    Name(name)
                );
                self.say(says, true);
                self.sight.hinted = Some(station);
            }
            Missing::All => (),
        }
    }

    fn is_blind(&mut self, station: usize, missing: Missing) {
        if self.is_taken(station) {
            self.disproves(station);
        }
        self.sight.blind[station] = Some(missing);
        self.sight.lifted = false;
        self.sight.missing = None;
        self.goes_on_taking();
    }

    /// What was read there before does not go with a light that leaves the eye there now: it counts no
    /// more.
    fn disproves(&mut self, station: usize) {
        let name = self.station(station).map_or_else(String::new, |one| one.name.clone());
        let says = say!(
            "What was taken at {} before does not go with that: it counts no more.",
            Name(&name)
        );
        self.say(says, true);
        self.taken[station] = false;
        self.observations.gaps.retain(|gap| gap.station.as_ref() != Some(&name));
        self.came_back.retain(|one| *one != name);
        self.told.push(Told::Disproved { station });
    }

    /// What is to be taken next, or the end.
    fn goes_on_taking(&mut self) {
        if self.work.as_found {
            let (sight, taken) = (&self.sight, &self.taken);
            let can_be_read = |at: usize| taken[at] || sight.is_open(at);
            self.of = self.of.clone().choosing(&self.points, &self.board, can_be_read);
        }
        self.judge();
        if self.advice == Advice::Begin && self.is_brought_back() {
            let says = say!(
                "Too few stations see the light. Is the emitter on? Then begin: the adjusters are turned by count, until it \
                 is seen."
            );
            self.say(says, false);
        }
    }

    /// Where nothing more is to be taken, what saw no light is asked for once more.
    pub(super) fn asks_the_blind_again(&mut self) {
        if self.advice != Advice::Over || self.sight.again || !self.sight.any_blind() {
            return;
        }
        self.sight.blind.fill(None);
        (self.sight.again, self.sight.lifted) = (true, true);
        self.advice = self.what_to_take();
        self.say(
            say!("Once more where no light was seen, with the eye turned to the emitter."),
            false,
        );
    }

    /// What would be left out by the word for it now; `None`: nothing.
    pub(crate) fn can_leave_out(&self) -> Option<Sentence> {
        let name = |at: usize| Name(self.station(at).map_or("", |one| one.name.as_str()));
        match (&self.work.stage, &self.advice) {
            (Stage::Take, Advice::Take { station }) if self.is_taken(*station) => Some(match self
                .leaves_at(*station)
            {
                true => say!("the light leaves the eye at {}: its take is wrong", name(*station)),
                false => say!("do not take {} again", name(*station)),
            }),
            (Stage::Take, Advice::Take { station }) => Some(say!("leave {} out", name(*station))),
            (Stage::Take, Advice::TakeEmitter) => Some(say!("leave the emitter's tilt out")),
            (Stage::Clip { .. }, _) => Some(say!("no light there: count the turn")),
            (Stage::Turn(turning), _) if turning.aim_mm().is_some() => {
                Some(say!("the light is gone: count the turn"))
            }
            _ => None,
        }
    }

    /// What is to be done is left out, and done without.
    pub(crate) fn leave_out(&mut self, now: Duration) {
        match (&self.work.stage, self.advice.clone()) {
            (Stage::Take, Advice::Take { station })
                if self.is_taken(station) && !self.leaves_at(station) =>
            {
                (self.sight.left_out[station], self.sight.lifted) = (true, false);
                self.say(say!("It is not taken again, and stays in doubt."), true);
                self.goes_on_taking();
            }
            (Stage::Take, Advice::Take { station }) => {
                if let Some((missing, _)) = self.missed_at(station) {
                    return self.is_blind(station, missing);
                }
                (self.sight.left_out[station], self.sight.lifted) = (true, false);
                let name = self.station(station).map_or("", |station| station.name.as_str());
                let says = say!(
                    "{} is left out; the whole is then too close to call until it is taken.",
                    Name(name)
                );
                self.say(says, false);
                self.goes_on_taking();
            }
            (Stage::Take, Advice::TakeEmitter) => {
                self.sight.emitter_left_out = true;
                self.say(say!("The emitter's tilt is left out: it is not judged."), false);
                self.goes_on_taking();
            }
            (Stage::Clip { .. }, _) => self.sees_nothing(now),
            (Stage::Turn(turning), _) if turning.aim_mm().is_some() => self.light_is_gone(),
            _ => self.say(say!("There is nothing to leave out now."), true),
        }
    }

    /// Whether the head that was clipped on sees nothing, or will not come to rest, for good.
    pub(super) fn waits_in_vain(&self, now: Duration) -> bool {
        let waited = now.saturating_sub(self.sight.waits_since);
        let leaves = matches!(self.sight.missing, Some((Missing::Part, _)));
        match self.sees() {
            true => waited > RESTLESS,
            false => waited > if leaves { LEAVES } else { SEES_NOTHING },
        }
    }

    /// Whether the light of a turn that is watched has gone.
    pub(super) fn is_gone(&self, now: Duration) -> bool {
        let since = now.saturating_sub(self.changed);
        let (leaves, missing) = match self.sight.missing {
            Some((missing, since)) => (missing == Missing::Part, now.saturating_sub(since)),
            None => (false, Duration::ZERO),
        };
        !self.sees() && (since > SEES_NOTHING || (leaves && missing > LEAVES))
    }

    /// No light where a turn was to be watched: it is counted.
    pub(super) fn sees_nothing(&mut self, now: Duration) {
        let Stage::Clip { station, back_to, .. } = &self.work.stage else { return };
        let (station, back_to) = (*station, back_to.clone());
        let name = self.station(station).map_or("", |at| at.name.as_str());
        let how = if self.sees() { "does not come to rest" } else { "shows no light" };
        let says = say!("{} {how}: the turn is counted.", Name(name));
        self.say(says, true);
        if let Some(turning) = back_to {
            self.changed = now;
            self.work.stage = Stage::Turn(turning);
            return self.light_is_gone();
        }
        if let Some(plan) = &mut self.work.plan {
            plan.count_next();
        }
        self.next_turn(now);
    }

    /// The light left the head's window while a turn was watched: it is counted to its end, and the
    /// next takes make good what the count missed.
    pub(super) fn light_is_gone(&mut self) {
        let Stage::Turn(turning) = &mut self.work.stage else { return };
        (turning.end, turning.held) = (End::Count { seen: None }, true);
        self.work.seat = None;
        if !turning.back {
            self.say(say!("No light is seen any more: the turn is counted."), true);
        }
        self.advise_turn();
    }

    /// Where the work ends, which stations it ends without.
    pub(super) fn says_what_is_unread(&mut self) {
        let unread = self.untaken().map(|(_, station)| Name(&station.name));
        let unread: Vec<Name<'_>> = unread.collect();
        if unread.is_empty() {
            return;
        }
        let names = Sentence::list(unread, "and");
        let says = say!("Not read as it is left: {names}. Without that it is too close to call.");
        self.told.push(Told::Say { says, bad: true });
    }
}
