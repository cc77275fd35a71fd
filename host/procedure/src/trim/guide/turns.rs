//! From turn to turn, and from round to round.

use super::{Advice, Guide, MOST_ROUNDS, Stage, Told};
use crate::trim::turning::Turning;
use crate::trim::{GUARD_MM, says};
use skimgauge_metrology::assess::MEASURABLE;
use skimgauge_metrology::plane::observation::Observations;
use skimgauge_metrology::report::Feasibility;
use skimgauge_metrology::trim::guide::{Aim, Plan};
use skimgauge_metrology::trim::influence::GeometryUncertainty;
use skimgauge_metrology::trim::learn::{Hand, Tracker};
use skimgauge_quantity::{Name, say};
use std::time::Duration;

/// A setting that gains less margin than this, mm, is not worth a hand on the screw.
const WORTH_MM: f64 = 0.02;
/// A turn smaller than this is not made, turns.
const LEAST_TURN: f64 = 0.008;
/// After so many turns in one round the stations are taken again.
const MOST_TURNS: u32 = 24;
/// Without any change for so long while a screw should turn, a word is said.
const NOTHING_HAPPENS: Duration = Duration::from_secs(12);

impl Guide {
    /// The user wants to begin turning; where no setting passes this is asked twice.
    pub(crate) fn begin(&mut self, now: Duration) {
        if !matches!(self.stage, Stage::Take) {
            return;
        }
        let answer = match &self.answer {
            Some(Ok(answer)) => answer,
            Some(Err(why)) => {
                let says = say!("{}", why.to_string());
                return self.say(says, true);
            }
            None => {
                return self.say(
                    say!("take three stations first, not in a line: the plane needs them"),
                    true,
                );
            }
        };
        if let Some(odd) = answer.fit.contradiction() {
            let says = says::no_turns(odd);
            return self.say(says, true);
        }
        if answer.feasibility() != Feasibility::Yes
            && answer.setting.margin_mm < 0.0
            && !self.warned
        {
            self.warned = true;
            let names = |adjuster: usize| self.adjusters[adjuster].name.clone();
            let says = says::feasibility(answer, &self.points, &names, self.image);
            let says = says.unwrap_or_default();
            return self.say(
                say!("{says} To turn to the best setting all the same, say again to begin."),
                true,
            );
        }
        self.told.push(Told::Judged);
        match &mut self.tracker {
            Some(tracker) => self.observations.gaps.iter().for_each(|take| {
                tracker.take(take);
            }),
            None => {
                let (geometry, hand) = (GeometryUncertainty::default(), Hand::default());
                let tracker = Tracker::new(
                    &answer.fit,
                    &self.board,
                    &answer.influence,
                    &self.adjusters,
                    geometry,
                    hand,
                );
                self.tracker = Some(tracker);
            }
        }
        self.turns_in_round = 0;
        self.seat = None;
        self.replan();
        if self.turns_left() == 0 {
            return self.over();
        }
        if self.plan.as_ref().is_some_and(|plan| !plan.clear) {
            let says = say!(
                "the light comes near to the board on the way: turn slowly, and watch it there"
            );
            self.say(says, true);
        }
        self.next_turn(now);
    }

    /// Calls `with` with the aim, where there is a tracker.
    fn aimed<T>(&self, with: impl FnOnce(&Aim<'_>, &Tracker) -> T) -> Option<T> {
        let tracker = self.tracker.as_ref()?;
        let aim = Aim {
            adjusters: &self.adjusters,
            points: &self.points,
            band: self.band,
            live: &self.stations,
            guard_mm: GUARD_MM,
            measurable: MEASURABLE,
            worth_mm: WORTH_MM,
        };
        Some(with(&aim, tracker))
    }

    pub(super) fn replan(&mut self) {
        self.plan =
            self.aimed(|aim, tracker| Plan::new(aim, tracker, &self.made)).and_then(Result::ok);
    }

    pub(super) fn next_turn(&mut self, now: Duration) {
        let station = self
            .plan
            .as_ref()
            .filter(|_| self.turns_in_round < MOST_TURNS)
            .and_then(|plan| {
                self.aimed(|aim, tracker| plan.station(aim, tracker, &self.made, self.seat))
            })
            .and_then(Result::ok)
            .flatten();
        match station {
            Some(station) if self.seat == Some(station) && self.steady.last().is_some() => {
                self.instruct(now, station);
            }
            Some(station) => {
                self.seat = None;
                self.steady.clear();
                self.stage = Stage::Clip { station, ready: false, doubted: false };
                self.advice = Advice::Clip { station };
            }
            None => self.new_round(),
        }
    }

    pub(super) fn new_round(&mut self) {
        if self.round >= MOST_ROUNDS {
            self.say(
                say!("after {} rounds it is not the turning that is in the way", MOST_ROUNDS),
                true,
            );
            return self.over();
        }
        self.round += 1;
        self.seat = None;
        self.stage = Stage::Take;
        self.observations = Observations::default();
        self.came_back.clear();
        self.taken.fill(false);
        self.answer = None;
        self.choice = None;
        self.told.push(Told::NewRound);
        self.advice = self.what_to_take();
    }

    pub(super) fn over(&mut self) {
        self.stage = Stage::Over;
        self.advice = Advice::Over;
        self.told.push(Told::Over);
    }

    pub(super) fn instruct(&mut self, now: Duration, station: usize) {
        let instruction = self
            .plan
            .as_ref()
            .zip(self.stations.get(station))
            .and_then(|(plan, at)| {
                self.aimed(|aim, tracker| plan.instruction(aim, tracker, &self.made, at))
            })
            .and_then(Result::ok)
            .flatten();
        let before_mm = self.steady.at_rest(now).or(self.steady.last());
        let (Some(instruction), Some(before_mm)) = (instruction, before_mm) else {
            return self.new_round();
        };
        if instruction.turns.abs() < LEAST_TURN {
            if let Some(plan) = &mut self.plan {
                plan.done();
            }
            return self.next_turn(now);
        }
        let at = &self.stations[station];
        let effect_mm = self
            .tracker
            .as_ref()
            .map_or(0.0, |t| t.influence().effect(at.at.x.0, at.at.y.0)[instruction.adjuster]);
        let turning = Turning::new(instruction, station, before_mm, effect_mm);
        let (adjuster, turns) = (turning.instruction.adjuster, turning.instruction.turns);
        self.told.push(Told::Advised {
            adjuster,
            turns,
            station,
            target_gap_mm: turning.dial_to_mm,
            round: self.round,
        });
        self.advice = Advice::Turn { adjuster, turns, dial_to_mm: turning.dial_to_mm };
        self.turns_in_round += 1;
        self.changed = now;
        self.hinted = false;
        self.steady.clear();
        self.stage = Stage::Turn(Box::new(turning));
    }

    pub(super) fn watch_turn(&mut self, now: Duration) {
        let Stage::Turn(turning) = &mut self.stage else { return };
        let Some(gap_mm) = self.steady.last() else { return };
        if let Some(rest_mm) = self.steady.at_rest(now)
            && turning.is_there(rest_mm)
        {
            return self.turned(now, rest_mm, None, 1.0);
        }
        let left =
            turning.instruction.turns * (turning.dial_to_mm - gap_mm) / turning.predicted_mm();
        self.advice = Advice::Turn {
            adjuster: turning.instruction.adjuster,
            turns: left,
            dial_to_mm: turning.dial_to_mm,
        };
        let name = say!("{}", Name(&self.adjusters[turning.instruction.adjuster].name));
        if turning.goes_wrong(gap_mm) && !turning.wrong_way {
            turning.wrong_way = true;
            let sense = says::sense(turning.instruction.turns);
            let says = say!(
                "STOP: the gap goes the wrong way. If you turned {name} {sense} as told, say that you did: then it \
                 works the other way round. If not, turn back"
            );
            self.say(says, true);
        } else if !self.hinted && now.saturating_sub(self.changed) > NOTHING_HAPPENS {
            self.hinted = true;
            let says = say!(
                "the gap does not move. If you have turned {name} as told, say so; if it resists, do not force it, and \
                 say so too"
            );
            self.say(says, false);
        }
    }
}
