//! The job record: what was measured, turned and judged, by whom, when and with what, in one SQLite file.
//!
//! A record holds jobs; a job is a list of [events](event), appended and never changed. Each event carries the
//! [hash](chain) of its own bytes and of the event before it, so that one changed character breaks the chain at that
//! place. [`Record::append`] returns when the event is on disk. [`verify`](verify::verify) reads everything back and
//! names what is wrong.
//!
//! The parts, from the bottom up:
//! - [`stamp`]: who, when, with which software; [`event`]: what can be said; [`chain`]: which bytes are hashed;
//! - [`schema`]: the tables and their migrations; [`store`]: open, append; [`history`]: list and show;
//!   [`photo`]: attached bytes;
//! - [`seal`]: a digest of the whole file; [`sign`]: signatures under a closed job; [`verify`]: all of it checked;
//! - [`portable`]: one job as one file, and a record copied aside; [`table`]: CSV and JSON for other programs;
//! - [`place`]: where the record lives unless the user says otherwise.
//!
//! The clock is never read here: every stamp is an argument.

pub mod chain;
pub mod error;
pub mod event;
pub mod history;
pub mod photo;
pub mod place;
pub mod portable;
pub mod schema;
pub mod seal;
pub mod sign;
pub mod stamp;
pub mod store;
pub mod table;
pub mod verify;

pub use error::RecordError;
pub use event::Body;
pub use history::{Event, JobHistory, JobSummary};
pub use stamp::{Stamp, When};
pub use store::{Appended, Record};
