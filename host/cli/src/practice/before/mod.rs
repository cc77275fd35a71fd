//! The hands of the practice as they were led before there was a view: they go with the old shell.

pub mod carry;
pub mod installer;
pub mod turning;
