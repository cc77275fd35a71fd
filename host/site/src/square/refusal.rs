//! What a person is told where an image cannot be judged.

use super::SquareError;
use super::tape::TapeError;
use crate::entry::EntryError;
use skimgauge_quantity::{Mm, Sentence, Tell, say, told_in_mm};

impl From<EntryError> for SquareError {
    fn from(error: EntryError) -> Self {
        Self::Entry(error)
    }
}

impl From<TapeError> for SquareError {
    fn from(error: TapeError) -> Self {
        Self::Tape(error)
    }
}

impl From<EntryError> for TapeError {
    fn from(error: EntryError) -> Self {
        Self::Entry(error)
    }
}

impl Tell for SquareError {
    fn tell(&self) -> Sentence {
        match self {
            Self::Entry(error) => error.tell(),
            Self::Tape(error) => error.tell(),
            Self::Corners { problem } => say!(
                "corner offsets: {problem}; give each of top left, top right, bottom right and bottom left once"
            ),
            Self::Folded => say!(
                "impossible: these corner offsets fold the image over itself; measure them again, right and up of each mark"
            ),
            Self::NotASide(name) => {
                say!("side bow: {name} is not a side; give top, right, bottom or left")
            }
        }
    }
}

impl Tell for TapeError {
    fn tell(&self) -> Sentence {
        match self {
            Self::Entry(error) => error.tell(),
            Self::TooFew { given, missing } => {
                let missing = missing.join(", the ");
                say!(
                    "{given} of the six lengths are given; at least five are needed, six to check the tape: measure the {missing}"
                )
            }
            Self::NoTriangle { longest, longest_mm, others: [one, other], together_mm } => say!(
                "impossible: the {longest} ({}) is longer than the {one} and the {other} together ({}); measure these three again",
                Mm(*longest_mm).tape(),
                Mm(*together_mm).tape()
            ),
            Self::NoQuadrilateral => say!(
                "impossible: these lengths fit no four-cornered image whose corners all bulge outward; measure both diagonals again, then the sides"
            ),
        }
    }
}

told_in_mm!(SquareError, TapeError);
