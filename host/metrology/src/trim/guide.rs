//! One turn at a time: which adjuster next, how far, where to watch it, and when to stop.
//!
//! The sequence of a round is planned once, so that it keeps clear of the board. How far each turn
//! goes is solved anew before it, from everything the readings have told by then, with the
//! adjusters that this round has not finished yet. The error of one turn is so made good by the
//! next, and the last turn of a round, which is dialled to a live reading, leaves only what the
//! readings themselves do not know.

use super::TrimError;
use super::learn::{Predicted, Tracker};
use super::order::{Watched, order};
use super::solve::{Setting, Spot, solve, travel};
use crate::assess::live_station;
use crate::plane::board::ControlPoint;
use skimgauge_model::{Adjuster, Station};
use skimgauge_quantity::{Band, Mm};

/// What stays the same for a whole trim.
#[derive(Debug, Clone, Copy)]
pub struct Aim<'a> {
    /// The emitter's adjusters.
    pub adjusters: &'a [Adjuster; 3],
    /// Where the gap must be in the band.
    pub points: &'a [ControlPoint],
    /// What the gap may be, mm.
    pub band: Band<Mm>,
    /// Stations where the live gap may be watched.
    pub live: &'a [Station],
    /// Gap below which the plane must not come to the board on the way, mm.
    pub guard_mm: f64,
    /// Gaps that the head can measure, mm.
    pub measurable: Band<Mm>,
    /// A setting that gains less margin than this, mm, is not worth a hand on the adjuster.
    pub worth_mm: f64,
}

/// A gap that stays so much farther off than the guard needs no second look, mm.
const FAR_MM: f64 = 3.0;

/// A part of a turn smaller than this share of it is not worth a hand on the adjuster.
const LEAST_PART: f64 = 0.1;

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
    /// Whether each turn has a station where the head can measure it from beginning to end.
    pub seen: bool,
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
    /// Whether this is all of the planned turn: where the head could not measure its end, only a
    /// part is given, and a new plan must follow.
    pub whole: bool,
}

impl Plan {
    /// Plans a round. `made` is what has been turned since the job's travel was noted, clockwise by
    /// adjuster. A plan without turns says that nothing is worth turning.
    ///
    /// # Errors
    /// [`TrimError`] without control points, or where the numbers cannot be worked with.
    pub fn new(aim: &Aim<'_>, tracker: &Tracker, made: &[f64; 3]) -> Result<Self, TrimError> {
        let (spots, setting) = setting(aim, tracker, made, [true; 3])?;
        let stations: Vec<Spot> = aim
            .live
            .iter()
            .map(|s| Spot {
                x_mm: s.at.x.0,
                y_mm: s.at.y.0,
                gap_mm: tracker.unseated(s.at.x.0, s.at.y.0).gap_mm,
            })
            .collect();
        let watched = Watched { stations: &stations, measurable: aim.measurable };
        let way = order(&spots, &tracker.influence(), &setting.turns, aim.guard_mm, Some(watched));
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
            seen: way.seen,
        })
    }

    /// Turns still to come.
    pub fn left(&self) -> usize {
        self.steps.len() - self.next
    }

    /// Where the next turn is watched, an index into the aim's stations: clip the head on there and
    /// read the live gap into the tracker before asking for the turn. `last` is where the head
    /// is clipped now. `None` after the last turn.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn station(
        &self,
        aim: &Aim<'_>,
        tracker: &Tracker,
        made: &[f64; 3],
        last: Option<usize>,
    ) -> Result<Option<usize>, TrimError> {
        let Some(step) = self.steps.get(self.next) else { return Ok(None) };
        let turns = self.turns(aim, tracker, made, *step)?;
        let influence = tracker.influence();
        let ends = |k: usize| {
            let station = &aim.live[k];
            let now_mm = tracker.unseated(station.at.x.0, station.at.y.0).gap_mm;
            let change_mm = turns * influence.effect(station.at.x.0, station.at.y.0)[step.adjuster];
            (station, [now_mm, now_mm + change_mm])
        };
        Ok(live_station(aim.live.len(), ends, &influence, step.adjuster, last, aim.measurable))
    }

    fn turns(
        &self,
        aim: &Aim<'_>,
        tracker: &Tracker,
        made: &[f64; 3],
        step: Step,
    ) -> Result<f64, TrimError> {
        let ahead = &self.steps[self.next..];
        let free = [0, 1, 2].map(|i| ahead.iter().any(|s| s.adjuster == i));
        let (_, setting) = setting(aim, tracker, made, free)?;
        Ok(setting.turns[step.adjuster] * step.share)
    }

    /// The next turn, solved from all that is known now; `None` after the last. Asking again before
    /// [`Self::done`] gives the same turn from newer readings. Where the gap at the station
    /// would leave what the head can measure, the turn ends there.
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
        let mut turns = self.turns(aim, tracker, made, *step)?;
        let now_mm = tracker.live(station.at.x.0, station.at.y.0).gap_mm;
        let per_turn_mm = tracker.influence().effect(station.at.x.0, station.at.y.0)[step.adjuster];
        let end_mm = now_mm + turns * per_turn_mm;
        let reached_mm =
            end_mm.clamp(aim.measurable.low.0.min(now_mm), aim.measurable.high.0.max(now_mm));
        let seen =
            if reached_mm == end_mm { 1.0 } else { (reached_mm - now_mm) / (end_mm - now_mm) };
        let share = seen.min(clear_share(aim, tracker, step.adjuster, turns));
        // A part too small to be worth a hand would only be followed by the same again.
        let whole = !(LEAST_PART..1.0).contains(&share);
        if !whole {
            turns *= share;
        }
        Ok(Some(Instruction {
            adjuster: step.adjuster,
            turns,
            station: station.clone(),
            dial_to: tracker.after_turn(step.adjuster, turns, station.at.x.0, station.at.y.0),
            whole,
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

/// The share of a turn after which the plane still keeps off the board by the guard, with twice
/// what is not known of it now; one where it keeps off all the way, or does not come nearer than it
/// is.
fn clear_share(aim: &Aim<'_>, tracker: &Tracker, adjuster: usize, turns: f64) -> f64 {
    let influence = tracker.influence();
    let least = aim.guard_mm.min(aim.band.low.0);
    let spots = tracker.spots(aim.points);
    spots.iter().zip(aim.points).fold(1.0, |share: f64, (spot, point)| {
        let change_mm = turns * influence.effect(spot.x_mm, spot.y_mm)[adjuster];
        if change_mm >= 0.0 || spot.gap_mm + change_mm > least + FAR_MM {
            return share;
        }
        let spare_mm = spot.gap_mm - least - 2.0 * tracker.u_gap_mm(point);
        if spare_mm + change_mm >= 0.0 {
            share
        } else {
            share.min((spare_mm / -change_mm).max(0.0))
        }
    })
}

fn margin_now(spots: &[Spot], band: Band<Mm>) -> f64 {
    spots.iter().map(|s| band.inside(Mm(s.gap_mm)).0).fold(f64::INFINITY, f64::min)
}
