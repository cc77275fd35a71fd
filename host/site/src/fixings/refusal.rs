//! Why fixings are not worked out.

use thiserror::Error;

use super::input::SHARES_WITHIN;
use crate::entry::EntryError;

/// Why fixings cannot be worked out.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FixingsError {
    /// A number that cannot be right.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// A list that must have something in it.
    #[error("{0} is missing: enter at least one")]
    Missing(String),
    /// A plate without anchors.
    #[error("{plate} has no anchors: nothing would carry its load; enter their places")]
    NoAnchors {
        /// Which plate.
        plate: String,
    },
    /// A plate on which nothing hangs.
    #[error(
        "nothing hangs on {plate}: enter a mass for it, or a share of what hangs on all plates"
    )]
    NothingHangs {
        /// Which plate.
        plate: String,
    },
    /// Masses that together are lighter than any bracket carries.
    #[error(
        "all masses together are {sum_kg} kg, which no bracket is for: is the unit right (kg, g, lb)?"
    )]
    TooLight {
        /// What they add up to.
        sum_kg: f64,
    },
    /// Shares that lose or double a part of the load.
    #[error(
        "the shares of the plates add up to {sum:.3}: {}; enter shares that add up to 1, to within {SHARES_WITHIN}",
        lost(*sum)
    )]
    SharesOff {
        /// What they add up to.
        sum: f64,
    },
    /// A share that is not said where several plates carry the load.
    #[error(
        "{plate} does not say which part it takes of what hangs on all plates: enter a share for every plate, together 1 (0 for a plate that \
         only carries masses of its own)"
    )]
    ShareUnsaid {
        /// Which plate.
        plate: String,
    },
    /// Values that go with factored loads, and no factor.
    #[error(
        "the allowed values of {plate} are meant for factored loads, and the load factor is {load_factor}: they pass nothing. Enter as \
         load factor the one that your local code asks for, such as 1.5; or, if the approval calls them recommended or working loads, \
         say that they are meant for loads as they are"
    )]
    NotFactored {
        /// Which plate.
        plate: String,
        /// As entered.
        load_factor: f64,
    },
    /// Two rules where one can hold.
    #[error(
        "{plate} says both that steel governs and that the approval names the straight rule: only one of them can be in its approval; \
         leave the other out"
    )]
    TwoRules {
        /// Which plate.
        plate: String,
    },
    /// An anchor outside its plate.
    #[error(
        "anchor {anchor} of {plate} lies outside the plate ({width_mm} x {height_mm} mm): measure it again from the plate's middle, in mm"
    )]
    OffPlate {
        /// Which plate.
        plate: String,
        /// Which anchor.
        anchor: String,
        /// Plate's width, mm.
        width_mm: f64,
        /// Plate's height, mm.
        height_mm: f64,
    },
    /// Two anchors in one place, or two of one name.
    #[error("anchors {first} and {second} of {plate} have the same place or name: measure again")]
    Twice {
        /// Which plate.
        plate: String,
        /// One anchor.
        first: String,
        /// The other.
        second: String,
    },
    /// A single anchor that would have to stop the plate from turning.
    #[error(
        "{plate} has one anchor and a load beside it: one anchor cannot stop a plate from turning; use at least two"
    )]
    OneAnchorTurns {
        /// Which plate.
        plate: String,
    },
    /// Anchors that do not stop the plate from tipping off the wall.
    #[error(
        "nothing holds {plate} on the wall with {case}: every anchor lies on the edge about which the load turns the plate; set anchors away \
         from that edge, or measure their places again"
    )]
    TipsOff {
        /// Which plate.
        plate: String,
        /// In which case.
        case: String,
    },
    /// A proof load on an anchor that the plate does not have.
    #[error("{plate}: proof load on anchor {anchor}, which is not among its anchors")]
    ProofElsewhere {
        /// Which plate.
        plate: String,
        /// The name entered.
        anchor: String,
    },
    /// Proof loads without anything to judge them by.
    #[error(
        "{plate}: proof loads are entered, but not what they have to show; enter load, time and slip allowed"
    )]
    ProofUnjudged {
        /// Which plate.
        plate: String,
    },
}

/// What a sum of shares beside 1 does.
fn lost(sum: f64) -> String {
    let percent = 100.0 * (1.0 - sum).abs();
    if sum < 1.0 {
        format!("{percent:.0} % of what hangs on all of them would be on no plate")
    } else {
        format!("{percent:.0} % more than hangs on all of them")
    }
}
