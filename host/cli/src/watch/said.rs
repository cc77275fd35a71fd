//! What passes between a watch and its shell: what the user says, what must be done, what is said
//! to the user.

use super::stations::{EmitterTilt, Kept};
use skimgauge_metrology::measure::Came;
use skimgauge_record::chain::Hash;
use skimgauge_session::HeadIs;
use skimgauge_session::Trouble;
use skimgauge_shared::message::Request;
use std::time::Duration;

/// The link to the head.
#[derive(Debug, Clone, PartialEq)]
pub enum Link {
    /// Opened, nobody has answered yet.
    Greeting,
    /// The head is there.
    Up(Box<HeadIs>),
    /// The link is lost and is being looked for.
    Lost(Trouble),
}

/// Something said to the user for a while.
#[derive(Debug, Clone, PartialEq)]
pub struct Message {
    /// What.
    pub text: String,
    /// Bad news?
    pub bad: bool,
    pub(super) until: Duration,
}

/// What the live gap should come to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dial {
    /// The gap, mm.
    pub to_mm: f64,
    /// To within this, mm.
    pub within_mm: f64,
    /// So far off is as far as the cue tells, mm.
    pub far_mm: f64,
}

/// What the user says.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// Take here, and go on.
    Take,
    /// Take again, here or, where nothing is taken here yet, at the place taken last: the former
    /// take is replaced. A head that was lifted since may stand anywhere: then this only leads
    /// back there.
    Redo,
    /// Take from one more seat here: it stands beside what was taken. Where nothing is taken here
    /// yet, this leads back to the place taken last.
    More,
    /// To the next place.
    Next,
    /// To the one before.
    Back,
    /// To this place, counted from 0.
    Go(usize),
    /// Yes, to what was asked.
    Yes,
    /// The cue on or off.
    Sound,
    /// Something that means nothing here; after a question it is a no.
    Other,
    /// Enough.
    Quit,
}

/// What the shell must do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Write a take to the record, then call [`super::Watch::kept`] or [`super::Watch::not_kept`].
    Keep {
        /// The station's index.
        station: usize,
        /// What stands there with the take, which is the last of its seats.
        kept: Box<Kept>,
        /// The event that it replaces.
        supersedes: Option<Hash>,
    },
    /// Write the emitter's tilt to the record, then call [`super::Watch::kept_tilt`] or
    /// [`super::Watch::not_kept`].
    KeepTilt(EmitterTilt, Came),
    /// Ask the head.
    Ask(Request),
    /// End, with this error if there is one.
    Quit(Option<Trouble>),
}
