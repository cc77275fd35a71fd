//! Did the plane answer as predicted? A reversed sense, a slipping or a bottomed adjuster, a moved
//! head: said in words.

use super::influence::Influence;
use crate::plane::fit::PlaneFit;
use nalgebra::{Matrix3, Vector3};
use std::fmt;

/// Changes smaller than this many standard uncertainties say nothing.
const TELLING: f64 = 4.0;

/// An adjuster that answers with less than this share of the prediction, certainly, does not hold.
const SLIP_BELOW: f64 = 0.7;

/// A live gap after a turn against one before it, standard uncertainty, mm.
pub const LIVE_U_MM: f64 = 0.02;
/// Turning is off by this share besides, standard uncertainty: pitch and place of the screws.
const TURN_SHARE: f64 = 0.06;
/// ... and by so many turns: play in the thread, and the hand.
const TURN_TURNS: f64 = 0.04;
/// A watched gap that goes the wrong way by this share shows a sense that is the other way round.
pub const WRONG_SHARE: f64 = 0.2;
/// ... of the turn's whole change, of no more than so much of the turn, in turns: a counted one is
/// stopped before it has taken the light away.
pub const WRONG_WITHIN: f64 = 0.5;
/// ... and by this, mm: less is a hand on the board.
pub const WRONG_MM: f64 = 0.15;

/// What one turn should have done and did at the live station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// Clockwise turns made, as counted.
    pub turns: f64,
    /// Change of the gap predicted for that, mm.
    pub predicted_mm: f64,
    /// Change observed, mm.
    pub observed_mm: f64,
    /// Standard uncertainty of the difference of the two, mm. Above zero.
    pub u_mm: f64,
}

impl Answer {
    /// A turn of so many, which should change the live gap by so much each and changed it by so
    /// much in all, mm.
    pub fn watched(turns: f64, per_turn_mm: f64, observed_mm: f64) -> Self {
        let u_turns = (TURN_SHARE * turns).hypot(TURN_TURNS);
        let u_mm = LIVE_U_MM.hypot(u_turns * per_turn_mm);
        Self { turns, predicted_mm: turns * per_turn_mm, observed_mm, u_mm }
    }
}

/// What is known of the adjuster from before.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ScrewHistory {
    /// It has answered as it should, turned this same way, in this job.
    pub answered_this_way: bool,
    /// Turns it should have left this way before the turn, where known.
    pub travel_left_turns: Option<f64>,
}

/// What an answer means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Finding {
    /// As predicted, or too small a turn to tell.
    AsPredicted,
    /// The plane moved the other way.
    Reversed,
    /// The adjuster turns and the plane does not follow, or follows too little.
    Slipping {
        /// Share of the predicted change that came.
        share: f64,
    },
    /// The adjuster was at, or came to, the end of its travel.
    Bottomed {
        /// Share of the predicted change that came.
        share: f64,
    },
    /// The gap changed by far more than any turn of this adjuster makes it, or without a turn: the
    /// head or the emitter moved.
    Moved {
        /// Change that no turn explains, mm.
        unexplained_mm: f64,
    },
}

impl Finding {
    /// Judges one answer.
    pub fn of(answer: &Answer, history: ScrewHistory) -> Self {
        let Answer { turns, predicted_mm, observed_mm, u_mm } = *answer;
        let unexplained_mm = observed_mm - predicted_mm;
        if !(unexplained_mm.is_finite() && u_mm > 0.0) || unexplained_mm.abs() < TELLING * u_mm {
            return Self::AsPredicted;
        }
        if predicted_mm.abs() < TELLING * u_mm {
            return Self::Moved { unexplained_mm };
        }
        let share = observed_mm / predicted_mm;
        let at_end = history.travel_left_turns.is_some_and(|left| turns.abs() > 0.9 * left);
        match share {
            // The other way about as far: between half and half as far again.
            s if (-1.5..=-0.5).contains(&s) => Self::Reversed,
            s if !(-0.5..=1.5).contains(&s) => Self::Moved { unexplained_mm },
            s if s < SLIP_BELOW && (at_end || (history.answered_this_way && s < 0.2)) => {
                Self::Bottomed { share }
            }
            s if s < SLIP_BELOW => Self::Slipping { share },
            _ => Self::AsPredicted,
        }
    }

    /// The same of a gap that was watched while the adjuster was turned: against the sense that is
    /// in the job, though by less than all, goes nothing but a reversed one.
    pub fn watched(answer: &Answer, history: ScrewHistory) -> Self {
        match Self::of(answer, history) {
            Self::Slipping { share } | Self::Bottomed { share } if share < -WRONG_SHARE => {
                Self::Reversed
            }
            found => found,
        }
    }
}

/// A finding about a named adjuster, as said to the person who turned it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Said<'a> {
    /// The adjuster's name.
    pub adjuster: &'a str,
    /// What was found.
    pub finding: Finding,
}

impl fmt::Display for Said<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = self.adjuster;
        let percent = |share: f64| (100.0 * share).round();
        match self.finding {
            Finding::AsPredicted => write!(f, "the {name} adjuster answered as predicted"),
            Finding::Reversed => write!(
                f,
                "the {name} adjuster works the other way round: the gap went the opposite way; its sense in the job is \
                 turned about from here on"
            ),
            Finding::Slipping { share } => write!(
                f,
                "the {name} adjuster slips: the plane followed by {}% of the turn; look for a loose lock nut or a worn \
                 thread before turning further",
                percent(share)
            ),
            Finding::Bottomed { share } => write!(
                f,
                "the {name} adjuster has reached the end of its travel after {}% of the turn; do not force it, turn it back \
                 a little and move the emitter's mount instead",
                percent(share.max(0.0))
            ),
            Finding::Moved { unexplained_mm } => write!(
                f,
                "the gap changed by {unexplained_mm:+.2} mm that no turn of the {name} adjuster explains: the head or the \
                 emitter moved; seat the head again and retake this station"
            ),
        }
    }
}

/// What each adjuster seems to have been turned by, from the planes of two rounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Implied {
    /// Clockwise turns by adjuster.
    pub turns: [f64; 3],
    /// Standard uncertainty of each, turns.
    pub u_turns: [f64; 3],
}

/// Works back from two rounds to turns. What both rounds share (zero, temperature) cancels. `None`
/// where the influence cannot be inverted.
pub fn implied_turns(
    before: &PlaneFit,
    after: &PlaneFit,
    influence: &Influence,
) -> Option<Implied> {
    let matrix = Matrix3::from_columns(&influence.by_adjuster.map(Vector3::from));
    let inverse = matrix.try_inverse()?;
    let change = Vector3::from(after.plane.to_array()) - Vector3::from(before.plane.to_array());
    let covariance =
        |fit: &PlaneFit| Matrix3::from_fn(|r, c| fit.single[r][c]) * (fit.widening * fit.widening);
    let spread = inverse * (covariance(before) + covariance(after)) * inverse.transpose();
    Some(Implied {
        turns: (inverse * change).into(),
        u_turns: [0, 1, 2].map(|i| spread[(i, i)].max(0.0).sqrt()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(turns: f64, predicted_mm: f64, observed_mm: f64, history: ScrewHistory) -> Finding {
        Finding::of(&Answer { turns, predicted_mm, observed_mm, u_mm: 0.05 }, history)
    }

    #[test]
    fn each_fault_gets_its_own_name() {
        let new = ScrewHistory::default();
        let known = ScrewHistory { answered_this_way: true, travel_left_turns: None };
        let nearly_out = ScrewHistory { answered_this_way: false, travel_left_turns: Some(0.5) };
        assert_eq!(found(1.0, 3.0, 3.1, new), Finding::AsPredicted);
        assert_eq!(found(1.0, 3.0, -2.9, new), Finding::Reversed);
        assert!(matches!(found(1.0, 3.0, 0.0, new), Finding::Slipping { .. }));
        assert!(matches!(found(1.0, 3.0, 1.2, known), Finding::Slipping { .. }));
        assert!(matches!(found(1.0, 3.0, 0.0, known), Finding::Bottomed { .. }));
        assert!(matches!(found(0.6, 3.0, 1.4, nearly_out), Finding::Bottomed { .. }));
        assert!(matches!(found(1.0, 3.0, 9.0, new), Finding::Moved { .. }));
        assert!(matches!(found(0.0, 0.0, 0.9, new), Finding::Moved { .. }));
        assert_eq!(found(0.01, 0.03, 0.0, new), Finding::AsPredicted);
        assert_eq!(found(1.0, 3.0, f64::NAN, new), Finding::AsPredicted);
    }

    #[test]
    fn findings_are_sentences_with_the_name_in_them() {
        let said = Said { adjuster: "upper", finding: Finding::Slipping { share: 0.1 } };
        assert!(
            said.to_string().starts_with("the upper adjuster slips: the plane followed by 10%")
        );
    }
}
