//! What a person is told where a set-out cannot be made.

use super::SetOutError;
use super::mount::MountError;
use crate::entry::EntryError;
use skimgauge_quantity::{Mm, Sentence, Tell, plain, say, told_in_mm};

impl From<EntryError> for SetOutError {
    fn from(error: EntryError) -> Self {
        Self::Entry(error)
    }
}

impl From<MountError> for SetOutError {
    fn from(error: MountError) -> Self {
        Self::Mount(error)
    }
}

impl From<EntryError> for MountError {
    fn from(error: EntryError) -> Self {
        Self::Entry(error)
    }
}

impl Tell for SetOutError {
    fn tell(&self) -> Sentence {
        match self {
            Self::Entry(error) => error.tell(),
            Self::Mount(error) => error.tell(),
            Self::TallerThanRoom { height_mm, ceiling_mm } => say!(
                "the image is {} high and the room {}: choose a smaller image, or measure the ceiling again",
                Mm(*height_mm).wall(),
                Mm(*ceiling_mm).wall()
            ),
            Self::LightOffBody(beyond) => say!(
                "the emitter's light would lie {beyond}: measure both again from the image's top edge and middle, the light and the body's lower edge"
            ),
            Self::ImageOffTheWall { beyond_mm, end } => say!(
                "the image reaches {} beyond the {end} where it is put: move it, or measure again from the wall's left end and the finished floor",
                Mm(*beyond_mm).wall()
            ),
        }
    }
}

impl Tell for MountError {
    fn tell(&self) -> Sentence {
        match self {
            Self::Entry(error) => error.tell(),
            Self::Sheet(problem) => say!("mount sheet: {problem}"),
            Self::NotListed { width_mm, low_mm, high_mm } => say!(
                "the image is {} wide; the mount sheet lists {}, and nothing is guessed beyond it: enter the maker's figures for this size",
                Mm(*width_mm).wall(),
                Mm(*low_mm).wall().to(Mm(*high_mm).wall())
            ),
            Self::OtherAspect { sheet, image } => say!(
                "the mount sheet is made out for {} wide to 1 high, the image is {} to 1: enter the sheet for this aspect",
                plain(*sheet, 3),
                plain(*image, 3)
            ),
        }
    }
}

told_in_mm!(SetOutError, MountError);
