//! An adjuster whose thread is not of the pitch that the job file says: in every round a turn of it
//! does the same part of what it should.
//!
//! One that slips does now more, now less. So a share is taken for a pitch only where at least two
//! rounds tell it, each by itself, and agree.

use super::influence::Influence;
use super::learn::Hand;
use crate::coverage::chi_square_tail;
use crate::plane::fit::CONTRADICTION_TAIL;
use crate::plane::observation::GapObservation;
use crate::plane::refusal::SAME_PLACE_MM;
use nalgebra::{Matrix3, Vector3};

/// A round tells a share from none and from a whole one from so many standard uncertainties on; one
/// that is as far off the share of all rounds is of another.
const TELLS: f64 = 3.0;
/// So many rounds, each by itself, make a pitch.
const ROUNDS: usize = 2;
/// Shares that a thread of another pitch may have. Less, for all that is known, does not hold.
const SHARES: (f64, f64) = (0.3, 3.5);
/// Nearer to what the job file says it is learnt with the rest.
const AS_SAID: (f64, f64) = (0.7, 1.4);

/// What was counted between two rounds, and how the gaps changed at the places of both.
#[derive(Debug, Clone, PartialEq)]
struct Interval {
    /// Clockwise turns by adjuster; `None` where they were not known by their count alone.
    counted: [Option<f64>; 3],
    /// Each place: what one turn of each adjuster does there, how the gap changed, and the weight of
    /// that, mm.
    changes: Vec<(Vector3<f64>, f64, f64)>,
}

/// The turns that explain an interval, of the pitches in the job file.
struct Seems {
    turns: Vector3<f64>,
    u: Vector3<f64>,
    /// What they leave, with its degrees of freedom.
    chi_square: f64,
    free: usize,
}

impl Interval {
    /// What the board is at a place, and what all readings share, falls out. `None` where nothing
    /// was read at one place in both rounds.
    fn of(
        (before, after): (&[GapObservation], &[GapObservation]),
        influence: &Influence,
        counted: [Option<f64>; 3],
    ) -> Option<Self> {
        let near = |a: &GapObservation, b: &GapObservation| {
            (a.x_mm - b.x_mm).hypot(a.y_mm - b.y_mm) <= SAME_PLACE_MM
        };
        let change = |now: &GapObservation| {
            let was = before.iter().find(|was| near(was, now))?;
            let effect = Vector3::from(influence.effect(now.x_mm, now.y_mm));
            let weight = 1.0 / (was.u_mm.powi(2) + now.u_mm.powi(2));
            Some((effect, now.gap_mm - was.gap_mm, weight))
        };
        let changes: Vec<_> = after.iter().filter_map(change).collect();
        (!changes.is_empty()).then_some(Self { counted, changes })
    }

    /// By least squares, where all but `other` were turned as counted, as well as a hand does.
    fn seems(&self, other: [bool; 3]) -> Option<Seems> {
        let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for (effect, change, weight) in &self.changes {
            normal += effect * effect.transpose() * *weight;
            right += effect * (weight * change);
        }
        let as_counted = |at: usize| self.counted[at].filter(|_| !other[at]);
        for at in 0..3 {
            if let Some(counted) = as_counted(at) {
                let weight = hand_u(counted).powi(-2);
                normal[(at, at)] += weight;
                right[at] += weight * counted;
            }
        }
        let covariance = normal.try_inverse()?;
        let turns = covariance * right;
        let left = self
            .changes
            .iter()
            .map(|(effect, change, weight)| weight * (change - effect.dot(&turns)).powi(2));
        let by_hand = (0..3).filter_map(|at| {
            as_counted(at).map(|counted| ((turns[at] - counted) / hand_u(counted)).powi(2))
        });
        let known = (0..3).filter(|at| as_counted(*at).is_some()).count();
        Some(Seems {
            turns,
            u: covariance.diagonal().map(|variance| variance.max(0.0).sqrt()),
            chi_square: left.sum::<f64>() + by_hand.sum::<f64>(),
            free: (self.changes.len() + known).saturating_sub(3),
        })
    }
}

/// How well so many turns are made, turns: one that was not turned stands as it stood.
fn hand_u(counted: f64) -> f64 {
    const UNTOUCHED: f64 = 0.005;
    let hand = Hand::default();
    if counted == 0.0 { UNTOUCHED } else { hand.u_turns.hypot(hand.u_share * counted) }
}

/// How much of its turns an adjuster did.
#[derive(Debug, Clone, Copy)]
struct Share {
    is: f64,
    u: f64,
}

impl Share {
    fn is_off(&self, from: f64) -> bool {
        (self.is - from).abs() > TELLS * self.u
    }

    /// Of all rounds together, where they show a pitch.
    fn of_all(shares: &[Self]) -> Option<f64> {
        let weight = |share: &Self| share.u.powi(-2);
        let weights: f64 = shares.iter().map(weight).sum();
        let all = shares.iter().map(|share| weight(share) * share.is).sum::<f64>() / weights;
        let another =
            (SHARES.0..=SHARES.1).contains(&all) && !(AS_SAID.0..=AS_SAID.1).contains(&all);
        let telling = shares.iter().filter(|share| share.is_off(0.0) && share.is_off(1.0)).count();
        let agree = shares.iter().all(|share| !share.is_off(all));
        (another && telling >= ROUNDS && agree).then_some(all)
    }
}

/// Rounds that were counted.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Pitches {
    intervals: Vec<Interval>,
}

impl Pitches {
    /// The readings before and after these turns; `influence` is that of the job file.
    pub(super) fn add(
        &mut self,
        readings: (&[GapObservation], &[GapObservation]),
        influence: &Influence,
        counted: [Option<f64>; 3],
    ) {
        self.intervals.extend(Interval::of(readings, influence, counted));
    }

    /// Nothing is known of these rounds any more: what they were reckoned with has changed.
    pub(super) fn forget(&mut self) {
        self.intervals.clear();
    }

    /// By adjuster: its pitch as a share of that in the job file, where rounds show one. The fewest
    /// adjusters that explain all rounds have another; none where no pitch alone does.
    pub(super) fn found(&self) -> [Option<f64>; 3] {
        let mut others: Vec<[bool; 3]> =
            (0..8).map(|set| [0, 1, 2].map(|at| set & (1 << at) != 0)).collect();
        others.sort_by_key(|other| other.iter().filter(|is| **is).count());
        let explains = others.into_iter().find_map(|other| Some((other, self.explained(other)?)));
        let Some((other, seems)) = explains else { return [None; 3] };
        let share = |at: usize| Share::of_all(&self.shares(at, &seems)).filter(|_| other[at]);
        let found = [0, 1, 2].map(share);
        let all = (0..3).all(|at| other[at] == found[at].is_some());
        if all { found } else { [None; 3] }
    }

    /// The turns of every round, where only these adjusters did not do as counted; `None` where that
    /// does not explain the readings.
    fn explained(&self, other: [bool; 3]) -> Option<Vec<Seems>> {
        let seems: Option<Vec<Seems>> = self.intervals.iter().map(|one| one.seems(other)).collect();
        let seems = seems?;
        let chi_square: f64 = seems.iter().map(|one| one.chi_square).sum();
        let free: usize = seems.iter().map(|one| one.free).sum();
        (free == 0 || chi_square_tail(chi_square, free) >= CONTRADICTION_TAIL).then_some(seems)
    }

    fn shares(&self, adjuster: usize, seems: &[Seems]) -> Vec<Share> {
        let turned = self.intervals.iter().zip(seems).filter_map(|(one, seems)| {
            let counted = one.counted[adjuster].filter(|turns| *turns != 0.0)?;
            let u = seems.u[adjuster].hypot(hand_u(counted));
            Some(Share { is: seems.turns[adjuster] / counted, u: u / counted.abs() })
        });
        turned.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::rounds::{Learner, Shown};
    use super::*;
    use crate::plane::board::Board;
    use crate::plane::fit::fit;
    use crate::plane::observation::{GapObservation, Observations};
    use skimgauge_model::{Adjuster, Point, Sense};
    use skimgauge_quantity::{Mm, Turns};

    const PLACES: [(f64, f64); 6] = [
        (-950.0, 0.0),
        (0.0, 0.0),
        (950.0, 0.0),
        (950.0, -1260.0),
        (0.0, -1260.0),
        (-950.0, -1260.0),
    ];

    /// What came of these counted turns of the left adjuster, a round each, of which so much
    /// arrived.
    fn told(rounds: &[(f64, f64)]) -> (Learner, Vec<Shown>) {
        let adjuster = |(x, y)| Adjuster {
            name: String::new(),
            at: Point::mm(x, y),
            pitch: Mm(0.7),
            clockwise: Sense::Out,
            travel_clockwise: Turns(20.0),
            travel_anticlockwise: Turns(20.0),
        };
        let adjusters = [(-100.0, 80.0), (100.0, 80.0), (0.0, 140.0)].map(adjuster);
        let influence = Influence::of(&adjusters).unwrap();
        let mut learner = Learner::new(&adjusters).unwrap();
        let (board, mut arrived, mut shown) = (Board::flat(), 0.0, Vec::new());
        let mut read = |learner: &mut Learner, arrived: f64| {
            let gap = |&(x, y): &(f64, f64)| 2.5 + arrived * influence.effect(x, y)[0];
            let gaps = PLACES.iter().map(|at| GapObservation::bare(at.0, at.1, gap(at), 0.06));
            let read = Observations { gaps: gaps.collect(), lean: None, shared: Vec::new() };
            shown.push(learner.round(&read, &fit(&read, &board).unwrap(), &board));
        };
        read(&mut learner, arrived);
        for (turns, came) in rounds {
            learner.counted(0, *turns);
            arrived += turns * came;
            read(&mut learner, arrived);
        }
        (learner, shown)
    }

    #[test]
    fn a_steady_share_is_a_pitch_and_is_reckoned_with() {
        for share in [0.5, 2.0] {
            let (learner, shown) = told(&[(1.0, share), (-1.5, share), (0.8, share)]);
            let [Some(found), None, None] = learner.pitches() else { panic!("{learner:?}") };
            assert!((found / share - 1.0).abs() < 0.05, "{found}");
            assert!((learner.adjusters()[0].pitch.0 - 0.7 * found).abs() < 1e-9);
            // One turn does so much at the adjuster itself.
            let does = learner.influence().effect(-100.0, 80.0)[0];
            assert!((does / (0.7 * share) - 1.0).abs() < 0.05, "{does}");
            // Two rounds tell, and from then on it comes as expected.
            let said: Vec<usize> = shown.iter().map(|shown| shown.pitches.len()).collect();
            assert_eq!(said, [0, 0, 1, 0]);
            assert!(!shown[3].surprised, "{shown:?}");
        }
    }

    #[test]
    fn what_does_now_more_now_less_is_no_pitch_and_what_does_as_it_should_neither() {
        for rounds in [
            [(1.0, 0.5), (1.0, 1.0), (1.0, 0.2)],
            [(1.0, 0.0), (1.0, 0.0), (1.0, 0.0)],
            [(1.0, 0.9), (1.0, 1.1), (-1.0, 1.0)],
            // Too small to tell.
            [(0.1, 0.5), (0.1, 0.5), (0.1, 0.5)],
        ] {
            assert_eq!(told(&rounds).0.pitches(), [None; 3], "{rounds:?}");
        }
    }
}
