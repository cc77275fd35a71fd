//! What can go wrong, said to the person on the ladder.

use std::io;
use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

/// A refusal or a failure: what is wrong, where, and what to do.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// No file there.
    #[error("There is no record at {}. Check the path, or start a job to make one.", .0.display())]
    Missing(PathBuf),
    /// A file stands where a new one was to be made.
    #[error("{} is there already and was left as it is. Choose another name.", .0.display())]
    Exists(PathBuf),
    /// Something else than a record.
    #[error("{} is not a skimgauge record. It was left as it is. Choose another file.", .0.display())]
    NotARecord(PathBuf),
    /// A device, a pipe or a folder.
    #[error("{} is {is}: a record is a file on a disk. Nothing was done; choose another path.", .path.display())]
    NoFile {
        /// What was named.
        path: PathBuf,
        /// What it is.
        is: &'static str,
    },
    /// Written by a later version of this program.
    #[error(
        "The record {} was written by a newer version of skimgauge (record format {found}; this one knows up to {known}). \
         Nothing was changed. Update skimgauge, then open it again.",
        .path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its format.
        found: i64,
        /// The newest format that this program knows.
        known: i64,
    },
    /// Written by an earlier version, and not to be brought up to date without a copy.
    #[error(
        "The record {} is in an older format. Before it is brought up to date a copy of it as it was is kept beside it, and \
         that could not be written ({why}). Nothing was changed. Make room, or make the folder writable; or copy the record \
         elsewhere and say where with --record.",
        .path.display()
    )]
    NoCopy {
        /// The file.
        path: PathBuf,
        /// The system's own words.
        why: String,
    },
    /// A job's events don't follow from each other.
    #[error(
        "The job \"{job}\" in the record {} is broken at event {seq}: {why}. Nothing was added: whatever is added behind a \
         break is lost to every check and to the page. Go on in a new record (--record NEW-FILE); `skimgauge jobs export \
         --salvage NEW-FILE` saves what holds of this one.",
        .path.display()
    )]
    Broken {
        /// The file.
        path: PathBuf,
        /// The job.
        job: String,
        /// Place of the first event that can't be trusted.
        seq: u32,
        /// What does not fit there.
        why: String,
    },
    /// The file's content makes no sense any more.
    #[error(
        "The record {} is damaged: {what}. Nothing was changed. Copy the file aside before anything else; `skimgauge jobs \
         verify` says how far it can be trusted, and `skimgauge jobs export --salvage NEW-FILE` saves what holds.",
        .path.display()
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What does not fit.
        what: String,
    },
    /// No room left.
    #[error(
        "No room is left where the record {} is kept: this entry was not saved, everything before it is safe. Make room, then \
         do it again.",
        .0.display()
    )]
    DiskFull(PathBuf),
    /// The place can be read only.
    #[error("The record {} can only be read: nothing was saved. Make the file and its folder writable, or choose another with --record.", .0.display())]
    ReadOnly(PathBuf),
    /// The account may not.
    #[error("No permission for the record {} or its folder. Use the account that made it, or choose another record with --record.", .0.display())]
    NoPermission(PathBuf),
    /// The file went away under an open record.
    #[error(
        "The record {} was removed or replaced while it was open: the last entry may be lost with it. Put the drive or \
         the file back; then take this reading again.",
        .0.display()
    )]
    Removed(PathBuf),
    /// Another process held it too long.
    #[error("Another program has held the record {} for too long: nothing was saved. Close it there, then do this again.", .0.display())]
    Busy(PathBuf),
    /// An interrupted write waits to be undone where nothing can be written.
    #[error(
        "A write to the record {} was interrupted and must be undone first, but the place can only be read. Copy the \
         record together with the file beside it that ends in -journal to a place that can be written, and open it there.",
        .0.display()
    )]
    Interrupted(PathBuf),
    /// The drive failed.
    #[error("The drive that holds {} does not answer as it should ({what}). This entry may not be saved: check the drive and its plug, then do it again.", .path.display())]
    Drive {
        /// The file.
        path: PathBuf,
        /// The system's own words.
        what: String,
    },
    /// No job by that name.
    #[error("There is no job named \"{name}\" in this record.{}", near(.close_by))]
    NoSuchJob {
        /// As asked for.
        name: String,
        /// Names that resemble it.
        close_by: Vec<String>,
    },
    /// More than one job of that name.
    #[error("More than one job in this record is named \"{name}\". Say which by its identity: {}.", .ids.join(", "))]
    NameShared {
        /// As asked for.
        name: String,
        /// Their identities.
        ids: Vec<String>,
    },
    /// A newer program went on with the job.
    #[error(
        "A newer version of skimgauge went on with the job \"{0}\", and wrote what this one does not know. Only notes and \
         photos can be added to it here. Update skimgauge; or open a job of another name for what is measured now."
    )]
    NewerEvents(String),
    /// The system gives no random numbers.
    #[error(
        "This computer gives no random number to tell the new job from others ({0}). Nothing was begun."
    )]
    NoRandom(String),
    /// The name is taken.
    #[error("There is a job named \"{0}\" already. Go on with that one, or choose another name.")]
    JobExists(String),
    /// The job takes no more events.
    #[error(
        "The job \"{0}\" is closed: nothing can be added to it but a signature. Open a new job for new work."
    )]
    Closed(String),
    /// A signature before there is anything to sign.
    #[error("The job \"{0}\" is still open. Close it first: a signature goes under a closed job.")]
    NotClosed(String),
    /// A stamp that says too little.
    #[error("\"{}\" does not do: expected {expected}.", .text.escape_debug())]
    BadStamp {
        /// As given.
        text: String,
        /// What would do.
        expected: &'static str,
    },
    /// What a simulated head read, in a job that a real one read.
    #[error(
        "A real head read \"{0}\": what a simulated one reads is not kept in it. Practise in a record of its own: \
         --record FILE."
    )]
    NoPractice(String),
    /// What a real head read, in a job that was only practised until now.
    #[error(
        "Until now \"{0}\" was only practised in this record, with a simulated head. From now on nothing of the practice \
         counts. End this command and start it again: what a real head reads is then kept from the beginning."
    )]
    OnlyPractised(String),
    /// What a real head read, over a board that only a simulated one surveyed.
    #[error(
        "The survey that the job goes by was read of a simulated head: over it a real head judges nothing. Take [survey] out \
         of the job file, or survey this board, then start again."
    )]
    PractisedSurvey,
    /// An event that can't stand in the record.
    #[error("This cannot go into the record: {0}.")]
    BadEvent(String),
    /// A key or signature that can't be used.
    #[error("{0}")]
    Key(String),
    /// Two records tell different stories of one job.
    #[error(
        "The job \"{job}\" in {} and in this record part ways at event {seq}: they cannot be joined. Nothing was changed. \
         Import it into a record of its own with --record.",
        .path.display()
    )]
    PartWays {
        /// The job.
        job: String,
        /// The file to be imported.
        path: PathBuf,
        /// First event that differs.
        seq: u32,
    },
    /// A job that does not hold where it is, and so is not carried on.
    #[error(
        "The job \"{job}\" in {place} was not carried: at event {seq}, {why}. Nothing was changed. `skimgauge jobs verify` says \
         how far it can be trusted."
    )]
    NotCarried {
        /// The job, by its name or the first digits of its identity.
        job: String,
        /// Where it is.
        place: String,
        /// Place of the first event that can't be trusted.
        seq: u32,
        /// What does not fit there.
        why: String,
    },
    /// What another kind of store met, in its own words.
    #[error("{0}")]
    Elsewhere(Box<dyn std::error::Error + Send + Sync>),
    /// A file from elsewhere that holds what this program does not write.
    #[error("{} was not read in: {what}. Nothing was changed.", .path.display())]
    Foreign {
        /// The file.
        path: PathBuf,
        /// What is beyond what this program writes.
        what: String,
    },
    /// Anything that has no sentence of its own.
    #[error("The record {} could not be used: {what}.", .path.display())]
    Other {
        /// The file.
        path: PathBuf,
        /// SQLite's own words.
        what: String,
    },
}

fn near(names: &[String]) -> String {
    if names.is_empty() {
        " `skimgauge jobs list` shows all.".to_owned()
    } else {
        format!(" Did you mean \"{}\"?", names.join("\", \""))
    }
}

impl RecordError {
    /// The sentence for what SQLite reported about the record at `path`.
    pub(crate) fn from_sqlite(path: &Path, error: &rusqlite::Error) -> Self {
        let path = path.to_owned();
        let what = error.to_string();
        let rusqlite::Error::SqliteFailure(failure, _) = error else {
            // Everything else that a well-formed statement of ours meets is a row that holds what
            // it can't hold.
            return Self::Damaged { path, what };
        };
        match failure.code {
            ErrorCode::DiskFull => Self::DiskFull(path),
            ErrorCode::ReadOnly => match failure.extended_code {
                rusqlite::ffi::SQLITE_READONLY_DBMOVED => Self::Removed(path),
                rusqlite::ffi::SQLITE_READONLY_ROLLBACK => Self::Interrupted(path),
                _ => Self::ReadOnly(path),
            },
            ErrorCode::PermissionDenied => Self::NoPermission(path),
            ErrorCode::CannotOpen => Self::cannot_open(path, what),
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => Self::Busy(path),
            ErrorCode::DatabaseCorrupt => Self::Damaged { path, what },
            ErrorCode::NotADatabase => Self::NotARecord(path),
            ErrorCode::SystemIoFailure if !path.exists() => Self::Removed(path),
            ErrorCode::SystemIoFailure => Self::Drive { path, what },
            ErrorCode::TooBig => {
                Self::BadEvent("it is larger than one entry may be (about 1 GB)".to_owned())
            }
            _ => Self::Other { path, what },
        }
    }

    /// The same about `path` where it is about `stand_in`, a file that the person never named.
    pub(crate) fn of(self, stand_in: &Path, path: &Path) -> Self {
        let swap = |named: PathBuf| if named == stand_in { path.to_owned() } else { named };
        match self {
            Self::DiskFull(named) => Self::DiskFull(swap(named)),
            Self::ReadOnly(named) => Self::ReadOnly(swap(named)),
            Self::NoPermission(named) => Self::NoPermission(swap(named)),
            Self::Missing(named) => Self::Missing(swap(named)),
            Self::Removed(named) => Self::Removed(swap(named)),
            Self::Drive { path, what } => Self::Drive { path: swap(path), what },
            other => other,
        }
    }

    fn cannot_open(path: PathBuf, what: String) -> Self {
        match std::fs::metadata(&path) {
            Ok(about) if about.is_dir() => Self::NoFile { path, is: "a folder" },
            // The file is there: either it may not be opened, or its journal can't be made beside
            // it.
            Ok(_) => Self::NoPermission(path),
            Err(error) => Self::from_io(&path, &error, what),
        }
    }

    /// The sentence for what the system reported about the file at `path`.
    pub(crate) fn from_io(path: &Path, error: &io::Error, what: String) -> Self {
        let path = path.to_owned();
        match error.kind() {
            io::ErrorKind::NotFound => Self::Missing(path),
            io::ErrorKind::PermissionDenied => Self::NoPermission(path),
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::DiskFull(path),
            io::ErrorKind::ReadOnlyFilesystem => Self::ReadOnly(path),
            io::ErrorKind::AlreadyExists => Self::Exists(path),
            _ => Self::Drive { path, what },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::tests::take;
    use crate::{Record, Stamp, When};

    #[test]
    fn a_record_held_by_another_is_said() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.sqlite");
        let stamp =
            Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "A. Fitter", "test")
                .unwrap();
        let mut record = Record::create(&path).unwrap();
        record.open_job(crate::JobId([1; 16]), "Hall 3", "", &stamp).unwrap();
        let other = Record::open(&path).unwrap();
        other.connection.execute_batch("BEGIN IMMEDIATE").unwrap();
        record.connection.busy_timeout(std::time::Duration::from_millis(20)).unwrap();
        let error = record.note("Hall 3", &stamp, "x").unwrap_err();
        assert!(matches!(error, RecordError::Busy(_)), "{error:?}");
        other.connection.execute_batch("COMMIT").unwrap();
        record.note("Hall 3", &stamp, "x").unwrap();
    }

    /// A limit on the file's pages fails in the same way as a full disk.
    #[test]
    fn a_full_disk_is_said_and_loses_nothing_before_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.sqlite");
        let stamp =
            Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "A. Fitter", "test")
                .unwrap();
        let mut record = Record::create(&path).unwrap();
        record.open_job(crate::JobId([1; 16]), "Hall 3", "", &stamp).unwrap();
        let pages: i64 =
            record.connection.query_row("PRAGMA page_count", [], |row| row.get(0)).unwrap();
        let _: i64 = record
            .connection
            .query_row(&format!("PRAGMA max_page_count = {}", pages + 3), [], |row| row.get(0))
            .unwrap();
        let mut taken = 0;
        let error = loop {
            match record.append("Hall 3", &stamp, take("top", 3.0)) {
                Ok(_) => taken += 1,
                Err(error) => break error,
            }
            assert!(taken < 1000);
        };
        assert!(matches!(error, RecordError::DiskFull(_)), "{error:?}");
        assert!(error.to_string().contains("Make room"));
        drop(record);
        let mut record = Record::open(&path).unwrap();
        assert_eq!(record.job("Hall 3").unwrap().current_takes().len(), taken);
        assert!(crate::verify::verify(&path).unwrap().sound());
        record.append("Hall 3", &stamp, take("top", 3.0)).unwrap();
    }
}
