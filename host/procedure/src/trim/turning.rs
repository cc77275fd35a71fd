//! One turn of one adjuster while the live gap is watched.

use skimgauge_metrology::trim::guide::Instruction;
use skimgauge_metrology::trim::response::{Answer, Finding, ScrewHistory};
use skimgauge_model::TurnNoticed;

/// What a hand can stop within, turns: about two degrees.
const HAND_TURNS: f64 = 0.0055;
/// The live gap is dialled to within no less and no more than this, mm.
const DIALLED_MM: (f64, f64) = (0.03, 0.08);
/// The gap must go the wrong way by this share of the turn's whole change before anything is said.
const WRONG_SHARE: f64 = 0.2;
/// ... and by this, mm: less is a hand on the board.
const WRONG_MM: f64 = 0.15;
/// A live gap after a turn against one before it, standard uncertainty, mm.
pub(crate) const LIVE_U_MM: f64 = 0.02;
/// Turning is off by this share besides, standard uncertainty: pitch and place of the screws.
const TURN_SHARE: f64 = 0.06;
/// ... and by so many turns: play in the thread, and the hand.
const TURN_TURNS: f64 = 0.04;

/// A turn being made.
#[derive(Debug, Clone)]
pub(crate) struct Turning {
    /// What was advised.
    pub instruction: Instruction,
    /// The station where it is watched, by its place in the job.
    pub station: usize,
    /// The live gap before it, mm.
    pub before_mm: f64,
    /// The live gap that it should come to, mm.
    pub dial_to_mm: f64,
    /// To within this, mm.
    pub within_mm: f64,
    /// The gap has gone the wrong way, and it was said.
    pub wrong_way: bool,
    /// What has been noticed so far.
    pub noticed: Vec<TurnNoticed>,
}

impl Turning {
    /// Begins. `effect_mm`: change of the gap at the station for one clockwise turn.
    pub(crate) fn new(
        instruction: Instruction,
        station: usize,
        before_mm: f64,
        effect_mm: f64,
    ) -> Self {
        Self {
            before_mm,
            dial_to_mm: before_mm + instruction.turns * effect_mm,
            within_mm: (HAND_TURNS * effect_mm.abs()).clamp(DIALLED_MM.0, DIALLED_MM.1),
            instruction,
            station,
            wrong_way: false,
            noticed: Vec::new(),
        }
    }

    /// How the gap should change in all, mm.
    pub(crate) fn predicted_mm(&self) -> f64 {
        self.dial_to_mm - self.before_mm
    }

    /// Whether the gap is there.
    pub(crate) fn is_there(&self, gap_mm: f64) -> bool {
        (gap_mm - self.dial_to_mm).abs() <= self.within_mm
    }

    /// Whether the gap goes the wrong way, surely.
    pub(crate) fn goes_wrong(&self, gap_mm: f64) -> bool {
        let along_mm = (gap_mm - self.before_mm) * self.predicted_mm().signum();
        along_mm < -(WRONG_SHARE * self.predicted_mm().abs()).max(WRONG_MM)
    }

    /// What an answer means where the user turned as told, or by as much as counted.
    pub(crate) fn found(
        &self,
        gap_mm: f64,
        counted: Option<f64>,
        history: ScrewHistory,
    ) -> Finding {
        let advised = self.instruction.turns;
        let turns = counted.unwrap_or(advised);
        let per_turn_mm = self.predicted_mm() / advised;
        let predicted_mm = turns * per_turn_mm;
        let u_turns = (TURN_SHARE * turns).hypot(TURN_TURNS);
        let u_mm = LIVE_U_MM.hypot(u_turns * per_turn_mm);
        let answer = Answer { turns, predicted_mm, observed_mm: gap_mm - self.before_mm, u_mm };
        match Finding::of(&answer, history) {
            // Against the sense that is in the job, though by less than all: nothing but a reversed
            // sense does that.
            Finding::Slipping { share } | Finding::Bottomed { share } if share < -WRONG_SHARE => {
                Finding::Reversed
            }
            found => found,
        }
    }
}
