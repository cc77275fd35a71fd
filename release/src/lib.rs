//! What a release holds beside the program and the flash image. Nothing of it is written by hand
//! where the program knows it: man pages and completions come from the very command line that it
//! parses with ([`manual`], [`completion`]), the rule for a head's port from a head's USB identity
//! ([`rule`]), the notices of what is built in from cargo's own account ([`notices`]).
//!
//! A program of its own, not a hidden command of `skimgauge`: what goes out carries nothing that its
//! user has no use for, and a release for another system gets its papers from the computer that
//! builds it. `release/build` puts them where a system looks for them.

pub mod completion;
pub mod manual;
pub mod notices;
pub mod rule;

/// A file of a release.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Paper {
    /// Where it lies in the folder of papers.
    pub path: String,
    /// What it says.
    pub bytes: Vec<u8>,
}

/// A job to try every command with: the one that the demonstration plays, with its wall.
pub fn sample_job() -> Paper {
    let bytes = skimgauge_jobfile::sample_job().into();
    Paper { path: "board.toml".to_owned(), bytes }
}
