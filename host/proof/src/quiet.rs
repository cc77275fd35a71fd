//! Contacts that nobody made.

use crate::plan::Ask;
use crate::rates::{LEVEL, rate_above, rate_below};
use crate::raw::{Came, Proof};
use serde::Serialize;

/// How many contacts nobody made, and what that says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Quiet {
    /// Hands off, s.
    pub hands_off_s: f64,
    /// Contacts meanwhile.
    pub ghosts: usize,
    /// With 95 % confidence fewer than this a minute.
    pub below_per_min: Option<f64>,
    /// With 95 % confidence more than this a minute.
    pub above_per_min: Option<f64>,
    /// The whole proof, s.
    pub whole_s: f64,
    /// Contacts away from every asked place in all that time, hands off included.
    pub away: usize,
    /// Counting all that time, fewer than this a minute: a hand may have made some of them.
    pub below_per_min_in_all: Option<f64>,
}

impl Quiet {
    pub(crate) fn of(proof: &Proof, away: usize) -> Self {
        let (mut off_ms, mut whole_ms, mut ghosts) = (0.0, 0.0, 0);
        for asked in proof.standing() {
            whole_ms += asked.to_ms - asked.from_ms;
            if matches!(asked.ask, Ask::HandsOff) && asked.came == Came::Done {
                off_ms += asked.to_ms - asked.from_ms;
                ghosts += asked.contacts.len();
            }
        }
        let minutes = off_ms / 60_000.0;
        Self {
            hands_off_s: off_ms / 1000.0,
            ghosts,
            below_per_min: rate_below(ghosts, minutes, LEVEL),
            above_per_min: rate_above(ghosts, minutes, LEVEL),
            whole_s: whole_ms / 1000.0,
            away: away + ghosts,
            below_per_min_in_all: rate_below(away + ghosts, whole_ms / 60_000.0, LEVEL),
        }
    }
}
