//! The steps of a job in the trade's order, and how each of them stands, from the job's record
//! alone. Pure: a history in, standings out.
//!
//! | module | subject |
//! | --- | --- |
//! | [`step`] | the steps: words, what closes each, what each leans on, what is gone through first |
//! | [`undoing`] | what happens later and undoes which step: one table |
//! | [`standing`] | how each step stands |
//! | [`typed`] | a command as it is typed |

pub mod standing;
pub mod step;
pub mod typed;
pub mod undoing;

pub use standing::{By, Standing, State, standings};
pub use step::{ClosedBy, Step};
pub use typed::Typed;
