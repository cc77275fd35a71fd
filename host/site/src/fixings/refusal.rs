//! Why fixings are not worked out.

use skimgauge_quantity::{Mm, Name, Sentence, Tell, mass, percent, plain, say, short, told_in_mm};

use super::input::SHARES_WITHIN;
use crate::entry::EntryError;

/// Why fixings cannot be worked out.
#[derive(Debug, Clone, PartialEq)]
pub enum FixingsError {
    /// A number that cannot be right.
    Entry(EntryError),
    /// A list that must have something in it.
    Missing(String),
    /// A plate without anchors.
    NoAnchors {
        /// Which plate.
        plate: String,
    },
    /// A plate on which nothing hangs.
    NothingHangs {
        /// Which plate.
        plate: String,
    },
    /// Masses that together are lighter than any bracket carries.
    TooLight {
        /// What they add up to.
        sum_kg: f64,
    },
    /// Shares that lose or double a part of the load.
    SharesOff {
        /// What they add up to.
        sum: f64,
    },
    /// A share that is not said where several plates carry the load.
    ShareUnsaid {
        /// Which plate.
        plate: String,
    },
    /// Values that go with factored loads, and no factor.
    NotFactored {
        /// Which plate.
        plate: String,
        /// As entered.
        load_factor: f64,
    },
    /// Two rules where one can hold.
    TwoRules {
        /// Which plate.
        plate: String,
    },
    /// An anchor outside its plate.
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
    Twice {
        /// Which plate.
        plate: String,
        /// One anchor.
        first: String,
        /// The other.
        second: String,
    },
    /// A single anchor that would have to stop the plate from turning.
    OneAnchorTurns {
        /// Which plate.
        plate: String,
    },
    /// Anchors that do not stop the plate from tipping off the wall.
    TipsOff {
        /// Which plate.
        plate: String,
        /// In which case.
        case: String,
    },
    /// A proof load on an anchor that the plate does not have.
    ProofElsewhere {
        /// Which plate.
        plate: String,
        /// The name entered.
        anchor: String,
    },
    /// Proof loads without anything to judge them by.
    ProofUnjudged {
        /// Which plate.
        plate: String,
    },
}

impl From<EntryError> for FixingsError {
    fn from(error: EntryError) -> Self {
        Self::Entry(error)
    }
}

impl Tell for FixingsError {
    fn tell(&self) -> Sentence {
        match self {
            Self::Entry(error) => error.tell(),
            Self::Missing(what) => say!("{what} is missing: enter at least one"),
            Self::NoAnchors { plate } => say!(
                "{} has no anchors: nothing would carry its load; enter their places",
                Name(plate)
            ),
            Self::NothingHangs { plate } => say!(
                "nothing hangs on {}: enter a mass for it, or a share of what hangs on all plates",
                Name(plate)
            ),
            Self::TooLight { sum_kg } => say!(
                "all masses together are {}, which no bracket is for: is the unit right (kg, g, lb)?",
                mass(*sum_kg)
            ),
            Self::SharesOff { sum } => say!(
                "the shares of the plates add up to {}: {}; enter shares that add up to 1, to within {}",
                plain(*sum, 3),
                lost(*sum),
                short(SHARES_WITHIN)
            ),
            Self::ShareUnsaid { plate } => say!(
                "{} does not say which part it takes of what hangs on all plates: enter a share for every plate, together 1 (0 for a plate that \
                 only carries masses of its own)",
                Name(plate)
            ),
            Self::NotFactored { plate, load_factor } => say!(
                "the allowed values of {} are meant for factored loads, and the load factor is {}: they pass nothing. Enter as \
                 load factor the one that your local code asks for, such as 1.5; or, if the approval calls them recommended or working loads, \
                 say that they are meant for loads as they are",
                Name(plate),
                short(*load_factor)
            ),
            Self::TwoRules { plate } => say!(
                "{} says both that steel governs and that the approval names the straight rule: only one of them can be in its approval; \
                 leave the other out",
                Name(plate)
            ),
            Self::OffPlate { plate, anchor, width_mm, height_mm } => say!(
                "anchor {} of {} lies outside the plate ({}): measure it again from the plate's middle",
                Name(anchor),
                Name(plate),
                Mm(*width_mm).tape().by(Mm(*height_mm).tape())
            ),
            _ => self.tell_of_holding(),
        }
    }
}

impl FixingsError {
    /// What keeps anchors from holding, or a proof load from showing anything.
    fn tell_of_holding(&self) -> Sentence {
        match self {
            Self::Twice { plate, first, second } => say!(
                "anchors {} and {} of {} have the same place or name: measure again",
                Name(first),
                Name(second),
                Name(plate)
            ),
            Self::OneAnchorTurns { plate } => say!(
                "{} has one anchor and a load beside it: one anchor cannot stop a plate from turning; use at least two",
                Name(plate)
            ),
            Self::TipsOff { plate, case } => say!(
                "nothing holds {} on the wall with {}: every anchor lies on the edge about which the load turns the plate; set anchors away \
                 from that edge, or measure their places again",
                Name(plate),
                Name(case)
            ),
            Self::ProofElsewhere { plate, anchor } => say!(
                "{}: proof load on anchor {}, which is not among its anchors",
                Name(plate),
                Name(anchor)
            ),
            Self::ProofUnjudged { plate } => say!(
                "{}: proof loads are entered, but not what they have to show; enter load, time and slip allowed",
                Name(plate)
            ),
            // Told already.
            Self::Entry(_)
            | Self::Missing(_)
            | Self::NoAnchors { .. }
            | Self::NothingHangs { .. }
            | Self::TooLight { .. }
            | Self::SharesOff { .. }
            | Self::ShareUnsaid { .. }
            | Self::NotFactored { .. }
            | Self::TwoRules { .. }
            | Self::OffPlate { .. } => Sentence::new(),
        }
    }
}

told_in_mm!(FixingsError);

/// What a sum of shares beside 1 does.
fn lost(sum: f64) -> Sentence {
    let lost = percent((1.0 - sum).abs());
    if sum < 1.0 {
        say!("{lost} of what hangs on all of them would be on no plate")
    } else {
        say!("{lost} more than hangs on all of them")
    }
}
