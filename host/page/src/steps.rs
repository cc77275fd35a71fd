//! The job's steps, as a page shows them: what is done, open, stale or left out, and what comes next.

use bytes::Bytes;
use serde::Serialize;
use tokio::sync::watch;

/// How the job stands.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Steps {
    /// Every step, in the trade's order; empty where that cannot be told.
    pub steps: Vec<Step>,
    /// What comes next.
    pub next: Option<Next>,
    /// Why it cannot be told, or what is to be done at once, in a sentence.
    pub trouble: Option<String>,
}

/// A step, and how it stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Step {
    /// Its word: `set-out`.
    pub word: &'static str,
    /// What it is, in a few words.
    pub says: &'static str,
    /// How it stands: `done`, `open`, `stale`, `left out`.
    pub state: &'static str,
    /// The same told apart without colour.
    pub shape: char,
    /// By whom and when, and why it is not done; empty where nobody has tried.
    pub behind: String,
    /// It comes next.
    pub now: bool,
}

/// What comes next, and how.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Next {
    /// The step's word.
    pub word: &'static str,
    /// What it is, in a few words.
    pub says: &'static str,
    /// What is gone through before it.
    pub first: &'static [&'static str],
    /// Its command, as typed.
    pub command: String,
}

/// Where steps are shown; whoever reads the record may hold one in a thread of its own.
#[derive(Debug, Clone)]
pub struct StepsShown(watch::Sender<Bytes>);

impl StepsShown {
    /// None yet.
    pub(crate) fn new() -> (Self, watch::Receiver<Bytes>) {
        let (shown, newest) = watch::channel(Bytes::new());
        let shown = Self(shown);
        shown.show(&Steps::default());
        (shown, newest)
    }

    /// Shows these in place of those before.
    pub fn show(&self, steps: &Steps) {
        // Plain text and numbers: there is nothing that JSON cannot hold.
        let json = serde_json::to_vec(steps).unwrap_or_default();
        self.0.send_replace(json.into());
    }
}
