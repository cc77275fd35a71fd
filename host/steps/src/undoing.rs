//! What happens later and undoes which step; what is changed in the job file is in `stands_by`.

use crate::step::Step;

/// Something that happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// A step was done, or done again with another result.
    Did(Step),
    /// The anchors were worked out or pulled, and do not carry, or not all is known of them.
    AnchorsWanting,
    /// An adjuster was turned.
    Turned,
    /// Something was moved that no turn tells of.
    Touched,
    /// The head has other constants than before.
    ZeroedAnew,
}

/// What a cause undoes, and the reason.
pub struct Undoing {
    /// What happened.
    pub cause: Cause,
    /// The steps that it undoes, where they were done before it.
    pub undoes: &'static [Step],
    /// Why, as it stands behind the step.
    pub why: &'static str,
}

/// The table. Common practice, no source, where it is no matter of geometry.
pub const UNDOINGS: &[Undoing] = &[
    Undoing {
        cause: Cause::Did(Step::SetOut),
        undoes: &[Step::Services, Step::Fixings, Step::Bracket, Step::Hanging],
        why: "the marks on the wall are others since",
    },
    Undoing {
        cause: Cause::Did(Step::Fixings),
        undoes: &[Step::Bracket],
        why: "the fixings are others since",
    },
    Undoing {
        cause: Cause::AnchorsWanting,
        undoes: &[Step::Hanging],
        why: "the anchors were found wanting since",
    },
    Undoing {
        cause: Cause::Did(Step::Bracket),
        undoes: &[Step::Square],
        why: "the bracket was levelled since",
    },
    Undoing {
        cause: Cause::Did(Step::Hanging),
        undoes: &[Step::Focus, Step::Square, Step::Retighten, Step::Proof],
        why: "the projector was hung since",
    },
    Undoing {
        cause: Cause::Did(Step::Focus),
        undoes: &[Step::Square, Step::Proof],
        why: "focus or corrections were changed since",
    },
    Undoing {
        cause: Cause::Did(Step::Square),
        undoes: &[Step::Retighten, Step::Proof],
        why: "the image was moved since",
    },
    Undoing {
        cause: Cause::Did(Step::Survey),
        undoes: &[Step::Trim, Step::AsLeft],
        why: "the board's shape is known since, and was not judged",
    },
    Undoing {
        cause: Cause::Did(Step::Emitter),
        undoes: &[Step::Trim, Step::Proof, Step::AsLeft],
        why: "the emitter was mounted since",
    },
    Undoing {
        cause: Cause::Turned,
        undoes: &[Step::Trim, Step::Proof, Step::AsLeft],
        why: "an adjuster was turned since",
    },
    Undoing {
        cause: Cause::Touched,
        undoes: &[Step::Trim, Step::Proof, Step::AsLeft],
        why: "something was moved since",
    },
    Undoing {
        cause: Cause::ZeroedAnew,
        undoes: &[Step::Trim, Step::AsLeft],
        why: "the head was zeroed anew since",
    },
];

/// What this undoes.
pub fn undoings(cause: Cause) -> impl Iterator<Item = &'static Undoing> {
    UNDOINGS.iter().filter(move |undoing| undoing.cause == cause)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_step_undoes_itself_or_one_that_it_leans_on() {
        for undoing in UNDOINGS {
            let Cause::Did(step) = undoing.cause else { continue };
            for undone in undoing.undoes {
                assert!(*undone != step && !leans(step, *undone), "{step:?} undoes {undone:?}");
            }
        }
    }

    fn leans(step: Step, on: Step) -> bool {
        step.leans_on().iter().any(|next| *next == on || leans(*next, on))
    }
}
