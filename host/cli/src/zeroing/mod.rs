//! Zeroing a head with a user at the rig: guided in plain lines, to be put aside and taken up
//! again, nothing written to the head before the end.
//!
//! [`talk`] is the shell around head and keyboard, [`steps`] what is done in which order, [`text`]
//! what is shown.

pub mod steps;
pub mod talk;
pub mod text;
