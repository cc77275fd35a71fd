//! What a command comes to, and its exit status.

use skimgauge_model::Verdict;
use std::process::ExitCode;

/// What a command comes to: a verdict, or success.
pub type Outcome = anyhow::Result<Ended>;

/// How a command ended, and with which exit status.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// Done, or everything within: 0.
    Well,
    /// Something is outside: 1.
    Outside,
    /// Too close to call, or not everything is known: 3.
    Unsure,
}

impl From<Verdict> for Ended {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Within => Self::Well,
            Verdict::Outside => Self::Outside,
            Verdict::Unsure => Self::Unsure,
        }
    }
}

impl From<Ended> for ExitCode {
    fn from(ended: Ended) -> Self {
        match ended {
            Ended::Well => Self::SUCCESS,
            Ended::Outside => Self::from(1),
            Ended::Unsure => Self::from(3),
        }
    }
}
