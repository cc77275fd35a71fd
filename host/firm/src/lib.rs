//! A firm's jobs in one place: events as the crews' laptops wrote them, in PostgreSQL (15 or later),
//! behind the same [store](skimgauge_record::carry::Store) as a record in a file.
//!
//! A crew works offline, in its own record; what is finished is sent, and found again from any
//! laptop. The database holds the very bytes of each event and looks at the same links; it takes
//! what is new and changes nothing. It is plain PostgreSQL: tables, triggers, grants
//! (`migrations/`), and no server of our own.
//!
//! - [`address`]: where it is, as libpq's URLs, environment, service and password files say it, and
//!   the settings file; `connect`: how it is reached; `secure`: TLS;
//! - [`base`]: an open database; `schema`: its numbered steps; `put`: events on their way in;
//! - [`patience`]: trying again; [`error`]: what can go wrong;
//! - [`summary`]: what a job's events sum up to; [`found`]: jobs found again;
//! - [`check`]: all of it checked; [`learn`]: what the jobs teach.

pub mod address;
pub mod base;
pub mod check;
mod connect;
pub mod error;
pub mod found;
pub mod learn;
pub mod patience;
mod put;
mod schema;
mod secure;
pub mod summary;

pub use address::Address;
pub use base::Base;
pub use error::FirmError;
