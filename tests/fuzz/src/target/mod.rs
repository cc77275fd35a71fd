//! One file a way in.

pub mod event;
pub mod flash;
pub mod frame;
pub mod job_file;
pub mod photo;
pub mod profile;
pub mod record;
pub mod recording;
pub mod tables;
