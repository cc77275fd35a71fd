//! One turn of one adjuster, ended by a reading or by a count.

use skimgauge_metrology::trim::learn::Hand;
use skimgauge_metrology::trim::plan::{self, Watch};
use skimgauge_metrology::trim::response::{
    Answer, Finding, LIVE_U_MM, ScrewHistory, WRONG_MM, WRONG_SHARE, WRONG_WITHIN,
};
use skimgauge_model::TurnNoticed;

/// A gap that has come by less than this share of the way has hardly moved.
const HARDLY: f64 = 0.2;
/// The live gap at a station while an adjuster is turned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Seen {
    /// The station, by its place in the job.
    pub station: usize,
    /// The gap before the turn, mm.
    pub before_mm: f64,
    /// What one clockwise turn does to it, mm.
    pub per_turn_mm: f64,
}

/// How a turn is ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum End {
    /// When the live gap comes to where it should be.
    Reading {
        /// Where the head is.
        seen: Seen,
        /// The gap to come to, mm.
        to_mm: f64,
        /// To within this, mm.
        within_mm: f64,
        /// It lies outside the band, and is meant.
        outside_band: bool,
    },
    /// By its count.
    Count {
        /// Where the head shows which way it goes, while it sees the light.
        seen: Option<Seen>,
    },
}

/// A turn being made.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Turning {
    /// By its place in the job.
    pub adjuster: usize,
    /// Clockwise turns; negative is anticlockwise.
    pub turns: f64,
    /// How it is ended.
    pub end: End,
    /// Of the last one, where it is counted: a station where the head sees the light once it is made,
    /// and the gap that should be read there, mm. The takes after it tell.
    pub then: Option<(usize, f64)>,
    /// The gap has gone the wrong way, and it was said.
    pub wrong_way: bool,
    /// From this gap on it would go the wrong way again, mm: where it stood when the adjuster was
    /// said to work the other way round.
    pub wrong_from_mm: Option<f64>,
    /// It was said to be made although the gap hardly moved, and that was doubted.
    pub doubted: bool,
    /// Nothing but the user's word ends it, and some of it may be made: it was taken back, or its
    /// light went, and the gap may stand anywhere.
    pub held: bool,
    /// The adjuster that was turned in its place is to be turned back first.
    pub back: bool,
    /// What has been noticed so far.
    pub noticed: Vec<TurnNoticed>,
}

impl Turning {
    /// Begins. `live_mm`: the live gap where the head is now, if it sees one; `effect_mm`: what one
    /// turn does to the gap at a station.
    pub(crate) fn new(
        instruction: &plan::Instruction,
        live_mm: Option<f64>,
        effect_mm: impl Fn(usize) -> f64,
    ) -> Option<Self> {
        let seen =
            |station| Some(Seen { station, before_mm: live_mm?, per_turn_mm: effect_mm(station) });
        let end = match instruction.watch {
            Watch::Reading { station, to, outside_band, .. } => {
                let seen = seen(station)?;
                let within_mm = Hand::stops_within_mm(seen.per_turn_mm);
                End::Reading { seen, to_mm: to.gap_mm, within_mm, outside_band }
            }
            Watch::Count { sense_at } => End::Count { seen: sense_at.and_then(seen) },
        };
        Some(Self {
            adjuster: instruction.adjuster,
            turns: instruction.turns,
            end,
            then: instruction.then.map(|(station, to)| (station, to.gap_mm)),
            wrong_way: false,
            wrong_from_mm: None,
            doubted: false,
            held: false,
            back: false,
            noticed: Vec::new(),
        })
    }

    /// Where the live gap is looked at, if it is.
    pub(crate) fn seen(&self) -> Option<Seen> {
        match self.end {
            End::Reading { seen, .. } => Some(seen),
            End::Count { seen } => seen,
        }
    }

    /// The gap that the head should come to now, mm, and to within how much: before the turn, where
    /// another is turned back first. `None` for a counted one.
    pub(crate) fn aim_mm(&self) -> Option<(f64, f64)> {
        match self.end {
            End::Reading { seen, within_mm, .. } if self.back => Some((seen.before_mm, within_mm)),
            End::Reading { to_mm, within_mm, .. } => Some((to_mm, within_mm)),
            End::Count { .. } => None,
        }
    }

    /// How the gap should change in all where the head looks, mm.
    pub(crate) fn predicted_mm(&self) -> Option<f64> {
        match self.end {
            End::Reading { seen, to_mm, .. } => Some(to_mm - seen.before_mm),
            End::Count { seen } => seen.map(|seen| self.turns * seen.per_turn_mm),
        }
    }

    /// Whether the gap is where it should be.
    pub(crate) fn is_there(&self, gap_mm: f64) -> bool {
        self.aim_mm().is_some_and(|(to_mm, within_mm)| (gap_mm - to_mm).abs() <= within_mm)
    }

    /// Whether the gap is beyond where it should come to.
    pub(crate) fn is_past(&self, gap_mm: f64) -> bool {
        let (to_mm, way_mm) = (self.aim_mm().map(|(to_mm, _)| to_mm), self.predicted_mm());
        to_mm.zip(way_mm).is_some_and(|(to_mm, way_mm)| (gap_mm - to_mm) * way_mm.signum() > 0.0)
    }

    /// Turns that are left by the live gap, clockwise; of a counted one all.
    pub(crate) fn left(&self, gap_mm: Option<f64>) -> f64 {
        match (self.end, gap_mm, self.predicted_mm()) {
            (End::Reading { to_mm, .. }, Some(gap_mm), Some(predicted)) if predicted != 0.0 => {
                self.turns * (to_mm - gap_mm) / predicted
            }
            _ => self.turns,
        }
    }

    /// Whether the gap goes the wrong way, surely.
    pub(crate) fn goes_wrong(&self, gap_mm: f64) -> bool {
        let (Some(seen), Some(predicted_mm)) = (self.seen(), self.predicted_mm()) else {
            return false;
        };
        let from_mm = self.wrong_from_mm.unwrap_or(seen.before_mm);
        let along_mm = (gap_mm - from_mm) * predicted_mm.signum();
        let most_mm = (WRONG_WITHIN * seen.per_turn_mm).abs().min(predicted_mm.abs());
        !self.back && along_mm < -(WRONG_SHARE * most_mm).max(WRONG_MM)
    }

    /// Whether a gap that went the wrong way is back where it was, or beyond.
    pub(crate) fn is_back_again(&self, gap_mm: f64) -> bool {
        let from_mm = self.wrong_from_mm.or(self.seen().map(|seen| seen.before_mm));
        from_mm.zip(self.predicted_mm()).is_some_and(|(from_mm, predicted_mm)| {
            (gap_mm - from_mm) * predicted_mm.signum() > -LIVE_U_MM
        })
    }

    /// Whether a gap that was said to go the wrong way does so because the adjuster works the other
    /// way round: it was turned as told, or by so many turns to that side, and came no further than
    /// those explain.
    pub(crate) fn is_reversed(&self, gap_mm: f64, counted: Option<f64>) -> bool {
        let Some(seen) = self.seen().filter(|_| self.wrong_way) else { return false };
        let from_mm = self.wrong_from_mm.unwrap_or(seen.before_mm);
        counted.is_none_or(|turns| {
            let most_mm = 2.0 * (turns * seen.per_turn_mm).abs() + WRONG_MM;
            turns * self.turns > 0.0 && (gap_mm - from_mm).abs() <= most_mm
        })
    }

    /// Whether the gap hardly moved, where it should have by a lot.
    pub(crate) fn hardly_moved(&self, gap_mm: f64) -> bool {
        let (Some(seen), Some(predicted_mm)) = (self.seen(), self.predicted_mm()) else {
            return false;
        };
        predicted_mm.abs() > 2.0 * WRONG_MM && (gap_mm - seen.before_mm) / predicted_mm < HARDLY
    }

    /// Turns that the live gap says were made, clockwise.
    pub(crate) fn by_gap(&self, gap_mm: f64) -> Option<f64> {
        let seen = self.seen().filter(|seen| seen.per_turn_mm != 0.0)?;
        Some((gap_mm - seen.before_mm) / seen.per_turn_mm)
    }

    /// What an answer means where the user turned as told, or by as much as counted.
    pub(crate) fn found(
        &self,
        gap_mm: f64,
        counted: Option<f64>,
        history: ScrewHistory,
    ) -> Finding {
        let Some(seen) = self.seen() else { return Finding::AsPredicted };
        let turns = counted.unwrap_or(self.turns);
        let per_turn_mm = match self.end {
            End::Reading { to_mm, .. } => (to_mm - seen.before_mm) / self.turns,
            End::Count { .. } => seen.per_turn_mm,
        };
        let answer = Answer::watched(turns, per_turn_mm, gap_mm - seen.before_mm);
        Finding::watched(&answer, history)
    }
}
