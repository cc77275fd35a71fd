//! From instruction to instruction, and from round to round.

use super::back::Step;
use super::{Advice, Guide, MOST_ROUNDS, Stage, Told};
use crate::trim::says;
use crate::trim::turning::Turning;
use skimgauge_metrology::assess::{LIVE_CHANGE_U_MM, WORTH_MM, wanted_inside_mm};
use skimgauge_metrology::plane::fit::fit;
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::report::Feasibility;
use skimgauge_metrology::trim::learn::{Hand, Tracker};
use skimgauge_metrology::trim::plan::{Plan, Task, Watch};
use skimgauge_metrology::trim::response::Finding;
use skimgauge_model::Adjuster;
use skimgauge_quantity::{Name, Sentence, Turns, say};
use std::time::Duration;

/// Without any change for so long while an adjuster should turn, a word is said.
const NOTHING_HAPPENS: Duration = Duration::from_secs(12);

/// Why it cannot begin: too little is taken.
pub(super) fn too_few() -> Sentence {
    say!("take three stations first, not in a line: the plane needs them")
}

impl Guide {
    /// The user wants to begin turning; where no setting passes this is asked twice.
    pub(crate) fn begin(&mut self, now: Duration) {
        if !matches!(self.work.stage, Stage::Take) {
            return self.say(say!("It has begun already."), false);
        }
        if self.is_turned_out() {
            return self.says_turned_out();
        }
        if self.is_brought_back() && self.advice == Advice::Begin {
            return self.begin_with_few(now);
        }
        match &self.answer {
            Some(Ok(_)) => (),
            Some(Err(why)) => {
                let says = say!("{}", why.to_string());
                return self.say(says, true);
            }
            None => return self.say(too_few(), true),
        }
        if !self.believes() || !self.may_begin() {
            return;
        }
        self.told.push(Told::Judged);
        self.stepping(Step::Begun);
        self.learns_the_round();
        self.turns_now(now);
    }

    /// Where the readings contradict one another nothing is turned on them; once they came back
    /// the same, each is believed at its own place.
    fn believes(&mut self) -> bool {
        let Some(answer) = self.answer() else { return true };
        let Some(odd) = answer.fit.contradiction() else { return true };
        let (came_back, says) = (odd.came_back(), says::no_turns(odd));
        if !came_back {
            self.say(says, true);
            return false;
        }
        self.board = self.board.believed(self.of.expected.unwrap_or_default());
        let image = self.of.image;
        self.points = self.board.control_points(image.width.0, image.height.0);
        self.told.push(Told::Believed(Box::new(self.board.clone())));
        if let Ok(found) = fit(&self.observations, &self.board) {
            self.work.learner.board_anew(&found, &self.board);
        }
        let says = say!(
            "The board is rougher than was assumed: every place is believed by its own reading. A survey tells more."
        );
        self.say(says, true);
        self.came_back.clear();
        self.judge();
        true
    }

    fn may_begin(&mut self) -> bool {
        let Some(answer) = self.answer() else { return false };
        if answer.feasibility() == Feasibility::Yes
            || answer.setting.margin_mm >= 0.0
            || self.warned
        {
            return true;
        }
        let names = |adjuster: usize| self.name_of(adjuster).to_owned();
        let says = says::feasibility(answer, &self.points, &names, self.of.image);
        let says = says.unwrap_or_default();
        self.warned = true;
        let says = say!("{says} To turn to the best setting all the same, say again to begin.");
        self.say(says, true);
        false
    }

    /// Too few stations see the light for a plane: it is brought back by what is known.
    fn begin_with_few(&mut self, now: Duration) {
        self.told.push(Told::Judged);
        self.stepping(Step::Begun);
        self.work.learner.by_sight(self.of.size_mm(), &self.board);
        self.work.learner.few(&self.observations);
        self.learns_the_blind();
        let says =
            say!("Fewer than three stations: the light is brought back by what is known of it.");
        self.say(says, false);
        self.turns_now(now);
    }

    /// What this round's takes show of the turns before them.
    fn learns_the_round(&mut self) {
        let Ok(found) = fit(&self.observations, &self.board) else { return };
        let shown = self.work.learner.round(&self.observations, &found, &self.board);
        self.learns_the_blind();
        for adjuster in shown.reversed {
            let says = says::finding(self.name_of(adjuster), Finding::Reversed);
            self.say(says, true);
        }
        for (adjuster, share) in shown.pitches {
            let pitch = self.adjusters()[adjuster].pitch;
            let says = says::pitch(self.name_of(adjuster), share, pitch);
            self.say(says, true);
        }
        if shown.surprised {
            let says = say!(
                "The light is not where the turns should have brought it: where it is now is learnt from these takes alone."
            );
            self.say(says, false);
        }
    }

    /// Plans the turns, and goes to the first.
    fn turns_now(&mut self, now: Duration) {
        self.work.seat = None;
        self.replan();
        if self.work.plan.as_ref().is_none_or(|plan| plan.left() == 0) {
            let missing = match self.next_station() {
                Some(station) => Some(Advice::Take { station }),
                None => self.emitter_is_missing().then_some(Advice::TakeEmitter),
            };
            if let Some(missing) = missing {
                self.say(say!("Nothing has to be turned: take the rest, for the verdict."), false);
                self.before.pop();
                self.advice = match self.what_to_take() {
                    Advice::Begin => missing,
                    other => other,
                };
                return;
            }
            return self.over();
        }
        self.next_turn(now);
    }

    /// The adjusters as they can be turned: with the ends of travel that were found.
    pub(super) fn turnable(&self) -> [Adjuster; 3] {
        let mut adjusters = self.work.learner.adjusters().clone();
        for (adjuster, (back, on)) in adjusters.iter_mut().zip(self.work.travel) {
            adjuster.travel_anticlockwise = Turns(back.max(0.0));
            adjuster.travel_clockwise = Turns(on.max(0.0));
        }
        adjusters
    }

    /// Calls `with` with what is asked of a round, where a plane is known.
    pub(super) fn asked<T>(&self, with: impl FnOnce(&Task<'_>, &Tracker) -> T) -> Option<T> {
        let tracker = self.work.learner.tracker()?;
        let adjusters = self.turnable();
        let task = Task {
            adjusters: &adjusters,
            points: &self.points,
            band: self.of.band,
            stations: &self.of.stations,
            held: &self.of.held,
            measurable: self.sight.watched(),
            smallest_turn: self.of.smallest_turn,
            step: None,
            worth_mm: WORTH_MM,
            inside_mm: wanted_inside_mm(self.board.is_surveyed()),
            person: self.of.person,
            hand: Hand::default(),
            live_u_mm: LIVE_CHANGE_U_MM,
            seat_u_mm: self.of.seat_u_mm,
            reads_after_count: false,
            next_round_s: Task::round_s(&self.of.person, self.of.stations.len()),
        };
        Some(with(&task, tracker))
    }

    pub(super) fn replan(&mut self) {
        let (made, stands) = (self.work.made, self.stands);
        self.work.plan = self
            .asked(|task, tracker| Plan::new(task, tracker, &made, stands))
            .and_then(Result::ok);
    }

    /// To the next instruction: where it is watched at a station whose seat is not read yet, the
    /// head goes there first.
    pub(super) fn next_turn(&mut self, now: Duration) {
        let (made, stands) = (self.work.made, self.stands);
        let Some(mut plan) = self.work.plan.take() else { return self.new_round() };
        let next = self
            .asked(|task, tracker| plan.next(task, tracker, &made, stands))
            .and_then(Result::ok)
            .flatten();
        self.work.plan = Some(plan);
        let Some(instruction) = next else { return self.new_round() };
        let live_mm = self.steady.at_rest(now).or(self.steady.last());
        if let Watch::Reading { station, .. } = instruction.watch
            && (self.work.seat != Some(station) || live_mm.is_none())
        {
            self.work.seat = None;
            self.steady.clear();
            let ready = self.stands == Some(station);
            (self.changed, self.hinted) = (now, false);
            self.work.stage = Stage::Clip { station, ready, doubted: false, back_to: None };
            self.advice = Advice::Clip { station };
            return;
        }
        let adjuster = instruction.adjuster;
        let influence = self.work.learner.influence();
        let effect_mm = |station: usize| {
            let at = self.of.stations[station].at;
            influence.effect(at.x.0, at.y.0)[adjuster]
        };
        match Turning::new(&instruction, live_mm, effect_mm) {
            Some(turning) => self.instruct(now, turning),
            None => self.new_round(),
        }
    }

    fn instruct(&mut self, now: Duration, turning: Turning) {
        self.told.push(Told::Advised {
            adjuster: turning.adjuster,
            turns: turning.turns,
            station: turning.aim_mm().and(turning.seen()).map(|seen| seen.station),
            target_gap_mm: turning.aim_mm().map(|(to_mm, _)| to_mm),
        });
        self.changed = now;
        self.hinted = false;
        self.work.stage = Stage::Turn(Box::new(turning));
        self.advise_turn();
    }

    /// While an adjuster is being turned.
    pub(super) fn watch_turn(&mut self, now: Duration) {
        let Stage::Turn(turning) = &mut self.work.stage else { return };
        let Some(gap_mm) = self.steady.last() else {
            let watched = turning.aim_mm().is_some() && !turning.back;
            let adjuster = turning.adjuster;
            if watched && self.sight.is_lost(now) {
                self.sight.lost_said = true;
                let name = Name(self.name_of(adjuster));
                let says = say!(
                    "No light is seen: {name} may have been turned too far, or the wrong way. Turn it back until light is seen."
                );
                self.hint(says, true);
            }
            if watched && self.is_gone(now) {
                return self.light_is_gone();
            }
            return self.advise_turn();
        };
        self.sight.lost_said = false;
        if !turning.held
            && let Some(rest_mm) = self.steady.at_rest(now)
            && turning.is_there(rest_mm)
        {
            return self.turned(now, Some(rest_mm), None);
        }
        if turning.goes_wrong(gap_mm) && !turning.wrong_way {
            turning.wrong_way = true;
            let (adjuster, turns) = (turning.adjuster, turning.turns);
            let (name, sense) = (Name(self.name_of(adjuster)), says::sense(turns));
            let says = say!(
                "STOP: the gap goes the wrong way. You turned {name} {sense}? Then say: as told. You turned another? \
                 Say: wrong one. Else turn it back."
            );
            self.hint(says, true);
        } else if turning.wrong_way && turning.is_back_again(gap_mm) {
            turning.wrong_way = false;
            self.hint(say!("The gap is back where it was: go on."), false);
        } else if !self.hinted && now.saturating_sub(self.changed) > NOTHING_HAPPENS {
            self.hinted = true;
            let waits = turning.aim_mm().is_some() && !turning.back;
            if waits && !turning.is_there(gap_mm) {
                let name = Name(&self.work.learner.adjusters()[turning.adjuster].name);
                let says = say!(
                    "The gap does not move. You have turned {name}? Then say: as told. It resists? Do not force it; say: \
                     no further."
                );
                self.hint(says, false);
            }
        }
        self.advise_turn();
    }

    /// All the rounds of turns were made: what they left is read once more, and nothing is turned.
    pub(super) fn is_turned_out(&self) -> bool {
        self.work.round >= self.last_round()
    }

    pub(super) fn says_turned_out(&mut self) {
        let says =
            say!("after {} rounds of turns it is not the turning that is in the way", MOST_ROUNDS);
        self.say(says, true);
    }

    /// Whatever was turned, the stations are taken anew: no take from before a turn tells how the
    /// installation is left.
    pub(super) fn new_round(&mut self) {
        self.work.round += 1;
        self.work.as_found = false;
        self.work.seat = None;
        self.work.plan = None;
        self.work.slipped = [false; 3];
        self.work.stage = Stage::Take;
        self.asks = None;
        self.observations = Observations::default();
        self.came_back.clear();
        self.taken.fill(false);
        self.sight.new_round();
        self.answer = None;
        self.warned = false;
        if self.work.round > self.rounds_told {
            self.rounds_told = self.work.round;
            self.told.push(Told::NewRound);
        }
        self.advice = self.what_to_take();
    }

    pub(super) fn over(&mut self) {
        self.work.stage = Stage::Over;
        self.forget_steps();
        self.advice = Advice::Over;
        self.says_what_is_unread();
        self.told.push(Told::Over);
    }
}
