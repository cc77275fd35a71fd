//! A round's instructions, all of them at once and as they are told.

use super::{Instruction, Plan, Task, Watch};
use crate::trim::TrimError;
use crate::trim::influence::Influence;
use crate::trim::learn::{Predicted, Tracker};
use crate::trim::promise::as_told;

/// A round's instructions as they stand before the first of them is made.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    /// In their order.
    pub instructions: Vec<Instruction>,
    /// What they come to, and what they cost.
    pub plan: Plan,
    /// Least gap at any of the points after any of them, mm; `None` without instructions. Between
    /// two of them the gap is nowhere less, for it changes evenly with a turn.
    pub least_gap_mm: Option<f64>,
}

impl Instruction {
    /// The turn as it is told: of so many turns, the readings with it.
    fn told(self, turns: f64, task: &Task<'_>, influence: &Influence) -> Self {
        let more = turns - self.turns;
        let moved = |station: usize, to: Predicted| {
            let at = task.stations[station].at;
            let by_mm = more * influence.effect(at.x.0, at.y.0)[self.adjuster];
            Predicted { gap_mm: to.gap_mm + by_mm, ..to }
        };
        let watch = match self.watch {
            Watch::Reading { station, from, to, .. } => {
                let to = moved(station, to);
                Watch::Reading { station, from, to, outside_band: task.is_outside(to.gap_mm) }
            }
            count @ Watch::Count { .. } => count,
        };
        let then = self.then.map(|(station, to)| (station, moved(station, to)));
        Self { turns, watch, then, ..self }
    }
}

/// Plans a round and lists it: what [`Plan::next`] would say if every turn did as forecast, each
/// rounded as it is told; those after it make good what the rounding missed.
///
/// # Errors
/// As [`Plan::new`].
pub fn listed(task: &Task<'_>, tracker: &Tracker, made: &[f64; 3]) -> Result<Listed, TrimError> {
    let plan = Plan::new(task, tracker, made, None)?;
    let (mut steps, mut ahead) = (plan.clone(), tracker.clone());
    let (mut made, mut clipped) = (*made, None);
    let (mut instructions, mut least_gap_mm) = (Vec::new(), None::<f64>);
    while let Some(next) = steps.next(task, &ahead, &made, clipped)? {
        let next = next.told(as_told(next.turns, task.step), task, &ahead.influence());
        if next.turns == 0.0 {
            steps.done();
            continue;
        }
        ahead.turn(next.adjuster, next.turns);
        made[next.adjuster] += next.turns;
        if let Watch::Reading { station, .. } = next.watch {
            clipped = Some(station);
        }
        let gaps = ahead.spots(task.points).into_iter().map(|spot| spot.gap_mm);
        let least = gaps.fold(f64::INFINITY, f64::min);
        least_gap_mm = Some(least_gap_mm.map_or(least, |before| before.min(least)));
        instructions.push(next);
        steps.done();
    }
    Ok(Listed { instructions, plan, least_gap_mm })
}
