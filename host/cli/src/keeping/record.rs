//! The record's file, and who writes in it.

use crate::written;
use anyhow::Context;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use skimgauge_jobfile::Job;
use skimgauge_record::{Record, RecordError, Stamp, When};
use skimgauge_system::access::{account, goes_by_its_folder};
use skimgauge_system::output;
use std::path::{Path, PathBuf};

/// Name and version, as the record says which software wrote.
const SOFTWARE: &str = concat!("skimgauge ", env!("CARGO_PKG_VERSION"));

/// The record's path: the one named, or the platform's place.
///
/// # Errors
/// The account has no home folder.
pub fn record_path(named: Option<&Path>) -> anyhow::Result<PathBuf> {
    match named {
        Some(path) => Ok(path.to_owned()),
        None => skimgauge_record::place::default_path().context(
            "This account has no home folder to keep the record in. Say where with --record FILE.",
        ),
    }
}

/// Now, who and with what.
///
/// # Errors
/// `who` is blank.
pub fn stamp(who: &str) -> Result<Stamp, RecordError> {
    let now = Timestamp::now();
    Stamp::new(When::new(now, TimeZone::system().to_offset(now)), who, SOFTWARE)
}

/// Who is at work: as the job says, or the account.
pub fn who<B>(job: &Job<B>) -> String {
    job.about
        .by
        .clone()
        .or_else(account)
        .filter(|name| !name.trim().is_empty())
        .unwrap_or_else(|| "not named".to_owned())
}

/// Opens the record at this path, made if there is none, and says on the standard error where the
/// file is kept as it was, if it had to be brought up to date.
///
/// # Errors
/// What the record can meet.
pub fn open_record(path: &Path) -> Result<Record, RecordError> {
    let is_new = !path.exists();
    let record = Record::open_or_create(path).inspect_err(|error| {
        // A name with nothing behind it would be no record to whoever looks later.
        if is_new && matches!(error, RecordError::DiskFull(_)) {
            let _ = output::remove(path, written::NOTHING);
        }
    })?;
    if is_new && goes_by_its_folder(path) {
        eprintln!(
            "The new record {} may be read by others who have an account on this computer, as its folder may. Without --record \
             it lies where they may not.",
            path.display()
        );
    }
    say_moved_on(&record);
    Ok(record)
}

/// Says where the file is kept as it was, if the record was brought up to date.
pub fn say_moved_on(record: &Record) {
    if let Some(moved_on) = record.moved_on() {
        eprintln!(
            "The record {} was in an older format ({}) and is brought up to date. As it was it is kept as {}.",
            record.path().display(),
            moved_on.from,
            moved_on.copy.display()
        );
    }
}
