//! Screens read from two metres: big numbers, few words, never colour alone.

pub mod board;
pub mod digits;
pub mod gauge;
pub mod trim;
pub mod watch;
pub mod words;
