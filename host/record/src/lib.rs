//! The job record: what was measured, turned and judged, by whom, when and with what, in one SQLite
//! file.
//!
//! A record holds jobs, each with an [identity](id) of its own and a name that is a label; a job is
//! a list of [events](event), appended and never changed. Each event carries the [hash](chain) of
//! its own bytes and of the event before it, so that one changed character breaks the chain at that
//! place, and nothing is added behind a break. [`Record::append`] returns when the event is on
//! disk. [`verify`](verify::verify) reads everything back and names what is wrong.
//!
//! The parts, from the bottom up:
//! - [`stamp`]: who, when, with which software; [`event`]: what can be said; [`section`]: what other
//!   work says; [`chain`]: which bytes are hashed;
//! - [`schema`]: the tables and their migrations; [`store`]: open, append; [`history`]: list and
//!   show; [`takes`]: which takes and turns stand; [`practice`]: what was read of a simulated head;
//!   [`photo`]: attached bytes;
//! - [`seal`]: a digest of the whole file; [`sign`]: signatures under a closed job; [`verify`]: all
//!   of it checked;
//! - [`carry`]: jobs between stores, of which a file is one, and branches joined;
//! - [`portable`]: one job as one file, and a record copied aside; [`salvage`]: what can be saved
//!   of a damaged one; [`table`]: CSV and JSON for other programs;
//! - [`limits`]: what is written at the most, and read in from elsewhere; [`text`]: characters that
//!   steer the screen;
//! - [`place`]: where the record lives unless the user says otherwise.
//!
//! The clock is never read here: every stamp is an argument.

mod admit;
pub mod carry;
pub mod chain;
pub mod error;
pub mod event;
pub mod history;
pub mod id;
mod job_row;
pub mod limits;
mod open;
mod order;
pub mod photo;
pub mod place;
pub mod portable;
pub mod practice;
pub mod salvage;
pub mod schema;
pub mod seal;
pub mod section;
pub mod sign;
pub mod stamp;
pub mod store;
pub mod table;
pub mod takes;
pub mod text;
mod turns;
pub mod verify;
mod walk;

pub use error::RecordError;
pub use event::Body;
pub use history::{Event, JobHistory, JobSummary};
pub use id::JobId;
pub use open::MovedOn;
pub use stamp::{Stamp, When};
pub use store::{Appended, Record};
pub use walk::{Broken, StoredRow};
