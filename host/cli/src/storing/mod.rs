//! Storing beside the drawing: what a watch keeps goes to the record in a thread of its own, so
//! that the number on the screen stays live while a disk is slow or another program holds the
//! record.
//!
//! [`entry`] is what is stored, [`saver`] the thread and its bounded way in, `put_aside` a zeroing in its file,
//! [`at_work`] the mark that one watch leaves for another on the same job.

pub mod at_work;
pub mod entry;
mod put_aside;
pub mod saver;
#[cfg(test)]
mod tests;

pub use entry::{Book, Store, Stored};
pub use put_aside::{PutAside, begin_or_go_on};
pub use saver::{Done, Saver};
