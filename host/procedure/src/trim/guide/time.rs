//! How long it takes yet, for a person.

use super::{Guide, Stage};
use skimgauge_metrology::trim::plan::Task;

/// What a plan comes to before there is one: so many instructions of so many turns each.
const USUAL: (f64, f64) = (2.5, 1.0);

impl Guide {
    /// About so long until the verdict as left, s: takes, turns, takes again, the chance of another
    /// round with it. `None` where there is nothing more to do.
    pub(crate) fn seconds_left(&self) -> Option<f64> {
        let person = &self.of.person;
        let round_s = person.stations_s(self.of.stations.len());
        Some(match &self.work.stage {
            Stage::Over => return None,
            Stage::Clip { .. } | Stage::Turn(_) => self.turning_s() + round_s,
            Stage::Take => {
                let (as_found, untaken) = (self.work.as_found, self.untaken().count());
                let to_take = match as_found {
                    true => self.of.first.iter().filter(|at| !self.is_taken(**at)).count(),
                    false => untaken,
                };
                let turning_s = match self.planned() {
                    Some(plan) if plan.left() > 0 => plan.expected_s + round_s,
                    Some(_) => person.stations_s(untaken.saturating_sub(to_take)),
                    None if as_found => USUAL.0 * person.instruction_s(USUAL.1, true) + round_s,
                    None => 0.0,
                };
                person.stations_s(to_take) + turning_s
            }
        })
    }

    /// What is left of this round's turns, with the chance of another round.
    fn turning_s(&self) -> f64 {
        let (made, stands) = (self.work.made, self.stands);
        let Some(mut plan) = self.work.plan.clone() else { return 0.0 };
        let again_s = (1.0 - plan.chance) * Task::round_s(&self.of.person, self.of.stations.len());
        let left = plan.left() as f64;
        let next = self.asked(|task, tracker| plan.next(task, tracker, &made, stands));
        let turns = next.and_then(Result::ok).flatten().map_or(0.0, |next| next.turns.abs());
        let moved = matches!(self.work.stage, Stage::Clip { .. });
        self.of.person.instruction_s(turns, moved)
            + (left - 1.0).max(0.0) * self.of.person.instruction_s(USUAL.1, true)
            + again_s
    }
}
