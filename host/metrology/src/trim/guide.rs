//! One turn at a time: which adjuster next, how far, where to watch it, and when to stop.
//!
//! The sequence of a round is planned once, so that it keeps clear of the board. How far each turn goes is solved anew
//! before it, from everything the readings have told by then, with the adjusters that this round has not finished yet. The
//! error of one turn is so made good by the next, and the last turn of a round, which is dialled to a live reading, leaves
//! only what the readings themselves do not know.

use super::TrimError;
use super::learn::{Predicted, Tracker};
use super::order::order;
use super::solve::{Setting, Spot, solve, travel};
use crate::adjuster::Adjuster;
use crate::assess::live_station;
use crate::band::Band;
use crate::plane::board::ControlPoint;
use crate::station::Station;

/// What stays the same for a whole trim.
#[derive(Debug, Clone, Copy)]
pub struct Aim<'a> {
    /// The emitter's screws.
    pub adjusters: &'a [Adjuster; 3],
    /// Where the gap must be in the band.
    pub points: &'a [ControlPoint],
    /// What the gap may be, mm.
    pub band: Band,
    /// Stations where the live gap may be watched.
    pub live: &'a [Station],
    /// Gap below which the plane must not come to the board on the way, mm.
    pub guard_mm: f64,
    /// A setting that gains less margin than this, mm, is not worth a hand on the screw.
    pub worth_mm: f64,
}

/// One planned turn: this share of what the adjuster still has to make when its turn comes.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Step {
    adjuster: usize,
    share: f64,
}

/// The turns of one round, first to last.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    steps: Vec<Step>,
    next: usize,
    /// Margin that the whole setting comes to, mm.
    pub margin_mm: f64,
    /// Whether the plane stays clear of the board all the way.
    pub clear: bool,
}

/// The next turn.
#[derive(Debug, Clone, PartialEq)]
pub struct Instruction {
    /// Index into the adjusters.
    pub adjuster: usize,
    /// Clockwise turns; negative is anticlockwise.
    pub turns: f64,
    /// Where to watch it.
    pub station: Station,
    /// What the live gap there should come to.
    pub dial_to: Predicted,
}

impl Plan {
    /// Plans a round. `made` is what has been turned since the job's travel was noted, clockwise by adjuster. A plan
    /// without turns says that nothing is worth turning.
    ///
    /// # Errors
    /// [`TrimError`] without control points, or where the numbers cannot be worked with.
    pub fn new(aim: &Aim<'_>, tracker: &Tracker, made: &[f64; 3]) -> Result<Self, TrimError> {
        let (spots, setting) = setting(aim, tracker, made, [true; 3])?;
        let way = order(&spots, &tracker.influence(), &setting.turns, aim.guard_mm);
        let mut left = setting.turns;
        let steps = way.turns.iter().map(|turn| {
            let share = turn.turns / left[turn.adjuster];
            left[turn.adjuster] -= turn.turns;
            Step { adjuster: turn.adjuster, share: if share > 1.0 - 1e-9 { 1.0 } else { share } }
        });
        let worth = setting.margin_mm - margin_now(&spots, aim.band) >= aim.worth_mm;
        Ok(Self {
            steps: if worth { steps.collect() } else { Vec::new() },
            next: 0,
            margin_mm: setting.margin_mm,
            clear: way.clear,
        })
    }

    /// Turns still to come.
    pub fn left(&self) -> usize {
        self.steps.len() - self.next
    }

    /// Where the next turn is watched: clip the head on there and read the live gap into the tracker before asking for
    /// the turn. `last` is where the head is clipped now. `None` after the last turn.
    pub fn station<'a>(&self, aim: &Aim<'a>, tracker: &Tracker, last: Option<&'a Station>) -> Option<&'a Station> {
        let step = self.steps.get(self.next)?;
        live_station(aim.live, &tracker.influence(), step.adjuster, last)
    }

    /// The next turn, solved from all that is known now; `None` after the last. Asking again before [`Self::done`] gives
    /// the same turn from newer readings.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn instruction(
        &self,
        aim: &Aim<'_>,
        tracker: &Tracker,
        made: &[f64; 3],
        station: &Station,
    ) -> Result<Option<Instruction>, TrimError> {
        let Some(step) = self.steps.get(self.next) else { return Ok(None) };
        let ahead = &self.steps[self.next..];
        let free = [0, 1, 2].map(|i| ahead.iter().any(|s| s.adjuster == i));
        let (_, setting) = setting(aim, tracker, made, free)?;
        let turns = setting.turns[step.adjuster] * step.share;
        Ok(Some(Instruction {
            adjuster: step.adjuster,
            turns,
            station: station.clone(),
            dial_to: tracker.after_turn(step.adjuster, turns, station.x_mm, station.y_mm),
        }))
    }

    /// The turn has been made, or passed over.
    pub fn done(&mut self) {
        self.next = (self.next + 1).min(self.steps.len());
    }
}

fn setting(
    aim: &Aim<'_>,
    tracker: &Tracker,
    made: &[f64; 3],
    free: [bool; 3],
) -> Result<(Vec<Spot>, Setting), TrimError> {
    let spots = tracker.spots(aim.points);
    let whole = travel(aim.adjusters);
    let travel = [0, 1, 2].map(|i| match free[i] {
        true => ((whole[i].0 - made[i]).min(0.0), (whole[i].1 - made[i]).max(0.0)),
        false => (0.0, 0.0),
    });
    let setting = solve(&spots, &tracker.influence(), &travel, aim.band, None)?;
    Ok((spots, setting))
}

fn margin_now(spots: &[Spot], band: Band) -> f64 {
    spots.iter().map(|s| (s.gap_mm - band.low).min(band.high - s.gap_mm)).fold(f64::INFINITY, f64::min)
}
