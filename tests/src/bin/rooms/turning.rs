//! The turning of one round, by hands that count and that look.

use crate::trial::{LIVE_U_MM, SMALLEST_TURN, Trial};
use skimgauge_metrology::assess::MEASURABLE;
use skimgauge_metrology::plane::fit::PlaneFit;
use skimgauge_metrology::trim::learn::{Hand, Tracker};
use skimgauge_metrology::trim::plan::{Instruction, Plan, Task, Watch};
use skimgauge_metrology::trim::response::implied_turns;
use skimgauge_model::Sense;

impl Trial {
    /// An adjuster turned by count that moved the plane the other way.
    pub(super) fn reversed_by_count(&mut self, found: &PlaneFit) {
        let Some(before) = &self.before else { return };
        let influence = self.tracker.as_ref().map_or(self.influence, Tracker::influence);
        let Some(implied) = implied_turns(before, found, &influence) else { return };
        for adjuster in 0..3 {
            let (made, seems) = (self.counted[adjuster], implied.turns[adjuster]);
            let u_turns = implied.u_turns[adjuster].hypot(0.1 * made.abs() + 0.1);
            if made.abs() > 4.0 * u_turns && (seems + made).abs() < 0.5 * made.abs() {
                self.reverse(adjuster);
            }
        }
    }

    fn reverse(&mut self, adjuster: usize) {
        let whole = &mut self.adjusters[adjuster];
        whole.clockwise = if whole.clockwise == Sense::Out { Sense::In } else { Sense::Out };
        if let Some(tracker) = &mut self.tracker {
            tracker.reverse(adjuster);
            self.influence = tracker.influence();
        }
    }

    /// One round of turning; whether anything was turned.
    pub(super) fn turn(&mut self) -> Option<bool> {
        let (points, stations, adjusters) =
            (self.points(), self.stations.clone(), self.adjusters.clone());
        let task = Task {
            adjusters: &adjusters,
            points: &points,
            band: self.band,
            stations: &stations,
            measurable: MEASURABLE,
            smallest_turn: SMALLEST_TURN,
            worth_mm: 0.02,
            inside_mm: if self.survey.is_empty() { 1.0 } else { 0.2 },
            person: self.person,
            hand: Hand::default(),
            live_u_mm: LIVE_U_MM * 2f64.sqrt(),
            next_round_s: Task::round_s(&self.person, stations.len()),
        };
        let mut plan = Plan::new(&task, self.tracker.as_ref()?, &self.made, self.clipped).ok()?;
        let any = plan.left() > 0;
        let mut seat: Option<(usize, f64)> = None;
        loop {
            let seated = seat.map(|(at, _)| at);
            let next = plan.next(&task, self.tracker.as_ref()?, &self.made, self.clipped).ok()?;
            let Some(next) = next else { break };
            match next.watch {
                Watch::Count { sense_at } => self.by_count(next, sense_at),
                Watch::Reading { station, .. } if seated != Some(station) => {
                    // The head may still sit where the last take was; its seat is read anew.
                    if self.clipped != Some(station) {
                        self.clip(station);
                    }
                    let seat_mm = self.room.seat();
                    let at = &stations[station];
                    let live_mm = self.room.live_mm(at, seat_mm);
                    let tracker = self.tracker.as_mut()?;
                    tracker.seat(self.seating.u_mm);
                    tracker.read(at.at.x.0, at.at.y.0, live_mm, LIVE_U_MM);
                    seat = Some((station, seat_mm));
                    continue;
                }
                Watch::Reading { station, to, .. } => {
                    self.by_reading(next, station, seat?.1, to.gap_mm)?;
                }
            }
            plan.done();
        }
        if let Some(tracker) = &self.tracker {
            self.influence = tracker.influence();
        }
        Some(any)
    }

    fn by_count(&mut self, next: Instruction, sense_at: Option<usize>) {
        let (adjuster, mut turns) = (next.adjuster, next.turns);
        self.instructions += 1;
        self.seconds += self.person.instruction_s(turns, false);
        if self.goes_wrong(adjuster, turns, sense_at) {
            // Said, and turned back beyond.
            self.reverse(adjuster);
            turns = -turns;
            self.instructions += 1;
            self.seconds += self.person.instruction_s;
        }
        self.room.turn_by_count(adjuster, turns);
        self.made[adjuster] += turns;
        self.counted[adjuster] += turns;
        if let Some(tracker) = &mut self.tracker {
            tracker.turn(adjuster, turns);
        }
    }

    /// Whether the first quarter of a turn, which is then turned back, takes the gap the wrong way
    /// where the head is clipped on.
    fn goes_wrong(&mut self, adjuster: usize, turns: f64, sense_at: Option<usize>) -> bool {
        let Some(at) = sense_at.map(|k| self.stations[k].clone()) else { return false };
        let Some(tracker) = &self.tracker else { return false };
        let first = 0.25 * turns.signum();
        let effect_mm = tracker.influence().effect(at.at.x.0, at.at.y.0)[adjuster];
        let before_mm = self.room.live_mm(&at, 0.0);
        if turns.abs() < 0.5 || !self.room.is_seen(&at) {
            return false;
        }
        self.room.turn_watching(adjuster, first);
        let moved_mm = self.room.live_mm(&at, 0.0) - before_mm;
        let seen = self.room.is_seen(&at);
        self.room.turn_watching(adjuster, -first);
        seen && moved_mm / (first * effect_mm) < -0.2
    }

    /// Turns until the live reading is where it should be: the first turn as told, the rest by
    /// looking.
    fn by_reading(
        &mut self,
        next: Instruction,
        station: usize,
        seat_mm: f64,
        to_mm: f64,
    ) -> Option<()> {
        self.instructions += 1;
        self.seconds += self.person.instruction_s;
        let at = self.stations[station].clone();
        let adjuster = next.adjuster;
        let before_mm = self.room.live_mm(&at, seat_mm);
        let effect = |trial: &Self| {
            Some(trial.tracker.as_ref()?.influence().effect(at.at.x.0, at.at.y.0)[adjuster])
        };
        let mut effect_mm = effect(self)?;
        let within_mm = (0.0055 * effect_mm.abs()).clamp(0.02, 0.06);
        let (mut live_mm, mut reversed) = (before_mm, false);
        for step in 0..20 {
            if (to_mm - live_mm).abs() <= within_mm {
                break;
            }
            let mut turns = (to_mm - live_mm) / effect_mm;
            if step == 0 {
                // The first part of a turn shows which way it goes.
                turns = turns.clamp(-0.5, 0.5);
            }
            self.seconds += self.person.turn_s * turns.abs();
            self.room.turn_watching(adjuster, turns);
            let now_mm = self.room.live_mm(&at, seat_mm);
            let answered = (now_mm - live_mm) / (turns * effect_mm);
            if step == 0 && turns.abs() > 0.15 && answered < -0.2 && !reversed {
                // It goes the wrong way: said, and turned back beyond.
                reversed = true;
                self.reverse(adjuster);
                effect_mm = effect(self)?;
                self.instructions += 1;
                self.seconds += self.person.instruction_s;
            }
            live_mm = now_mm;
        }
        let turned = (live_mm - before_mm) / effect_mm;
        let tracker = self.tracker.as_mut()?;
        tracker.turn(adjuster, turned);
        tracker.read(at.at.x.0, at.at.y.0, live_mm, LIVE_U_MM);
        self.made[adjuster] += turned;
        Some(())
    }
}
