//! Opening a record and appending to it.
//!
//! One file, with SQLite's rollback journal: at rest there is nothing beside it that could be forgotten in a copy. With
//! `synchronous = EXTRA` a commit returns when the file, its journal's end and the folder are on disk. Every write begins with
//! `BEGIN IMMEDIATE`, so that two processes append one after the other, each seeing what the other wrote.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, OptionalExtension, Transaction, TransactionBehavior};

use crate::chain::{self, Hash, Row};
use crate::event::{Body, Closed, JobOpened, JobRevised, Note, Take, VerdictWord};
use crate::schema::{self, Found};
use crate::sign::{Signer, signed};
use crate::{RecordError, Stamp, When};

/// How long to wait for another process before giving up.
const PATIENCE: Duration = Duration::from_secs(10);

/// Longest name of a job, in characters.
pub const LONGEST_NAME: usize = 120;

/// An open record.
#[derive(Debug)]
pub struct Record {
    pub(crate) connection: Connection,
    pub(crate) path: PathBuf,
    file: Option<FileId>,
}

/// What came of an appended event.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Appended {
    /// Its place in the job, from 1.
    pub seq: u32,
    /// Its hash.
    pub hash: Hash,
    /// How far the clock was set back since the event before, s. The order of events is their place, not their time.
    pub clock_back_s: Option<f64>,
}

/// A job's row: what its events sum up to.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct JobRow {
    pub job_id: i64,
    pub name: String,
    pub opened_at: String,
    pub last_at: String,
    pub last_seq: u32,
    pub last_hash: Hash,
    pub takes: u32,
    pub verdict: Option<String>,
    pub closed: bool,
}

impl JobRow {
    pub(crate) const COLUMNS: &str = "job_id, name, opened_at, last_at, last_seq, last_hash, takes, verdict, closed";

    pub(crate) fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            job_id: row.get(0)?,
            name: row.get(1)?,
            opened_at: row.get(2)?,
            last_at: row.get(3)?,
            last_seq: row.get(4)?,
            last_hash: row.get(5)?,
            takes: row.get(6)?,
            verdict: row.get(7)?,
            closed: row.get(8)?,
        })
    }

    /// The row after one more event; what `append` writes and what `verify` computes again.
    pub(crate) fn follow(&mut self, body: &Body, row: Row<'_>, hash: Hash) {
        row.at.clone_into(&mut self.last_at);
        self.last_seq = row.seq;
        self.last_hash = hash;
        match body {
            Body::JobOpened(opened) => {
                self.name.clone_from(&opened.name);
                row.at.clone_into(&mut self.opened_at);
            }
            Body::Take(take) if take.supersedes.is_none() => self.takes = self.takes.saturating_add(1),
            Body::Judged(judged) => self.verdict = Some(judged.verdict.as_str().to_owned()),
            Body::Closed(_) => self.closed = true,
            _ => {}
        }
    }

    /// The row of a job without events.
    pub(crate) fn empty(job_id: i64) -> Self {
        Self {
            job_id,
            name: String::new(),
            opened_at: String::new(),
            last_at: String::new(),
            last_seq: 0,
            last_hash: Hash::NONE,
            takes: 0,
            verdict: None,
            closed: false,
        }
    }
}

/// Which file a path leads to, where the system says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct FileId(u64, u64);

#[cfg(unix)]
fn file_id(path: &Path) -> Option<FileId> {
    use std::os::unix::fs::MetadataExt;
    std::fs::metadata(path).ok().map(|about| FileId(about.dev(), about.ino()))
}

/// Elsewhere an open file can't be removed or replaced.
#[cfg(not(unix))]
fn file_id(path: &Path) -> Option<FileId> {
    path.exists().then_some(FileId(0, 0))
}

impl Record {
    /// Opens the record, makes it if there is none, and brings an earlier format up to date.
    ///
    /// # Errors
    /// Each case of [`RecordError`] that opening can meet.
    pub fn open_or_create(path: &Path) -> Result<Self, RecordError> {
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|error| RecordError::from_io(folder, &error, error.to_string()))?;
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        let made = Self::connect(path, flags).and_then(|mut record| {
            schema::bring_up_to_date(&mut record.connection, path)?;
            record.file = file_id(path);
            Ok(record)
        });
        match made {
            // SQLite says no more than that it could not; the system says why.
            Err(RecordError::Missing(_)) => match std::fs::File::create_new(path) {
                Err(error) => Err(RecordError::from_io(path, &error, error.to_string())),
                Ok(_) => Err(RecordError::Drive { path: path.to_owned(), what: "it can't be opened".to_owned() }),
            },
            other => other,
        }
    }

    /// Makes a new record where nothing is yet.
    ///
    /// # Errors
    /// [`RecordError::Exists`], and as [`Record::open_or_create`].
    pub fn create(path: &Path) -> Result<Self, RecordError> {
        if path.exists() { Err(RecordError::Exists(path.to_owned())) } else { Self::open_or_create(path) }
    }

    /// Opens a record that is there, to read and append.
    ///
    /// # Errors
    /// [`RecordError::Missing`], and as [`Record::open_or_create`].
    pub fn open(path: &Path) -> Result<Self, RecordError> {
        let mut record = Self::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        if schema::identify(&record.connection, path)? == Found::Empty {
            return Err(RecordError::NotARecord(path.to_owned()));
        }
        schema::bring_up_to_date(&mut record.connection, path)?;
        record.file = file_id(path);
        Ok(record)
    }

    /// Opens a record that is there, to read only. An interrupted write is undone first, where that is possible.
    ///
    /// # Errors
    /// As [`Record::open`]; [`RecordError::Older`] for an earlier format, which is not brought up to date here.
    pub fn open_read_only(path: &Path) -> Result<Self, RecordError> {
        // Undoing an interrupted write takes a connection that may write; where none is to be had, SQLite falls back.
        let record = match Self::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE) {
            Err(RecordError::NoPermission(_) | RecordError::ReadOnly(_)) => {
                Self::connect(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?
            }
            other => other?,
        };
        record.connection.pragma_update(None, "query_only", true).map_err(|error| record.sqlite(&error))?;
        match schema::identify(&record.connection, path)? {
            Found::Current => Ok(record),
            Found::Empty => Err(RecordError::NotARecord(path.to_owned())),
            Found::Older(found) => Err(RecordError::Older { path: path.to_owned(), found }),
        }
    }

    pub(crate) fn connect(path: &Path, flags: OpenFlags) -> Result<Self, RecordError> {
        let sqlite = |error: rusqlite::Error| RecordError::from_sqlite(path, &error);
        if !flags.contains(OpenFlags::SQLITE_OPEN_CREATE) || path.is_dir() {
            let about =
                std::fs::metadata(path).map_err(|error| RecordError::from_io(path, &error, error.to_string()))?;
            if about.is_dir() {
                return Err(RecordError::NotARecord(path.to_owned()));
            }
        }
        // Not SQLITE_OPEN_URI: a path that looks like a URI is a path.
        let connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX).map_err(sqlite)?;
        connection.busy_timeout(PATIENCE).map_err(sqlite)?;
        connection.pragma_update(None, "trusted_schema", false).map_err(sqlite)?;
        connection.pragma_update(None, "cell_size_check", true).map_err(sqlite)?;
        connection.pragma_update(None, "foreign_keys", true).map_err(sqlite)?;
        connection.pragma_update(None, "synchronous", "EXTRA").map_err(sqlite)?;
        Ok(Self { connection, path: path.to_owned(), file: None })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    pub(crate) fn sqlite(&self, error: &rusqlite::Error) -> RecordError {
        RecordError::from_sqlite(&self.path, error)
    }

    /// Runs `work` in one write transaction. On disk when it returns; as before when it fails.
    pub(crate) fn write<T>(
        &mut self,
        work: impl FnOnce(&Transaction<'_>, &Path) -> Result<T, RecordError>,
    ) -> Result<T, RecordError> {
        let path = &self.path;
        let sqlite = |error: rusqlite::Error| RecordError::from_sqlite(path, &error);
        let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(sqlite)?;
        let done = work(&transaction, path)?;
        transaction
            .execute("UPDATE seal SET digest = zeroblob(32) WHERE digest <> zeroblob(32)", [])
            .map_err(sqlite)?;
        transaction.commit().map_err(sqlite)?;
        self.check_in_place()?;
        Ok(done)
    }

    /// A file that lost its name takes writes as before, and is gone when it is closed.
    pub(crate) fn check_in_place(&self) -> Result<(), RecordError> {
        if self.file.is_some() && file_id(&self.path) != self.file {
            return Err(RecordError::Removed(self.path.clone()));
        }
        Ok(())
    }

    /// Opens a new job with its job file's text.
    ///
    /// # Errors
    /// [`RecordError::JobExists`], [`RecordError::BadEvent`] for a name that is blank, too long or holds control
    /// characters, and what writing can meet.
    pub fn open_job(&mut self, name: &str, job_file: &str, stamp: &Stamp) -> Result<Appended, RecordError> {
        let name = name.trim();
        if name.is_empty() || name.chars().count() > LONGEST_NAME || name.chars().any(char::is_control) {
            return Err(RecordError::BadEvent(format!(
                "a job's name has 1 to {LONGEST_NAME} characters on one line, and \"{}\" does not",
                name.escape_debug()
            )));
        }
        let opened = JobOpened {
            name: name.to_owned(),
            job_file: job_file.to_owned(),
            job_file_sha256: Hash::of(job_file.as_bytes()),
        };
        self.write(|transaction, path| {
            if find(transaction, path, name)?.is_some() {
                return Err(RecordError::JobExists(name.to_owned()));
            }
            put(transaction, path, JobRow::empty(next_job_id(transaction, path)?), stamp, &opened.into())
        })
    }

    /// Records the job file's text anew, if it is another than the one recorded last. `None` when it is the same.
    ///
    /// # Errors
    /// As [`Record::append`] and [`Record::job`].
    pub fn revise_job(&mut self, job: &str, job_file: &str, stamp: &Stamp) -> Result<Option<Appended>, RecordError> {
        if self.job(job)?.job_file() == Some(job_file) {
            return Ok(None);
        }
        let job_file_sha256 = Hash::of(job_file.as_bytes());
        self.append(job, stamp, JobRevised { job_file: job_file.to_owned(), job_file_sha256 }).map(Some)
    }

    /// Appends an event to a job. When it returns, the event is on disk.
    ///
    /// # Errors
    /// [`RecordError::NoSuchJob`], [`RecordError::Closed`], [`RecordError::BadEvent`] for an event that can't stand
    /// where it would, and what writing can meet; then nothing was appended.
    pub fn append(&mut self, job: &str, stamp: &Stamp, body: impl Into<Body>) -> Result<Appended, RecordError> {
        self.append_with(job, stamp, body, |_| Ok(()))
    }

    /// Appends an event, with `before` done in the same transaction.
    pub(crate) fn append_with(
        &mut self,
        job: &str,
        stamp: &Stamp,
        body: impl Into<Body>,
        before: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<()>,
    ) -> Result<Appended, RecordError> {
        let body = body.into();
        self.write(|transaction, path| {
            let row = need(transaction, path, job)?;
            before(transaction).map_err(|error| RecordError::from_sqlite(path, &error))?;
            admit(transaction, path, &row, &body)?;
            put(transaction, path, row, stamp, &body)
        })
    }

    /// Appends a note.
    ///
    /// # Errors
    /// As [`Record::append`].
    pub fn note(&mut self, job: &str, stamp: &Stamp, text: &str) -> Result<Appended, RecordError> {
        self.append(job, stamp, Note { text: text.to_owned(), about: None })
    }

    /// Closes a job, signs it if there is a signer, and [seals](Record::seal) the record.
    ///
    /// # Errors
    /// As [`Record::append`] and [`Record::sign`]; then the job is as it was. If the seal alone fails, the job is closed and
    /// the error says what the sealing met.
    pub fn close(
        &mut self,
        job: &str,
        stamp: &Stamp,
        open_points: &[String],
        signer: Option<&Signer>,
    ) -> Result<Appended, RecordError> {
        let closed = self.write(|transaction, path| {
            let row = need(transaction, path, job)?;
            let verdict = row.verdict.as_deref().and_then(VerdictWord::parse);
            let body = Body::from(Closed { verdict, open_points: open_points.to_vec() });
            admit(transaction, path, &row, &body)?;
            let closed = put(transaction, path, row, stamp, &body)?;
            if let Some(signer) = signer {
                let row = need(transaction, path, job)?;
                put(transaction, path, row, stamp, &signed(signer, closed.seq, closed.hash)?.into())?;
            }
            Ok(closed)
        })?;
        self.seal()?;
        Ok(closed)
    }

    /// Puts one more signature under a closed job, and seals the record.
    ///
    /// # Errors
    /// [`RecordError::NotClosed`], [`RecordError::Key`], and what writing can meet.
    pub fn sign(&mut self, job: &str, stamp: &Stamp, signer: &Signer) -> Result<Appended, RecordError> {
        let appended = self.write(|transaction, path| {
            let row = need(transaction, path, job)?;
            let (seq, hash) = transaction
                .query_row("SELECT seq, hash FROM event WHERE job_id = ?1 AND kind = 'closed'", [row.job_id], |found| {
                    Ok((found.get(0)?, found.get(1)?))
                })
                .optional()
                .map_err(|error| RecordError::from_sqlite(path, &error))?
                .ok_or_else(|| RecordError::NotClosed(row.name.clone()))?;
            put(transaction, path, row, stamp, &signed(signer, seq, hash)?.into())
        })?;
        self.seal()?;
        Ok(appended)
    }
}

pub(crate) fn find(connection: &Connection, path: &Path, name: &str) -> Result<Option<JobRow>, RecordError> {
    let sql = format!("SELECT {} FROM job WHERE name = ?1", JobRow::COLUMNS);
    let found = connection.prepare_cached(&sql).and_then(|mut query| query.query_row([name], JobRow::read).optional());
    found.map_err(|error| RecordError::from_sqlite(path, &error))
}

pub(crate) fn need(connection: &Connection, path: &Path, name: &str) -> Result<JobRow, RecordError> {
    if let Some(row) = find(connection, path, name)? {
        return Ok(row);
    }
    let asked = name.to_lowercase();
    let names: rusqlite::Result<Vec<String>> = connection
        .prepare("SELECT name FROM job ORDER BY job_id DESC")
        .and_then(|mut query| query.query_map([], |row| row.get(0))?.collect());
    let close_by = names
        .map_err(|error| RecordError::from_sqlite(path, &error))?
        .into_iter()
        .filter(|known| {
            let known = known.to_lowercase();
            !asked.trim().is_empty() && (known.contains(asked.trim()) || asked.contains(&known))
        })
        .take(3)
        .collect();
    Err(RecordError::NoSuchJob { name: name.to_owned(), close_by })
}

/// Job numbers count from 1 without a gap, so that `verify` misses a row that went.
pub(crate) fn next_job_id(connection: &Connection, path: &Path) -> Result<i64, RecordError> {
    connection
        .query_row("SELECT coalesce(max(job_id), 0) + 1 FROM job", [], |row| row.get(0))
        .map_err(|error| RecordError::from_sqlite(path, &error))
}

/// Whether the event may follow in this job.
fn admit(transaction: &Transaction<'_>, path: &Path, job: &JobRow, body: &Body) -> Result<(), RecordError> {
    let refuse = |why: String| Err(RecordError::BadEvent(why));
    if job.closed {
        return Err(RecordError::Closed(job.name.clone()));
    }
    match body {
        Body::JobOpened(_) => refuse(format!("the job \"{}\" was opened already", job.name)),
        Body::Signed(_) => Err(RecordError::NotClosed(job.name.clone())),
        Body::PhotoAttached(photo) => {
            let there = transaction
                .prepare_cached("SELECT 1 FROM photo WHERE sha256 = ?1")
                .and_then(|mut q| q.exists([photo.sha256]));
            match there.map_err(|error| RecordError::from_sqlite(path, &error))? {
                true => Ok(()),
                false => refuse(format!("the bytes of \"{}\" are not in the record yet", photo.name)),
            }
        }
        Body::Take(Take { supersedes: Some(earlier), station, phase, .. }) => {
            let replaced = event_body(transaction, path, job, *earlier)?;
            match replaced {
                Some(Body::Take(old)) if old.station == *station && old.phase == *phase => {}
                Some(Body::Take(old)) => {
                    return refuse(format!(
                        "the take {earlier} is of station \"{}\", {}, and can't be replaced by one of \"{station}\", {}",
                        old.station,
                        old.phase.as_str(),
                        phase.as_str()
                    ));
                }
                _ => return refuse(format!("event {earlier} of \"{}\" is no take that could be replaced", job.name)),
            }
            let again = transaction
                .prepare_cached(
                    "SELECT seq FROM event WHERE job_id = ?1 AND kind = 'take' AND payload ->> '$.supersedes' = ?2",
                )
                .and_then(|mut query| query.query_row((job.job_id, earlier), |row| row.get::<_, u32>(0)).optional())
                .map_err(|error| RecordError::from_sqlite(path, &error))?;
            match again {
                None => Ok(()),
                Some(by) => refuse(format!("the take {earlier} was replaced already, by {by}: replace that one")),
            }
        }
        Body::Note(Note { about: Some(seq), .. })
        | Body::TurnObserved(crate::event::TurnObserved { advice: Some(seq), .. })
            if *seq == 0 || *seq > job.last_seq =>
        {
            refuse(format!("there is no event {seq} in \"{}\"", job.name))
        }
        _ => Ok(()),
    }
}

fn event_body(connection: &Connection, path: &Path, job: &JobRow, seq: u32) -> Result<Option<Body>, RecordError> {
    let found: Option<(String, u32, String)> = connection
        .prepare_cached("SELECT kind, version, payload FROM event WHERE job_id = ?1 AND seq = ?2")
        .and_then(|mut query| {
            query.query_row((job.job_id, seq), |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?))).optional()
        })
        .map_err(|error| RecordError::from_sqlite(path, &error))?;
    found
        .map(|(kind, version, payload)| Body::read(&kind, version, &payload))
        .transpose()
        .map_err(|what| RecordError::Damaged { path: path.to_owned(), what })
}

/// Writes an event and its job's row.
fn put(
    transaction: &Transaction<'_>,
    path: &Path,
    mut job: JobRow,
    stamp: &Stamp,
    body: &Body,
) -> Result<Appended, RecordError> {
    let damaged = |what: String| RecordError::Damaged { path: path.to_owned(), what };
    let payload = body.payload()?;
    let at = stamp.at.to_string();
    let seq = job.last_seq.checked_add(1).ok_or_else(|| damaged("a job's count of events ran over".to_owned()))?;
    let clock_back_s = match job.last_seq {
        0 => None,
        _ => {
            let last = When::parse(&job.last_at)
                .map_err(|_| damaged(format!("the last time of \"{}\" cannot be read", job.name)))?;
            stamp.at.seconds_before(last)
        }
    };
    let row = Row {
        seq,
        at: &at,
        who: &stamp.who,
        software: &stamp.software,
        kind: body.kind(),
        version: body.version(),
        payload: &payload,
    };
    let hash = chain::link(job.last_hash, row);
    job.follow(body, row, hash);
    put_job(transaction, &job)
        .and_then(|()| put_row(transaction, job.job_id, row, hash))
        .map_err(|error| RecordError::from_sqlite(path, &error))?;
    Ok(Appended { seq, hash, clock_back_s })
}

pub(crate) fn put_row(transaction: &Transaction<'_>, job_id: i64, row: Row<'_>, hash: Hash) -> rusqlite::Result<()> {
    transaction
        .prepare_cached("INSERT INTO event VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)")?
        .execute((job_id, row.seq, row.at, row.who, row.software, row.kind, row.version, row.payload, hash))
        .map(|_| ())
}

pub(crate) fn put_job(transaction: &Transaction<'_>, job: &JobRow) -> rusqlite::Result<()> {
    transaction
        .prepare_cached(
            "INSERT INTO job VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9) ON CONFLICT (job_id) DO UPDATE SET \
             last_at = ?4, last_seq = ?5, last_hash = ?6, takes = ?7, verdict = ?8, closed = ?9",
        )?
        .execute((
            job.job_id,
            &job.name,
            &job.opened_at,
            &job.last_at,
            job.last_seq,
            job.last_hash,
            job.takes,
            &job.verdict,
            job.closed,
        ))
        .map(|_| ())
}
