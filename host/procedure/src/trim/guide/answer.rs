//! What a turn came to: as told, the other way round, not at all.

use super::{Advice, Guide, Stage, Told};
use crate::trim::says;
use crate::trim::turning::LIVE_U_MM;
use skimgauge_metrology::trim::response::{Finding, ScrewHistory};
use skimgauge_model::{Sense, TurnNoticed};
use skimgauge_quantity::{Mm, Sentence, Turns, say};
use std::time::Duration;

impl Guide {
    /// The user turned as told, or by this many turns (clockwise), and the gap is not where it
    /// should be.
    pub(crate) fn turned_as_told(&mut self, now: Duration, counted: Option<f64>) {
        let Stage::Turn(turning) = &self.stage else { return };
        let Some(gap_mm) = self.steady.last() else {
            return self.say(say!("there is no good gap to judge that by: wait for one"), true);
        };
        let (adjuster, turns) =
            (turning.instruction.adjuster, counted.unwrap_or(turning.instruction.turns));
        let clockwise = turns > 0.0;
        let whole = &self.adjusters[adjuster];
        let left = if clockwise {
            whole.travel_clockwise.0 - self.made[adjuster]
        } else {
            whole.travel_anticlockwise.0 + self.made[adjuster]
        };
        let history = ScrewHistory {
            answered_this_way: self.answered[adjuster][usize::from(clockwise)],
            travel_left_turns: Some(left),
        };
        let finding = turning.found(gap_mm, counted, history);
        let name = whole.name.clone();
        let says = says::finding(&name, finding);
        match finding {
            Finding::AsPredicted => self.turned(now, gap_mm, counted, 1.0),
            Finding::Reversed => self.reversed(says),
            Finding::Slipping { share } => {
                self.notice(TurnNoticed::Slips);
                self.say(says, true);
                self.turned(now, gap_mm, counted, share);
            }
            Finding::Bottomed { share } => {
                self.notice(TurnNoticed::EndOfTravel);
                self.say(says, true);
                self.learn(gap_mm, counted, share);
                let whole = &mut self.adjusters[adjuster];
                if clockwise {
                    whole.travel_clockwise = Turns(self.made[adjuster].max(0.0));
                } else {
                    whole.travel_anticlockwise = Turns((-self.made[adjuster]).max(0.0));
                }
                self.replan();
                self.cannot_any_more();
                self.next_turn(now);
            }
            Finding::Moved { .. } => {
                self.notice(TurnNoticed::Moved);
                self.say(says, true);
                self.tell_turn(gap_mm, counted);
                // The head is seated again, and what it then reads decides: without the emitter's
                // having moved it is this.
                if let Some(tracker) = &mut self.tracker {
                    tracker.turn(adjuster, turns);
                    self.made[adjuster] += turns;
                }
                self.replan();
                self.seat = None;
                self.next_turn(now);
            }
        }
    }

    fn reversed(&mut self, says: Sentence) {
        let Stage::Turn(turning) = &mut self.stage else { return };
        let adjuster = turning.instruction.adjuster;
        turning.noticed.push(TurnNoticed::OtherWay);
        turning.instruction.turns *= -1.0;
        turning.wrong_way = false;
        self.advice = Advice::Turn {
            adjuster,
            turns: turning.instruction.turns,
            dial_to_mm: turning.dial_to_mm,
        };
        let whole = &mut self.adjusters[adjuster];
        whole.clockwise = match whole.clockwise {
            Sense::Out => Sense::In,
            Sense::In => Sense::Out,
        };
        let sense = says::sense(turning.instruction.turns);
        if let Some(tracker) = &mut self.tracker {
            tracker.reverse(adjuster);
        }
        self.say(say!("{says}. Turn it {sense} now, until the gap is where it should be"), true);
    }

    /// A turn is made, whatever came of it: learn, tell, and go on. `share`: of the turn that
    /// reached the plane.
    pub(super) fn turned(&mut self, now: Duration, gap_mm: f64, counted: Option<f64>, share: f64) {
        let as_planned = self.learn(gap_mm, counted, share);
        match &mut self.plan {
            Some(plan) if as_planned => plan.done(),
            _ => self.replan(),
        }
        self.next_turn(now);
    }

    /// Learns from a turn and tells of it; whether it went as planned.
    fn learn(&mut self, gap_mm: f64, counted: Option<f64>, share: f64) -> bool {
        self.tell_turn(gap_mm, counted);
        let Stage::Turn(turning) = &self.stage else { return false };
        let Some(tracker) = &mut self.tracker else { return false };
        let adjuster = turning.instruction.adjuster;
        let at = &self.stations[turning.station];
        let by_gap =
            turning.instruction.turns * (gap_mm - turning.before_mm) / turning.predicted_mm();
        let held = share > 0.7;
        // Where the screw did not hold, its count says nothing of the plane.
        let effective = if held { counted.unwrap_or(by_gap) } else { by_gap };
        tracker.turn(adjuster, effective);
        tracker.read(at.at.x.0, at.at.y.0, gap_mm, LIVE_U_MM);
        self.made[adjuster] += effective;
        if held {
            self.answered[adjuster][usize::from(effective > 0.0)] = true;
        }
        turning.instruction.whole && turning.is_there(gap_mm)
    }

    fn tell_turn(&mut self, gap_mm: f64, counted: Option<f64>) {
        let Stage::Turn(turning) = &self.stage else { return };
        self.told.push(Told::Observed {
            adjuster: turning.instruction.adjuster,
            turns: counted,
            station: turning.station,
            before_mm: turning.before_mm,
            after_mm: gap_mm,
            predicted_mm: turning.dial_to_mm,
            noticed: turning.noticed.clone(),
        });
    }

    /// After a screw's travel has turned out shorter: can it still be done?
    fn cannot_any_more(&mut self) {
        if let Some(plan) = &self.plan
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
        if let Stage::Turn(turning) = &mut self.stage {
            turning.noticed.push(what);
        }
    }
}
