//! The procedures at the board, each one machine. Pure: what came and the time in, what to do out;
//! and at any time one [`View`] of how things stand.
//!
//! A [`Procedure`] is told everything that happens as an [`Input`]: what the head sends, a word that
//! a person said, what the record answers, that time passed. It answers with [`Output`]s, which its
//! shell carries out in their order. Whoever shows it (screen, plain lines, JSON, a page) reads the
//! [`View`] and nothing else; whoever works with it (a person, the practice's installer) reads the
//! same [`View`] and says [`Word`]s.
//!
//! No clock, port, file or screen is within reach of this crate.

mod adopt;
pub mod birth;
pub mod emitter_off;
mod input;
pub mod level;
mod output;
pub mod proof;
mod situation;
pub mod survey;
pub mod takes;
#[cfg(any(test, feature = "trial"))]
pub mod trial;
pub mod trim;
pub mod view;
mod word;
pub mod zero;

pub use input::{Answer, EventId, Input};
pub use output::{Entry, Message, News, Output, Touched};
pub use view::View;
pub use word::{Said, Speaker, Stop, Word};

use std::time::Duration;

/// One job of work at the board as a machine.
pub trait Procedure {
    /// Something came, at this time: what follows, in its order.
    fn on(&mut self, now: Duration, input: Input) -> Vec<Output>;

    /// How things stand at this time: everything that is shown, and nothing that has to be worked
    /// out to show it.
    fn view(&self, now: Duration) -> View;
}
