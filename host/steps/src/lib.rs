//! The steps of a job in the trade's order, and how each of them stands, from the job's record and
//! its file alone. Pure: a history in, standings out.
//!
//! | module | subject |
//! | --- | --- |
//! | [`step`] | the steps: words, what closes each, what each leans on, what is gone through first |
//! | [`gate`] | what has to stand before a person may say that a step is done; a load on anchors that nobody proved |
//! | [`undoing`] | what happens later and undoes which step: one table |
//! | [`stands_by`] | by which parts of the job file each step stands: one table |
//! | [`state`] | how a step stands, as a value |
//! | [`standing`] | how each step stands |
//! | [`by_name`] | where a name closes what a command closes |
//! | [`undone`] | a person's word on a step, taken back |
//! | [`typed`] | a command as it is typed |

pub mod by_name;
pub mod gate;
mod says;
pub mod standing;
pub mod stands_by;
pub mod state;
pub mod step;
pub mod typed;
pub mod undoing;
pub mod undone;

pub use standing::{Table, standings, standings_by, table_is};
pub use state::{By, Standing, State};
pub use step::{ClosedBy, Step};
pub use typed::Typed;
