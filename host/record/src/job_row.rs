//! A job's row: what its events sum up to, so that a list need not read them; and how a job is
//! found.

use std::path::Path;

use rusqlite::{Connection, OptionalExtension, Transaction};

use crate::chain::Hash;
use crate::event::{Body, Verdict};
use crate::history::Event;
use crate::id::JobId;
use crate::takes;
use crate::walk::Walked;
use crate::{Record, RecordError};

/// Fewest digits by which a job's identity may be given.
const FEWEST_DIGITS: usize = 8;

/// A job's row: what its events sum up to.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct JobRow {
    pub job_id: i64,
    pub id: JobId,
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
    const COLUMNS: &str =
        "job_id, id, name, opened_at, last_at, last_seq, last_hash, takes, verdict, closed";

    fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            job_id: row.get(0)?,
            id: row.get(1)?,
            name: row.get(2)?,
            opened_at: row.get(3)?,
            last_at: row.get(4)?,
            last_seq: row.get(5)?,
            last_hash: row.get(6)?,
            takes: row.get(7)?,
            verdict: row.get(8)?,
            closed: row.get(9)?,
        })
    }

    /// The row of a job without events.
    pub(crate) fn empty(job_id: i64) -> Self {
        Self {
            job_id,
            id: JobId::NONE,
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

    /// What these events, all of a job, sum up to.
    pub(crate) fn of(job_id: i64, events: &[Event]) -> Self {
        let mut row = Self::empty(job_id);
        for event in events {
            event.at.to_string().clone_into(&mut row.last_at);
            (row.last_seq, row.last_hash) = (event.seq, event.hash);
            match &event.body {
                Body::JobOpened(opened) => {
                    row.id = opened.id;
                    row.name.clone_from(&opened.name);
                    row.opened_at.clone_from(&row.last_at);
                }
                // Practice is no verdict on a board.
                Body::Judged(judged) if judged.simulated => {}
                Body::Judged(judged) => row.verdict = Some(judged.verdict.word().to_owned()),
                Body::Unknown(unknown) if unknown.kind == "job opened" => {
                    row.opened_by_unknown(&unknown.value());
                }
                _ => {}
            }
            row.closed |= event.body.closes();
        }
        row.takes = takes::count(events);
        row
    }

    /// Every version of the event that opens a job says its identity and its name.
    fn opened_by_unknown(&mut self, payload: &serde_json::Value) {
        let text = |key| payload.get(key).and_then(serde_json::Value::as_str);
        self.id = text("id").and_then(JobId::parse).unwrap_or(JobId::NONE);
        self.name = text("name").unwrap_or_default().to_owned();
        self.opened_at.clone_from(&self.last_at);
    }

    /// What the row says of the verdict.
    pub(crate) fn verdict(&self) -> Option<Verdict> {
        self.verdict.as_deref().and_then(Verdict::parse)
    }

    /// All rows, by their local numbers.
    pub(crate) fn all(record: &Record) -> Result<Vec<Self>, RecordError> {
        rows(&record.connection).map_err(|error| record.sqlite(&error))
    }

    /// Writes the row, in the place of the one with its local number.
    pub(crate) fn put(&self, transaction: &Transaction<'_>) -> rusqlite::Result<()> {
        transaction
            .prepare_cached(
                "INSERT INTO job VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10) ON CONFLICT (job_id) DO UPDATE SET \
                 last_at = ?5, last_seq = ?6, last_hash = ?7, takes = ?8, verdict = ?9, closed = ?10",
            )?
            .execute((
                self.job_id,
                self.id,
                &self.name,
                &self.opened_at,
                &self.last_at,
                self.last_seq,
                self.last_hash,
                self.takes,
                &self.verdict,
                self.closed,
            ))
            .map(|_| ())
    }
}

pub(crate) fn rows(connection: &Connection) -> rusqlite::Result<Vec<JobRow>> {
    let mut query =
        connection.prepare(&format!("SELECT {} FROM job ORDER BY job_id", JobRow::COLUMNS))?;
    query.query_map([], JobRow::read)?.collect()
}

/// Sums up every job anew whose chain holds.
pub(crate) fn sum_up_all(transaction: &Transaction<'_>) -> rusqlite::Result<()> {
    for row in rows(transaction)? {
        let walked = Walked::job(transaction, row.job_id, (row.last_seq, row.last_hash));
        if walked.broken.is_none() {
            JobRow::of(row.job_id, &walked.events).put(transaction)?;
        }
    }
    Ok(())
}

/// The job with this identity.
pub(crate) fn find(
    connection: &Connection,
    path: &Path,
    id: JobId,
) -> Result<Option<JobRow>, RecordError> {
    let sql = format!("SELECT {} FROM job WHERE id = ?1", JobRow::COLUMNS);
    let found = connection
        .prepare_cached(&sql)
        .and_then(|mut query| query.query_row([id], JobRow::read).optional());
    found.map_err(|error| RecordError::from_sqlite(path, &error))
}

/// The jobs of this name.
pub(crate) fn named(
    connection: &Connection,
    path: &Path,
    name: &str,
) -> Result<Vec<JobRow>, RecordError> {
    let sql = format!("SELECT {} FROM job WHERE name = ?1 ORDER BY job_id", JobRow::COLUMNS);
    let found = connection
        .prepare_cached(&sql)
        .and_then(|mut query| query.query_map([name], JobRow::read)?.collect());
    found.map_err(|error| RecordError::from_sqlite(path, &error))
}

/// The job that is meant: by its identity, whole or its first eight digits or more, or by its name
/// where no other has it.
pub(crate) fn need(
    connection: &Connection,
    path: &Path,
    asked: &str,
) -> Result<JobRow, RecordError> {
    if let Some(id) = JobId::parse(asked)
        && let Some(row) = find(connection, path, id)?
    {
        return Ok(row);
    }
    let mut namesakes = named(connection, path, asked)?;
    if namesakes.len() == 1 {
        return Ok(namesakes.remove(0));
    }
    if namesakes.len() > 1 {
        let ids = namesakes.iter().map(|row| row.id.to_string()).collect();
        return Err(RecordError::NameShared { name: asked.to_owned(), ids });
    }
    let all = rows(connection).map_err(|error| RecordError::from_sqlite(path, &error))?;
    let begins = asked.to_ascii_lowercase();
    let mut by_id = all
        .iter()
        .filter(|row| begins.len() >= FEWEST_DIGITS && row.id.to_string().starts_with(&begins));
    if let (Some(row), None) = (by_id.next(), by_id.next()) {
        return Ok(row.clone());
    }
    Err(RecordError::NoSuchJob { name: asked.to_owned(), close_by: close_by(&all, asked) })
}

fn close_by(all: &[JobRow], asked: &str) -> Vec<String> {
    let asked = asked.trim().to_lowercase();
    let near = |row: &&JobRow| {
        let known = row.name.to_lowercase();
        !asked.is_empty() && (known.contains(&asked) || asked.contains(&known))
    };
    all.iter().rev().filter(near).map(|row| row.name.clone()).take(3).collect()
}

/// Job numbers count from 1 without a gap, so that `verify` misses a row that went.
pub(crate) fn next_job_id(connection: &Connection, path: &Path) -> Result<i64, RecordError> {
    connection
        .query_row("SELECT coalesce(max(job_id), 0) + 1 FROM job", [], |row| row.get(0))
        .map_err(|error| RecordError::from_sqlite(path, &error))
}
