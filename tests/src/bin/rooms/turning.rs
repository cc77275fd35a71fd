//! The turning of one round, by hands that count and that look.

use crate::board::{HEIGHT_MM, WIDTH_MM};
use crate::trial::Trial;
use skimgauge_metrology::assess::{
    LIVE_CHANGE_U_MM, MEASURABLE, SMALLEST_TURN, WORTH_MM, wanted_inside_mm, watched,
};
use skimgauge_metrology::trim::learn::Hand;
use skimgauge_metrology::trim::plan::{Instruction, Plan, Task, Watch};
use skimgauge_metrology::trim::response::{LIVE_U_MM, WRONG_MM, WRONG_SHARE, WRONG_WITHIN};
use skimgauge_model::Image;

impl Trial {
    /// One round of turning; whether anything was turned.
    pub(super) fn turn(&mut self) -> Option<bool> {
        let (points, stations, adjusters) =
            (self.points(), self.stations.clone(), self.learner.adjusters().clone());
        let held = Image::mm(WIDTH_MM, HEIGHT_MM).held(&stations);
        let task = Task {
            adjusters: &adjusters,
            points: &points,
            band: self.band,
            stations: &stations,
            held: &held,
            measurable: watched(MEASURABLE),
            smallest_turn: SMALLEST_TURN,
            step: None,
            worth_mm: WORTH_MM,
            inside_mm: wanted_inside_mm(!self.survey.is_empty()),
            person: self.person,
            hand: Hand::default(),
            live_u_mm: LIVE_CHANGE_U_MM,
            seat_u_mm: self.seating.u_mm,
            reads_after_count: false,
            next_round_s: Task::round_s(&self.person, stations.len()),
        };
        let mut plan = Plan::new(&task, self.learner.tracker()?, &self.made, self.clipped).ok()?;
        let any = plan.left() > 0;
        let mut seat: Option<(usize, f64)> = None;
        self.tell(|_| format!("  {plan:?}"));
        loop {
            let seated = seat.map(|(at, _)| at);
            let next = plan.next(&task, self.learner.tracker()?, &self.made, self.clipped).ok()?;
            let Some(next) = next else { break };
            match next.watch {
                Watch::Count { sense_at } => self.by_count(next, sense_at),
                Watch::Reading { station, .. } if seated != Some(station) => {
                    // The head may still sit where the last take was; its seat is read anew.
                    if self.clipped != Some(station) {
                        self.clip(station);
                    }
                    let at = &stations[station];
                    let seat_mm = self.room.seat_at(at);
                    let live_mm = self.room.live_mm(at, seat_mm);
                    let tracker = self.learner.tracker_mut()?;
                    tracker.seat(self.seating.u_mm);
                    tracker.read(at.at.x.0, at.at.y.0, live_mm, LIVE_U_MM);
                    seat = Some((station, seat_mm));
                    continue;
                }
                Watch::Reading { station, to, .. } => {
                    self.by_reading(next, station, seat?.1, to.gap_mm);
                }
            }
            plan.done();
        }
        Some(any)
    }

    fn by_count(&mut self, next: Instruction, sense_at: Option<usize>) {
        self.tell(|_| format!("  {next:?}"));
        let (adjuster, mut turns) = (next.adjuster, next.turns);
        self.instructions += 1;
        self.seconds += self.person.instruction_s(turns, false);
        if self.goes_wrong(adjuster, turns, sense_at) {
            // Said, and turned back beyond.
            self.tell(|_| format!("  {adjuster} works the other way round"));
            self.learner.reverse(adjuster);
            turns = -turns;
            self.instructions += 1;
            self.seconds += self.person.instruction_s;
        }
        self.room.turn_by_count(adjuster, turns);
        self.made[adjuster] += turns;
        self.learner.counted(adjuster, turns);
    }

    /// Whether the gap goes the wrong way where the head is clipped on, before half a turn is made: it
    /// is then turned back.
    fn goes_wrong(&mut self, adjuster: usize, turns: f64, sense_at: Option<usize>) -> bool {
        const STEP_TURNS: f64 = 0.05;
        let Some(at) = sense_at.map(|k| self.stations[k].clone()) else { return false };
        let effect_mm = self.learner.influence().effect(at.at.x.0, at.at.y.0)[adjuster];
        let most_mm = effect_mm.abs() * turns.abs().min(WRONG_WITHIN);
        let before_mm = self.room.live_mm(&at, 0.0);
        let step = STEP_TURNS * turns.signum();
        let (mut made, mut wrong) = (0.0, false);
        while f64::abs(made) < turns.abs().min(WRONG_WITHIN) && self.room.is_seen(&at) && !wrong {
            self.room.turn_watching(adjuster, step);
            made += step;
            let along_mm = (self.room.live_mm(&at, 0.0) - before_mm) * (step * effect_mm).signum();
            wrong = self.room.is_seen(&at) && along_mm < -(WRONG_SHARE * most_mm).max(WRONG_MM);
        }
        self.room.turn_watching(adjuster, -made);
        wrong
    }

    /// Turns until the live reading is where it should be: the first turn as told, the rest by
    /// looking.
    fn by_reading(&mut self, next: Instruction, station: usize, seat_mm: f64, to_mm: f64) {
        /// Less of a turn shows no sense, turns: there is play in the thread.
        const FIRST_TELLS: f64 = 0.15;
        self.tell(|_| format!("  {next:?}"));
        self.instructions += 1;
        self.seconds += self.person.instruction_s;
        let at = self.stations[station].clone();
        let adjuster = next.adjuster;
        let before_mm = self.room.live_mm(&at, seat_mm);
        let effect =
            |trial: &Self| trial.learner.influence().effect(at.at.x.0, at.at.y.0)[adjuster];
        let mut effect_mm = effect(self);
        let within_mm = Hand::stops_within_mm(effect_mm);
        let (mut live_mm, mut reversed) = (before_mm, false);
        for step in 0..20 {
            if (to_mm - live_mm).abs() <= within_mm {
                break;
            }
            let mut turns = (to_mm - live_mm) / effect_mm;
            if step == 0 {
                // The first part of a turn shows which way it goes.
                turns = turns.clamp(-WRONG_WITHIN, WRONG_WITHIN);
            }
            self.seconds += self.person.turn_s * turns.abs();
            self.room.turn_watching(adjuster, turns);
            let now_mm = self.room.live_mm(&at, seat_mm);
            let answered = (now_mm - live_mm) / (turns * effect_mm);
            let wrong_way = step == 0 && turns.abs() > FIRST_TELLS && answered < -WRONG_SHARE;
            let away_mm = (to_mm - now_mm).abs() - (to_mm - before_mm).abs();
            if (wrong_way || away_mm > 4.0 * LIVE_U_MM) && !reversed {
                // It goes the wrong way: said, and turned back beyond.
                reversed = true;
                self.tell(|_| format!("  {adjuster} works the other way round"));
                self.learner.reverse(adjuster);
                effect_mm = effect(self);
                self.instructions += 1;
                self.seconds += self.person.instruction_s;
            }
            live_mm = now_mm;
        }
        let turned = (live_mm - before_mm) / effect_mm;
        self.learner.watched(adjuster, turned, (at.at.x.0, at.at.y.0), live_mm, LIVE_U_MM);
        self.made[adjuster] += turned;
    }
}
