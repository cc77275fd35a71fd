//! Rounds that are over, learnt from as they were when they were made: from the record, or from a
//! table.

use super::response::{Answer, Finding, LIVE_U_MM, ScrewHistory};
use super::rounds::{Learner, Off, Shown};
use crate::plane::apart::{FarApart, far_apart};
use crate::plane::board::Board;
use crate::plane::consistency::Odd;
use crate::plane::fit::{PlaneFit, fit};
use crate::plane::observation::Observations;

/// The live gap before and after a turn, at one seat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadTurn {
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// The gap before it, mm.
    pub before_mm: f64,
    /// The gap after it, mm.
    pub after_mm: f64,
}

/// A turn of an earlier round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EarlierTurn {
    /// The adjuster, by its place; below three.
    pub adjuster: usize,
    /// As counted, clockwise positive, if anybody counted.
    pub turns: Option<f64>,
    /// The gap before and after it, if it was watched.
    pub read: Option<ReadTurn>,
    /// It was found then that the adjuster works the other way round than the job says.
    pub reversed: bool,
    /// Something else was noticed of it: what its numbers say against one another is explained.
    pub noticed: bool,
}

/// An earlier round: its takes, and what was turned after them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EarlierRound {
    /// The takes.
    pub observations: Observations,
    /// The turns, in their order.
    pub turns: Vec<EarlierTurn>,
    /// Something was moved after it that no turn tells of.
    pub lost: bool,
}

/// What rounds say against themselves.
#[derive(Debug, Clone, PartialEq)]
pub struct Wrong {
    /// The round, by its place; as many as there are: the readings that follow them.
    pub round: usize,
    /// What.
    pub what: Contradicts,
}

/// A contradiction within a round, or of a round with the turns before it.
#[derive(Debug, Clone, PartialEq)]
pub enum Contradicts {
    /// One place was read twice, far apart.
    Twice(FarApart),
    /// The readings of the round contradict one another.
    Readings(Odd),
    /// What the round before and its turns come to is not what was read.
    Turns(Off),
    /// A turn's count and its readings do not go together.
    Turn {
        /// By its place among the round's turns.
        turn: usize,
        /// What they would mean.
        finding: Finding,
    },
}

impl Wrong {
    /// What the readings of a round say against one another.
    pub fn within(
        round: usize,
        observations: &Observations,
        found: Option<&PlaneFit>,
    ) -> Vec<Self> {
        let twice = far_apart(&observations.gaps).into_iter().map(Contradicts::Twice);
        let mut wrong: Vec<Self> = twice.map(|what| Self { round, what }).collect();
        // Of a place that was read twice far apart more need not be said.
        if wrong.is_empty()
            && let Some(odd) = found.and_then(PlaneFit::contradiction)
            && !odd.came_back()
        {
            wrong.push(Self { round, what: Contradicts::Readings(odd.clone()) });
        }
        wrong
    }

    /// What a round's readings say against the turns before it.
    pub fn turned(round: usize, shown: &Shown) -> Option<Self> {
        shown.off.map(|off| Self { round, what: Contradicts::Turns(off) })
    }
}

/// What rounds that are over come to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Replayed {
    /// What was turned in all, clockwise by adjuster.
    pub made: [f64; 3],
    /// What they say against themselves.
    pub wrong: Vec<Wrong>,
}

/// Where the head stands to watch, right of the image's middle and above its top edge, mm.
type Place = (f64, f64);

impl Learner {
    /// Learns from rounds that are over, as it would have then. `seat_u_mm`: a seat's own error,
    /// standard uncertainty. A turn that nobody counted or watched leaves the plane unknown.
    pub fn replay(&mut self, rounds: &[EarlierRound], board: &Board, seat_u_mm: f64) -> Replayed {
        let mut replayed = Replayed::default();
        for (at, round) in rounds.iter().enumerate() {
            let mut found = fit(&round.observations, board).ok();
            if let Some(found) = &mut found {
                found.consistency.held_to_seats(&round.observations.gaps, seat_u_mm);
            }
            replayed.wrong.extend(Wrong::within(at, &round.observations, found.as_ref()));
            match &found {
                Some(found) => {
                    let shown = self.round(&round.observations, found, board);
                    replayed.wrong.extend(Wrong::turned(at, &shown));
                }
                None => self.few(&round.observations),
            }
            // The head stays where it is for the next turn that is watched there.
            let mut seat = None;
            for (of, turn) in round.turns.iter().enumerate() {
                let finding = self.found(turn);
                let as_told = matches!(finding, Finding::AsPredicted | Finding::Reversed);
                if !as_told && !turn.noticed {
                    let what = Contradicts::Turn { turn: of, finding };
                    replayed.wrong.push(Wrong { round: at, what });
                }
                let turned = self.replay_turn(turn, finding, &mut seat, seat_u_mm);
                replayed.made[turn.adjuster.min(2)] += turned;
            }
            if round.lost {
                self.lose_plane();
            }
        }
        replayed
    }

    fn replay_turn(
        &mut self,
        turn: &EarlierTurn,
        found: Finding,
        seat: &mut Option<Place>,
        seat_u_mm: f64,
    ) -> f64 {
        let adjuster = turn.adjuster.min(2);
        if turn.reversed || found == Finding::Reversed {
            self.reverse(adjuster);
        }
        // What moved the head or the emitter tells nothing of the turn.
        let moved = matches!(found, Finding::Moved { .. });
        let by_gap = turn.read.filter(|_| !moved).and_then(|read| {
            let turns = (read.after_mm - read.before_mm) / self.per_turn_mm(adjuster, &read);
            turns.is_finite().then_some((read, turns))
        });
        match (by_gap, turn.turns) {
            (Some((read, turns)), _) => {
                let at = (read.x_mm, read.y_mm);
                if *seat != Some(at)
                    && let Some(tracker) = self.tracker_mut()
                {
                    tracker.seat(seat_u_mm);
                    tracker.read(at.0, at.1, read.before_mm, LIVE_U_MM);
                }
                *seat = Some(at);
                self.watched(adjuster, turns, at, read.after_mm, LIVE_U_MM);
                turns
            }
            (None, Some(turns)) => {
                self.counted(adjuster, turns);
                turns
            }
            (None, None) => {
                self.lose_plane();
                0.0
            }
        }
    }

    /// What a turn that was counted and watched shows of its adjuster. One that was found to work
    /// the other way round when it was made is not found to again.
    fn found(&self, turn: &EarlierTurn) -> Finding {
        let (Some(read), Some(turns), false) = (turn.read, turn.turns, turn.reversed) else {
            return Finding::AsPredicted;
        };
        let per_turn_mm = self.per_turn_mm(turn.adjuster.min(2), &read);
        let answer = Answer::watched(turns, per_turn_mm, read.after_mm - read.before_mm);
        Finding::watched(&answer, ScrewHistory::default())
    }

    fn per_turn_mm(&self, adjuster: usize, read: &ReadTurn) -> f64 {
        self.influence().effect(read.x_mm, read.y_mm)[adjuster]
    }
}
