//! The demonstration: a simulated head, board and emitter; the host talks to the head as it would
//! to a real one.
//!
//! [`planned`] is the room of a job, [`stage`] that room with its head, at a port or within this
//! program. Who works there is a [`Person`], who sees the view and says words as any user does, and
//! has hands in the simulated room: [`installer`] does a job by itself, [`turning`] lets the user
//! turn the adjusters. [`hand`] obeys words of another program. A [`room`] may be one that teaches
//! something.

pub mod again;
mod carry;
pub mod clumsy;
#[cfg(feature = "emulated")]
mod emulated;
pub mod hand;
pub mod installer;
pub mod planned;
pub mod room;
pub mod stage;
pub mod survey;
pub mod turning;

use skimgauge_procedure::{View, Word};
use std::time::Duration;

/// Somebody who sees what a user sees and says what a user says.
pub trait Person {
    /// Looks at the view, ten times a second; the words then said.
    ///
    /// # Errors
    /// It gets no further.
    fn sees(&mut self, now: Duration, view: &View) -> anyhow::Result<Vec<Word>>;

    /// What it does, for the foot of the screen.
    fn says(&self) -> Option<&str> {
        None
    }

    /// What it did since this was last asked, for lines.
    fn news(&mut self) -> Vec<String> {
        Vec::new()
    }

    /// Whether it is away: nothing is done, and a line would say the same as the one before.
    fn is_away(&self) -> bool {
        false
    }

    /// What its keys do, for the help.
    fn keys(&self) -> &[(&'static str, String)] {
        &[]
    }

    /// A key that says no word.
    fn key(&mut self, _: char) {}
}
