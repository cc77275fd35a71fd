//! Another firmware for a head: the file is checked before the head is troubled, the head is asked
//! into its boot loader, the file is copied onto the drive that shows there, and the head must come
//! back with the file's version.
//!
//! [`beside`] finds the file that came with the program; [`image`] checks a file, pure; [`drive`]
//! knows a boot loader's drive; `loader` gets a head there; [`steps`] is the shell.

pub mod beside;
pub mod drive;
pub mod image;
mod loader;
pub mod steps;
