//! What people say to a procedure.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::Turns;

/// Where a walk stops, by its place in the walk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stop {
    /// At this station, counted from 0 in the job's order.
    Station(usize),
    /// At the emitter.
    Emitter,
}

/// A word. Keys, buttons and typed lines are ways to say it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Word {
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
    /// To this place.
    Go(Stop),
    /// The head is clipped on where it should be; the turn is made; the step may begin.
    Ready,
    /// Begin to turn.
    Begin,
    /// Turned as told, or by so many turns, clockwise positive, and the gap is not where it should
    /// be.
    Turned(Option<Turns>),
    /// The last step is taken back, and what was learnt from it.
    Undo,
    /// Another adjuster was turned than the one that was told.
    Wrong,
    /// The adjuster will not go further.
    Stuck,
    /// Yes, to what was asked.
    Yes,
    /// No, to what was asked.
    No,
    /// Leave this step out.
    Skip,
    /// Forget what was marked.
    Clear,
    /// The next thing to be levelled.
    Other,
    /// The cue on or off.
    Sound,
    /// It was touched as asked, and the display did not react.
    Missed,
    /// Stop for a while, or go on after that.
    Pause,
    /// Something that means nothing here; after a question it is a no.
    Unknown,
    /// Enough.
    Quit,
}

/// Who said it, and by which way it came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Speaker {
    /// A key of the screen.
    Keyboard,
    /// A line typed where there is no screen.
    Typed,
    /// The head's own button.
    Button,
    /// A phone's page.
    Phone,
    /// The practice's installer.
    Practice,
}

/// A word as it was said.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Said {
    /// The word.
    pub word: Word,
    /// Who said it.
    pub by: Speaker,
    /// The number of the [`View`](crate::View) that its speaker had before them, if they tell it:
    /// where what can be said has changed since, the word is refused.
    pub seen: Option<u64>,
}

impl Said {
    /// A word that does not tell what its speaker saw.
    pub fn by(by: Speaker, word: Word) -> Self {
        Self { word, by, seen: None }
    }
}
