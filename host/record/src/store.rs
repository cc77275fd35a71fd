//! Appending to a record.
//!
//! One file, with SQLite's rollback journal: at rest there is nothing beside it that could be
//! forgotten in a copy. With `synchronous = EXTRA` a commit returns when the file, its journal's
//! end and the folder are on disk. Every write begins with `BEGIN IMMEDIATE`, so that two processes
//! append one after the other, each seeing what the other wrote; and with going through the whole
//! job, so that nothing is ever added behind a break, where it would be lost to every check.

use std::path::{Path, PathBuf};

use rusqlite::{Connection, Transaction, TransactionBehavior};

use crate::admit::admit;
use crate::chain::{Hash, Row, Rule};
use crate::event::{Body, Closed, Difference, JobOpened, JobRevised, Note};
use crate::history::Event;
use crate::id::JobId;
use crate::job_row::{JobRow, find, named, need, next_job_id};
use crate::open::{FileId, MovedOn, file_id};
use crate::sign::{Signer, signed};
use crate::walk::{StoredRow, Walked};
use crate::{RecordError, Stamp, When, limits};

/// An open record.
#[derive(Debug)]
pub struct Record {
    pub(crate) connection: Connection,
    pub(crate) path: PathBuf,
    /// The format of the file, which a record that is only read keeps.
    pub(crate) format: i64,
    pub(crate) file: Option<FileId>,
    pub(crate) moved_on: Option<MovedOn>,
    /// Whether its tables or triggers are not those that this program makes.
    pub(crate) altered: bool,
}

/// What came of an appended event.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Appended {
    /// Its place in the job, from 1.
    pub seq: u32,
    /// Its hash.
    pub hash: Hash,
    /// How far the clock was set back since the event before, s. The order of events is their
    /// place, not their time.
    pub clock_back_s: Option<f64>,
}

/// A job that holds from its first event to its last, about to be added to.
pub(crate) struct Open {
    pub(crate) job_id: i64,
    pub(crate) name: String,
    pub(crate) events: Vec<Event>,
}

impl Open {
    /// A job without events yet.
    pub(crate) fn new(job_id: i64, name: &str) -> Self {
        Self { job_id, name: name.to_owned(), events: Vec::new() }
    }

    /// Goes through the whole job.
    ///
    /// # Errors
    /// [`RecordError::Broken`] where its events don't follow from each other.
    pub(crate) fn load(
        connection: &Connection,
        path: &Path,
        row: &JobRow,
    ) -> Result<Self, RecordError> {
        let Walked { events, broken } =
            Walked::job(connection, row.job_id, (row.last_seq, row.last_hash));
        match broken {
            None => Ok(Self { job_id: row.job_id, name: row.name.clone(), events }),
            Some(broken) => Err(RecordError::Broken {
                path: path.to_owned(),
                job: row.name.clone(),
                seq: broken.seq,
                why: broken.why,
            }),
        }
    }

    /// Writes one more event and the job's row.
    pub(crate) fn put(
        &mut self,
        transaction: &Transaction<'_>,
        path: &Path,
        stamp: &Stamp,
        body: Body,
    ) -> Result<Appended, RecordError> {
        let damaged = |what: String| RecordError::Damaged { path: path.to_owned(), what };
        let last = self.events.last();
        let seq = last
            .map_or(Some(1), |last| last.seq.checked_add(1))
            .ok_or_else(|| damaged("a job's count of events ran over".to_owned()))?;
        let clock_back_s = last.and_then(|last| stamp.at.seconds_before(last.at));
        let parents: Vec<Hash> = last.map(|last| last.hash).into_iter().collect();
        let stored = StoredRow::made(seq, stamp, &body, parents.clone())?;
        let hash = stored.hash;
        self.events.push(Event {
            seq,
            at: When::parse(&stored.at)?,
            clock_back_s,
            who: stored.who.clone(),
            software: stored.software.clone(),
            body,
            rule: Rule::Second,
            copy_of: None,
            parents,
            hash,
        });
        self.put_row(transaction)
            .and_then(|()| put_row(transaction, self.job_id, &stored))
            .map_err(|error| RecordError::from_sqlite(path, &error))?;
        Ok(Appended { seq, hash, clock_back_s })
    }

    /// Writes what the job's events sum up to.
    pub(crate) fn put_row(&self, transaction: &Transaction<'_>) -> rusqlite::Result<()> {
        JobRow::of(self.job_id, &self.events).put(transaction)
    }
}

impl Record {
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
        // What the job is held against before it is added to is what the file holds now, not what
        // this process read earlier.
        self.connection.execute_batch("PRAGMA shrink_memory").map_err(sqlite)?;
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(sqlite)?;
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

    /// Opens a new job with its job file's text. `id` tells it from every other: [`JobId::random`],
    /// but for tests.
    ///
    /// # Errors
    /// [`RecordError::JobExists`] where a job of that name is here, [`RecordError::BadEvent`] for a
    /// name that is blank, too long or holds control characters, or an identity that is taken,
    /// and what writing can meet.
    pub fn open_job(
        &mut self,
        id: JobId,
        name: &str,
        job_file: &str,
        stamp: &Stamp,
    ) -> Result<Appended, RecordError> {
        let name = name.trim();
        limits::name(name).map_err(RecordError::BadEvent)?;
        self.write(|transaction, path| {
            if !named(transaction, path, name)?.is_empty() {
                return Err(RecordError::JobExists(name.to_owned()));
            }
            if id == JobId::NONE || find(transaction, path, id)?.is_some() {
                return Err(RecordError::BadEvent(format!("the identity {id} is another job's")));
            }
            let job_file_sha256 = Hash::of(job_file.as_bytes());
            let opened = JobOpened {
                id,
                name: name.to_owned(),
                job_file: job_file.to_owned(),
                job_file_sha256,
            };
            let mut open = Open::new(next_job_id(transaction, path)?, name);
            open.put(transaction, path, stamp, opened.into())
        })
    }

    /// Records the job file's text anew, if it is another than the one recorded last; `None` when
    /// it is the same. `said_same` is in what it is so much another that it might be another
    /// job's, where the person said that it is not.
    ///
    /// # Errors
    /// As [`Record::append`] and [`Record::job`].
    pub fn revise_job(
        &mut self,
        job: &str,
        job_file: &str,
        said_same: Vec<Difference>,
        stamp: &Stamp,
    ) -> Result<Option<Appended>, RecordError> {
        if self.job(job)?.job_file() == Some(job_file) {
            return Ok(None);
        }
        let job_file_sha256 = Hash::of(job_file.as_bytes());
        self.append(
            job,
            stamp,
            JobRevised { job_file: job_file.to_owned(), job_file_sha256, said_same },
        )
        .map(Some)
    }

    /// Appends an event to a job, which is said by its name or its [identity](JobId). When it
    /// returns, the event is on disk.
    ///
    /// # Errors
    /// [`RecordError::NoSuchJob`], [`RecordError::NameShared`], [`RecordError::Broken`] where the
    /// job's chain is broken, [`RecordError::Closed`], [`RecordError::NewerEvents`],
    /// [`RecordError::BadEvent`] for an event that can't stand where it would, and what writing
    /// can meet; then nothing was appended.
    pub fn append(
        &mut self,
        job: &str,
        stamp: &Stamp,
        body: impl Into<Body>,
    ) -> Result<Appended, RecordError> {
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
            let mut open = Open::load(transaction, path, &need(transaction, path, job)?)?;
            before(transaction).map_err(|error| RecordError::from_sqlite(path, &error))?;
            admit(transaction, path, &open, &body)?;
            open.put(transaction, path, stamp, body)
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
    /// As [`Record::append`] and [`Record::sign`]; then the job is as it was. If the seal alone
    /// fails, the job is closed and the error says what the sealing met.
    pub fn close(
        &mut self,
        job: &str,
        stamp: &Stamp,
        open_points: &[String],
        signer: Option<&Signer>,
    ) -> Result<Appended, RecordError> {
        let closed = self.write(|transaction, path| {
            let mut open = Open::load(transaction, path, &need(transaction, path, job)?)?;
            let verdict = JobRow::of(open.job_id, &open.events).verdict();
            let body = Body::from(Closed { verdict, open_points: open_points.to_vec() });
            admit(transaction, path, &open, &body)?;
            let closed = open.put(transaction, path, stamp, body)?;
            if let Some(signer) = signer {
                open.put(transaction, path, stamp, signed(signer, closed.hash)?.into())?;
            }
            Ok(closed)
        })?;
        self.seal()?;
        Ok(closed)
    }

    /// Puts one more signature under a closed job, and seals the record.
    ///
    /// # Errors
    /// [`RecordError::NotClosed`], [`RecordError::Broken`], [`RecordError::Key`], and what writing
    /// can meet.
    pub fn sign(
        &mut self,
        job: &str,
        stamp: &Stamp,
        signer: &Signer,
    ) -> Result<Appended, RecordError> {
        let appended = self.write(|transaction, path| {
            let mut open = Open::load(transaction, path, &need(transaction, path, job)?)?;
            let closing =
                open.events.iter().find(|event| event.body.closes()).map(|event| event.hash);
            let hash = closing.ok_or_else(|| RecordError::NotClosed(open.name.clone()))?;
            open.put(transaction, path, stamp, signed(signer, hash)?.into())
        })?;
        self.seal()?;
        Ok(appended)
    }
}

pub(crate) fn put_row(
    transaction: &Transaction<'_>,
    job_id: i64,
    stored: &StoredRow,
) -> rusqlite::Result<()> {
    let Row { seq, at, who, software, kind, version, payload } = stored.row();
    transaction
        .prepare_cached("INSERT INTO event VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)")?
        .execute((
            job_id,
            seq,
            at,
            who,
            software,
            kind,
            version,
            payload,
            stored.rule,
            &stored.parents,
            stored.hash,
        ))
        .map(|_| ())
}
