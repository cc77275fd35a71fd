//! Turns that are each too small to tell, and that come to nothing together: over several rounds an
//! adjuster that does not hold shows.

use super::influence::Influence;
use super::learn::Hand;
use super::replay::{Contradicts, EarlierRound, Wrong};
use super::response::{Finding, Implied, implied_turns};
use crate::plane::board::Board;
use crate::plane::fit::{PlaneFit, fit};

/// Turns show from so many standard uncertainties on.
const SHOWS: f64 = 4.0;

/// An adjuster that follows by less than this share of its turns does not hold.
const HOLDS_FROM: f64 = 0.7;

/// Turns since a round, by adjuster: how many, and the variance of how well hands make them.
#[derive(Clone, Copy, Default)]
struct Made {
    turns: [f64; 3],
    variance: [f64; 3],
}

impl Made {
    /// With those of a round; `None` where one of them is not known by its count, or is explained.
    fn with(mut self, round: &EarlierRound, hand: Hand) -> Option<Self> {
        if round.lost {
            return None;
        }
        for turn in &round.turns {
            let turns = turn.turns.filter(|_| !turn.reversed && !turn.noticed)?;
            let adjuster = turn.adjuster.min(2);
            self.turns[adjuster] += turns;
            self.variance[adjuster] += hand.u_turns.powi(2) + (hand.u_share * turns).powi(2);
        }
        Some(self)
    }

    /// How the plane answered to them: each adjuster's share where it tells, and whether all others
    /// answered as they should.
    fn slipping(&self, implied: &Implied) -> Option<(usize, f64)> {
        let u = |at: usize| implied.u_turns[at].hypot(self.variance[at].sqrt());
        let off = |at: usize| (implied.turns[at] - self.turns[at]).abs() > SHOWS * u(at);
        let slips = |at: &usize| off(*at) && self.turns[*at].abs() > SHOWS * u(*at);
        let at = (0..3).find(slips)?;
        let share = implied.turns[at] / self.turns[at];
        let alone = (0..3).all(|other| other == at || !off(other));
        (alone && (-0.5..HOLDS_FROM).contains(&share)).then_some((at, share))
    }
}

/// The adjusters that did not hold over these rounds, `here` the plane after the last of them.
pub fn slipping(
    rounds: &[EarlierRound],
    here: Option<&PlaneFit>,
    board: &Board,
    influence: &Influence,
) -> Vec<Wrong> {
    let planes: Vec<Option<PlaneFit>> =
        rounds.iter().map(|round| fit(&round.observations, board).ok()).collect();
    let mut wrong = Vec::new();
    let (mut since, mut made) = (0, Made::default());
    for (at, round) in rounds.iter().enumerate() {
        let Some(all) = made.with(round, Hand::default()) else {
            (since, made) = (at + 1, Made::default());
            continue;
        };
        made = all;
        let after = planes.get(at + 1).map_or(here, Option::as_ref);
        let both = planes[since].as_ref().zip(after);
        let implied = both.and_then(|(before, after)| implied_turns(before, after, influence));
        let Some((adjuster, share)) = implied.and_then(|implied| made.slipping(&implied)) else {
            continue;
        };
        if let Some(turn) = round.turns.iter().rposition(|turn| turn.adjuster == adjuster) {
            let finding = Finding::Slipping { share: share.max(0.0) };
            wrong.push(Wrong { round: at, what: Contradicts::Turn { turn, finding } });
        }
        (since, made) = (at + 1, Made::default());
    }
    wrong
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plane::observation::{GapObservation, Observations};
    use crate::trim::replay::EarlierTurn;
    use skimgauge_model::{Adjuster, Point, Sense};
    use skimgauge_quantity::{Mm, Turns};

    const PLACES: [(f64, f64); 8] = [
        (-950.0, 0.0),
        (0.0, 0.0),
        (950.0, 0.0),
        (950.0, -630.0),
        (950.0, -1260.0),
        (0.0, -1260.0),
        (-950.0, -1260.0),
        (-950.0, -630.0),
    ];

    fn influence() -> Influence {
        let adjuster = |(x, y)| Adjuster {
            name: String::new(),
            at: Point::mm(x, y),
            pitch: Mm(0.5),
            clockwise: Sense::Out,
            travel_clockwise: Turns(20.0),
            travel_anticlockwise: Turns(20.0),
        };
        Influence::of(&[(-100.0, 80.0), (100.0, 80.0), (0.0, 140.0)].map(adjuster)).unwrap()
    }

    /// Rounds of one turn of the left adjuster each, of which so much arrives; their plane at the end.
    fn told(turns: f64, share: f64, rounds: usize) -> Vec<Wrong> {
        let board = Board::flat();
        let influence = influence();
        let read = |arrived: f64| {
            let gap = |&(x, y): &(f64, f64)| 2.5 + arrived * influence.effect(x, y)[0];
            let gaps = PLACES.iter().map(|at| GapObservation::bare(at.0, at.1, gap(at), 0.06));
            Observations { gaps: gaps.collect(), lean: None, shared: Vec::new() }
        };
        let turn = EarlierTurn {
            adjuster: 0,
            turns: Some(turns),
            read: None,
            reversed: false,
            noticed: false,
        };
        let round = |at: usize| EarlierRound {
            observations: read(at as f64 * turns * share),
            turns: vec![turn],
            lost: false,
        };
        let all: Vec<EarlierRound> = (0..rounds).map(round).collect();
        let here = fit(&read(rounds as f64 * turns * share), &board).unwrap();
        slipping(&all, Some(&here), &board, &influence)
    }

    /// A fifth of a turn may be a hand's error and the thread's play once. Not three times.
    #[test]
    fn what_never_answers_is_told_before_it_is_turned_once_more() {
        assert!(told(0.2, 0.0, 1).is_empty());
        let wrong = told(0.2, 0.0, 4);
        assert!(!wrong.is_empty() && wrong.iter().all(|wrong| wrong.round < 4), "{wrong:?}");
        let of = |wrong: &Wrong| matches!(wrong.what, Contradicts::Turn { turn: 0, finding: Finding::Slipping { share } } if share.abs() < 0.2);
        assert!(wrong.iter().all(of), "{wrong:?}");
    }

    #[test]
    fn what_answers_as_it_should_is_not_told() {
        for share in [0.9, 1.0, 1.1] {
            assert!(told(0.2, share, 4).is_empty(), "{share}");
            assert!(told(1.5, share, 4).is_empty(), "{share}");
        }
    }
}
