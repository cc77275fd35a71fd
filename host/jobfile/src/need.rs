//! What a job file must say for what is to be done with it, and what it says of that when it does
//! not.

use std::fmt;

use crate::problem::{Findings, JobErrors};

/// A section that is not there. `Display` is a sentence for the person who wrote the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Missing {
    /// The line that begins it; several where any of them would do.
    pub section: &'static str,
    /// What cannot be done without it.
    pub why: &'static str,
}

impl Missing {
    /// For everything that judges a gap.
    pub const BAND: Self = Self {
        section: "[band]",
        why: "what the gap may be is not known, and so no gap can be judged",
    };
    /// For everything that says how to turn.
    pub const ADJUSTERS: Self = Self {
        section: "[[adjuster]]",
        why: "where the emitter's three adjusters are and how far a turn moves them is not known, and so no turn can be worked out",
    };
    /// For set-out.
    pub const ROOM: Self =
        Self { section: "[room]", why: "set-out needs the wall and the image's place on it" };
    /// For fixings.
    pub const FIXINGS: Self =
        Self { section: "[fixings]", why: "plates, anchors and what hangs on them are not known" };

    /// The same as a problem of the file, at its end.
    pub(crate) fn as_problem(self, file: &str, text: &str) -> JobErrors {
        let findings = Findings::new(text);
        let wrong = format!("the file has no {} section: {}", self.section, self.why);
        findings.note(
            findings.end(),
            wrong,
            format!("a section that begins with the line {}", self.section),
        );
        findings.into_errors(file, false)
    }
}

impl fmt::Display for Missing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "The job file has no {} section: {}. A file that `skimgauge jobs new` wrote has one to fill in: take the # away \
             from its lines.",
            self.section, self.why
        )
    }
}

impl std::error::Error for Missing {}

/// Why a section does not do for its use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unready {
    /// It is not there.
    Missing(Missing),
    /// It says something that cannot be used: each problem at its line.
    Wrong(JobErrors),
}

impl From<Missing> for Unready {
    fn from(missing: Missing) -> Self {
        Self::Missing(missing)
    }
}

impl fmt::Display for Unready {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing(missing) => missing.fmt(f),
            Self::Wrong(problems) => problems.fmt(f),
        }
    }
}

impl std::error::Error for Unready {}
