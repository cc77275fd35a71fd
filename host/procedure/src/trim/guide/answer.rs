//! What a turn came to: as told, the other way round, not at all.

use super::back::Step;
use super::{Ask, Guide, Stage, Told};
use crate::trim::says;
use crate::trim::turning::{End, Turning};
use skimgauge_metrology::trim::response::{Finding, LIVE_U_MM, ScrewHistory};
use skimgauge_model::TurnNoticed;
use skimgauge_quantity::{Mm, Name, Sentence, Turns, say};
use std::time::Duration;

/// A count that is off by more than this share of a turn, or turns, leaves something to be told.
const COUNTED: f64 = 0.1;

impl Guide {
    /// The user says that the turn is made, without more.
    pub(super) fn said_made(&mut self, now: Duration) {
        let Stage::Turn(turning) = &mut self.work.stage else { return };
        if turning.back {
            return self.is_back();
        }
        let gap_mm = self.steady.last();
        let counted = turning.aim_mm().is_none();
        let there = gap_mm.is_some_and(|gap_mm| turning.is_there(gap_mm));
        let doubtful = match gap_mm {
            Some(gap_mm) if counted => turning.hardly_moved(gap_mm),
            Some(_) => !there,
            None => false,
        };
        if turning.wrong_way && doubtful {
            let says =
                say!("The gap went the wrong way. Say: as told, or: wrong one; or turn it back.");
            return self.hint(says, true);
        }
        if doubtful && !turning.doubted {
            turning.doubted = true;
            let says = self.not_there_yet();
            return self.hint(says, true);
        }
        match gap_mm {
            Some(gap_mm) if !counted => {
                if !there {
                    let past = turning.is_past(gap_mm);
                    let ended =
                        if past { TurnNoticed::WentPast } else { TurnNoticed::StoppedBefore };
                    turning.noticed.push(ended);
                }
                self.turned(now, Some(gap_mm), None);
            }
            None if !counted => self.unseen(now),
            _ => self.turned(now, gap_mm, None),
        }
    }

    /// Nothing shows what a watched turn came to: it is waited for, or counted where it will not
    /// come.
    fn unseen(&mut self, now: Duration) {
        if self.is_gone(now) {
            return self.light_is_gone();
        }
        let says = say!(
            "There is no good gap to judge that by: wait for one, or say that the light is gone, and the turn is counted."
        );
        self.hint(says, true);
    }

    fn not_there_yet(&self) -> Sentence {
        let Stage::Turn(turning) = &self.work.stage else { return Sentence::new() };
        let name = Name(self.name_of(turning.adjuster));
        match turning.aim_mm().zip(self.steady.last()) {
            Some(((to_mm, _), gap_mm)) if turning.is_past(gap_mm) => say!(
                "The gap has gone past by {}: turn {name} back, or say once more that it is made, if it is to stay so.",
                Mm((gap_mm - to_mm).abs()).gap()
            ),
            Some(((to_mm, _), gap_mm)) => say!(
                "The gap lacks {} yet: turn {name} on, or say once more that it is made, if it is to stay so.",
                Mm(to_mm - gap_mm).gap().signed()
            ),
            None => say!(
                "The gap has hardly moved: is it {name} that you turned? Say once more that the turn is made, or that you \
                 turned the wrong one."
            ),
        }
    }

    /// The user turned as told, or by this many turns (clockwise), and the gap is not where it
    /// should be.
    pub(crate) fn turned_as_told(&mut self, now: Duration, counted: Option<f64>) {
        let Stage::Turn(turning) = &self.work.stage else {
            return self.say(say!("Nothing is being turned now."), true);
        };
        if turning.back {
            return self.is_back();
        }
        let Some(gap_mm) = self.steady.last() else {
            if turning.aim_mm().is_none() {
                return self.turned(now, None, counted);
            }
            return self.unseen(now);
        };
        if turning.is_reversed(gap_mm, counted) {
            // Stopped when it was said: how far it came tells nothing more.
            let says = says::finding(self.name_of(turning.adjuster), Finding::Reversed);
            return self.reversed(says);
        }
        let (adjuster, turns) = (turning.adjuster, counted.unwrap_or(turning.turns));
        let clockwise = turns > 0.0;
        let (back, on) = self.work.travel[adjuster];
        let made = self.work.made[adjuster];
        let left = if clockwise { on - made } else { back + made };
        let history = ScrewHistory {
            // One that slipped before and now does not follow at all is asked about, too.
            answered_this_way: self.work.answered[adjuster][usize::from(clockwise)]
                || self.work.slipped[adjuster],
            travel_left_turns: Some(left),
        };
        let finding = turning.found(gap_mm, counted, history);
        let says = says::finding(self.name_of(adjuster), finding);
        match finding {
            Finding::AsPredicted => self.turned(now, Some(gap_mm), counted),
            Finding::Reversed => self.reversed(says),
            Finding::Slipping { .. } => {
                self.notice(TurnNoticed::Slips);
                self.say(says, true);
                self.slips(now, gap_mm);
            }
            Finding::Bottomed { .. } => self.asks = Some(Ask::EndOfTravel),
            Finding::Moved { .. } => {
                self.notice(TurnNoticed::Moved);
                self.say(says, true);
                self.stepping(Step::Turned(adjuster));
                self.tell_turn(Some(gap_mm), Some(turns));
                self.work.learner.counted(adjuster, turns);
                self.work.made[adjuster] += turns;
                self.done(now);
            }
        }
    }

    /// One that slips is gone on with once, as far as its reading asks for; then the next takes
    /// decide.
    fn slips(&mut self, now: Duration, gap_mm: f64) {
        let Stage::Turn(turning) = &self.work.stage else { return };
        let adjuster = turning.adjuster;
        let again = turning.aim_mm().is_some() && !self.work.slipped[adjuster];
        if !again {
            return self.turned(now, Some(gap_mm), None);
        }
        let turns = turning.by_gap(gap_mm).unwrap_or(0.0);
        self.stepping(Step::Turned(adjuster));
        self.tell_turn(Some(gap_mm), None);
        self.learn(Some(gap_mm), turns);
        self.work.slipped[adjuster] = true;
        self.next_turn(now);
    }

    /// The end of its travel, or not.
    pub(crate) fn answered(&mut self, now: Duration, yes: bool) {
        let Some(ask) = self.asks.take() else { return };
        match (ask, yes) {
            (Ask::EndOfTravel, true) => self.at_its_end(now),
            (Ask::EndOfTravel, false) => {
                let says = say!("Then nothing is concluded from it: turn on, gently.");
                self.say(says, false);
            }
        }
    }

    fn at_its_end(&mut self, now: Duration) {
        let Stage::Turn(turning) = &self.work.stage else { return };
        let (adjuster, clockwise) = (turning.adjuster, turning.turns > 0.0);
        let by_gap = self.steady.last().and_then(|gap_mm| turning.by_gap(gap_mm));
        let gap_mm = self.steady.last();
        self.notice(TurnNoticed::EndOfTravel);
        self.stepping(Step::Turned(adjuster));
        self.tell_turn(gap_mm, None);
        match by_gap {
            Some(turns) => self.learn(gap_mm, turns),
            // How far it came nobody saw.
            None => self.work.learner.lose_plane(),
        }
        let made = self.work.made[adjuster];
        let (back, on) = &mut self.work.travel[adjuster];
        if clockwise {
            *on = made;
        } else {
            *back = -made;
        }
        let name = Name(self.name_of(adjuster));
        let says = say!(
            "{name} has come to its end: do not force it. The rest is planned without it; if that does not do, move the \
             emitter's mount."
        );
        self.say(says, true);
        if by_gap.is_none() {
            return self.new_round();
        }
        self.replan();
        self.cannot_any_more();
        self.next_turn(now);
    }

    fn reversed(&mut self, says: Sentence) {
        let Stage::Turn(turning) = &self.work.stage else { return };
        let adjuster = turning.adjuster;
        self.stepping(Step::Reversed(adjuster));
        let gap_mm = self.steady.last();
        let Stage::Turn(turning) = &mut self.work.stage else { return };
        turning.wrong_from_mm = gap_mm;
        turning.noticed.push(TurnNoticed::OtherWay);
        turning.turns *= -1.0;
        (turning.wrong_way, turning.doubted) = (false, false);
        if let End::Reading { seen, .. } | End::Count { seen: Some(seen) } = &mut turning.end {
            seen.per_turn_mm *= -1.0;
        }
        let (turns, counted) = (turning.turns, turning.aim_mm().is_none());
        self.work.learner.reverse(adjuster);
        let sense = says::sense(turns);
        let how = if counted {
            say!("Turn it back to where it stood, and then {} {sense}", Turns(turns.abs()).amount())
        } else {
            say!("Turn it {sense} now, until the gap is where it should be")
        };
        self.say(say!("{says}. {how}"), true);
        self.advise_turn();
    }

    /// A turn is made, whatever came of it: learn, tell, and go on.
    pub(super) fn turned(&mut self, now: Duration, gap_mm: Option<f64>, counted: Option<f64>) {
        let Stage::Turn(turning) = &self.work.stage else { return };
        let (adjuster, told) = (turning.adjuster, turning.turns);
        let by_count = turning.aim_mm().is_none();
        let turns = match (by_count, gap_mm) {
            (false, Some(gap_mm)) => turning.by_gap(gap_mm),
            _ => None,
        };
        let turns = turns.unwrap_or(counted.unwrap_or(told));
        self.stepping(Step::Turned(adjuster));
        self.tell_turn(gap_mm, counted);
        if by_count {
            self.work.learner.counted(adjuster, turns);
            self.work.made[adjuster] += turns;
        } else {
            self.learn(gap_mm, turns);
        }
        if by_count && (turns - told).abs() > COUNTED.max(COUNTED * told.abs()) {
            // It is another turn than was told: the rest follows.
            self.replan();
            return self.next_turn(now);
        }
        self.done(now);
    }

    /// The instruction is carried out.
    fn done(&mut self, now: Duration) {
        if let Some(plan) = &mut self.work.plan {
            plan.done();
        }
        self.next_turn(now);
    }

    /// Learns from a watched turn.
    fn learn(&mut self, gap_mm: Option<f64>, turns: f64) {
        let Stage::Turn(turning) = &self.work.stage else { return };
        let (Some(gap_mm), Some(seen)) = (gap_mm, turning.seen()) else { return };
        let (adjuster, told, held) = (turning.adjuster, turning.turns, turning.held);
        let at = self.of.stations[seen.station].at;
        // One that was taken back may have been gone on with from another seat.
        let u_mm = if held { LIVE_U_MM.hypot(self.of.seat_u_mm) } else { LIVE_U_MM };
        self.work.learner.watched(adjuster, turns, (at.x.0, at.y.0), gap_mm, u_mm);
        self.work.made[adjuster] += turns;
        if turns / told > 0.7 {
            self.work.answered[adjuster][usize::from(turns > 0.0)] = true;
        }
    }

    fn tell_turn(&mut self, gap_mm: Option<f64>, counted: Option<f64>) {
        let Stage::Turn(turning) = &self.work.stage else { return };
        let Turning { adjuster, .. } = **turning;
        let watched = turning.aim_mm().zip(turning.seen());
        // How far it came before it went no further nobody counted.
        let stopped = turning.noticed.contains(&TurnNoticed::EndOfTravel);
        let by_count = (watched.is_none() && !stopped).then_some(turning.turns);
        self.told.push(Told::Observed {
            adjuster,
            turns: counted.or(by_count),
            station: watched.map(|(_, seen)| seen.station),
            before_mm: watched.map(|(_, seen)| seen.before_mm),
            after_mm: watched.and(gap_mm),
            predicted_mm: watched.map(|((to_mm, _), _)| to_mm),
            noticed: turning.noticed.clone(),
        });
    }

    /// After a screw's travel has turned out shorter: can it still be done?
    fn cannot_any_more(&mut self) {
        if let Some(plan) = &self.work.plan
            && plan.margin_mm < 0.0
        {
            let says = say!(
                "with that adjuster at its end no setting passes any more, by {} as best known: move the emitter's mount, \
                 note the new travel in the job, and begin again; or go on to the best setting",
                Mm(-plan.margin_mm).gap()
            );
            self.say(says, true);
        }
    }

    fn notice(&mut self, what: TurnNoticed) {
        if let Stage::Turn(turning) = &mut self.work.stage {
            turning.noticed.push(what);
        }
    }
}
