//! The record in a file, as a store: what is new goes behind what is there, and branches are joined.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use super::{Lot, Store};
use crate::chain::{Hash, MOST_PARENTS};
use crate::event::{Body, Joined, JoinedBranch};
use crate::id::JobId;
use crate::job_row::{JobRow, find, need, next_job_id};
use crate::photo::put_photo;
use crate::store::{Open, put_row};
use crate::walk::{Broken, StoredRow, Walked, walk_job};
use crate::{Appended, Record, RecordError, Stamp};

/// What of a job's rows is new in a record, each in the place where it will stand, behind what is
/// there.
pub(crate) struct Fresh {
    id: JobId,
    pub job_id: i64,
    /// What is there.
    pub here: Vec<StoredRow>,
    pub rows: Vec<StoredRow>,
}

impl Fresh {
    /// # Errors
    /// [`RecordError::Broken`] where the job that is here does not hold, and what reading can meet.
    pub(crate) fn of(
        target: &Connection,
        path: &Path,
        id: JobId,
        rows: &[StoredRow],
    ) -> Result<Self, RecordError> {
        let (job_id, here) = match find(target, path, id)? {
            None => (next_job_id(target, path)?, Vec::new()),
            Some(row) => {
                Open::load(target, path, &row)?;
                (row.job_id, rows_of(target, path, row.job_id)?)
            }
        };
        let known: HashSet<Hash> = here.iter().map(|row| row.hash).collect();
        let mut rows: Vec<StoredRow> =
            rows.iter().filter(|row| !known.contains(&row.hash)).cloned().collect();
        let before = u32::try_from(here.len()).unwrap_or(u32::MAX);
        for (row, place) in rows.iter_mut().zip(1_u32..) {
            row.seq = before.saturating_add(place);
        }
        Ok(Self { id, job_id, here, rows })
    }

    /// The ends of what is there and what is new, together, in ascending order.
    fn ends(&self) -> Vec<&StoredRow> {
        let all = || self.here.iter().chain(&self.rows);
        let followed: HashSet<Hash> = all().flat_map(|row| row.parents.0.iter().copied()).collect();
        let mut ends: Vec<&StoredRow> = all().filter(|row| !followed.contains(&row.hash)).collect();
        ends.sort_by_key(|row| row.hash);
        ends
    }

    /// Puts the rows, and what all of the job's events sum up to; `name` and `from` are for people.
    ///
    /// # Errors
    /// [`RecordError::PartWays`] where the job would have two ends, [`RecordError::Damaged`] where
    /// the rows do not follow; and what writing can meet.
    pub(crate) fn put(
        &self,
        target: &rusqlite::Transaction<'_>,
        path: &Path,
        name: &str,
        from: &Path,
    ) -> Result<(), RecordError> {
        let sqlite = |error: rusqlite::Error| RecordError::from_sqlite(path, &error);
        if self.ends().len() > 1 {
            let seq = self.here.iter().zip(1..).count();
            let parts = self.rows.first().map_or(0, |row| {
                let place = self.here.iter().position(|here| row.parents.0.contains(&here.hash));
                place.map_or(seq, |place| place + 1)
            });
            return Err(RecordError::PartWays {
                job: name.to_owned(),
                path: from.to_owned(),
                seq: u32::try_from(parts).unwrap_or(u32::MAX).saturating_add(1),
            });
        }
        let all: Vec<StoredRow> = self.here.iter().chain(&self.rows).cloned().collect();
        let Walked { events, broken } = Walked::rows(&all);
        if let Some(Broken { seq, why }) = broken {
            let what = format!("the job \"{name}\" would break at event {seq}: {why}");
            return Err(RecordError::Foreign { path: from.to_owned(), what });
        }
        let row = JobRow::of(self.job_id, &events);
        if row.id != self.id {
            let what = format!("the job {} comes under the identity {}", row.id, self.id);
            return Err(RecordError::Foreign { path: from.to_owned(), what });
        }
        // The job's row first: events refer to it.
        row.put(target).map_err(sqlite)?;
        self.rows.iter().try_for_each(|row| put_row(target, self.job_id, row).map_err(sqlite))
    }
}

fn rows_of(target: &Connection, path: &Path, job_id: i64) -> Result<Vec<StoredRow>, RecordError> {
    let mut rows = Vec::new();
    walk_job(target, job_id, |row| {
        rows.push(row);
        Ok(())
    })
    .map_err(|error| RecordError::from_sqlite(path, &error))?;
    Ok(rows)
}

impl Store for Record {
    fn place(&self) -> String {
        self.path.display().to_string()
    }

    fn ids(&mut self) -> Result<Vec<JobId>, RecordError> {
        Ok(JobRow::all(self)?.into_iter().map(|row| row.id).collect())
    }

    fn meant(&mut self, asked: &str) -> Result<JobId, RecordError> {
        need(&self.connection, &self.path, asked).map(|row| row.id)
    }

    fn hashes(&mut self, job: JobId) -> Result<HashSet<Hash>, RecordError> {
        Ok(self.rows(job)?.into_iter().map(|row| row.hash).collect())
    }

    fn rows(&mut self, job: JobId) -> Result<Vec<StoredRow>, RecordError> {
        match find(&self.connection, &self.path, job)? {
            None => Ok(Vec::new()),
            Some(row) => rows_of(&self.connection, &self.path, row.job_id),
        }
    }

    fn photo_of(&mut self, _: JobId, sha256: Hash) -> Result<Option<Vec<u8>>, RecordError> {
        self.photo(sha256)
    }

    fn put(&mut self, lot: &Lot) -> Result<u32, RecordError> {
        let from = PathBuf::from(&lot.from);
        if Fresh::of(&self.connection, &self.path, lot.id, &lot.rows)?.rows.is_empty() {
            return Ok(0);
        }
        let new = self.write(|target, path| {
            put_photos(target, path, lot)?;
            let fresh = Fresh::of(target, path, lot.id, &lot.rows)?;
            fresh.put(target, path, lot.name(), &from)?;
            Ok(fresh.rows.len())
        })?;
        self.seal()?;
        Ok(u32::try_from(new).unwrap_or(u32::MAX))
    }
}

fn put_photos(
    target: &rusqlite::Transaction<'_>,
    path: &Path,
    lot: &Lot,
) -> Result<(), RecordError> {
    lot.photos.iter().try_for_each(|(sha256, bytes)| {
        put_photo(target, *sha256, bytes).map_err(|error| RecordError::from_sqlite(path, &error))
    })
}

impl Record {
    /// Joins the branches of a job: what of the lot is not here is put behind what is, and one event
    /// more follows the end of each. A branch that was closed stays closed, so that the job is.
    /// `laptop` says which machine sent the event with a hash, where that is known.
    ///
    /// # Errors
    /// [`RecordError::BadEvent`] where there is nothing to join or too much;
    /// [`RecordError::NewerEvents`]; and as [`Store::put`]. Then nothing was changed.
    pub fn join(
        &mut self,
        lot: &Lot,
        stamp: &Stamp,
        laptop: &dyn Fn(Hash) -> Option<String>,
    ) -> Result<Appended, RecordError> {
        let newer = lot.branches.iter().any(|branch| branch.unknown() > 0);
        if newer {
            return Err(RecordError::NewerEvents(lot.name().to_owned()));
        }
        let from = PathBuf::from(&lot.from);
        let joined = self.write(|target, path| {
            put_photos(target, path, lot)?;
            let mut fresh = Fresh::of(target, path, lot.id, &lot.rows)?;
            let ends = fresh.ends();
            let refuse =
                |why: &str| Err(RecordError::BadEvent(format!("the job \"{}\" {why}", lot.name())));
            if ends.len() < 2 {
                return refuse("has one branch only: there is nothing to join");
            }
            if ends.len() > MOST_PARENTS {
                return refuse(&format!("has more than {MOST_PARENTS} branches"));
            }
            let branches = ends.iter().map(|end| JoinedBranch {
                end: end.hash,
                laptop: laptop(end.hash),
                last_at: end.at.clone(),
            });
            let body = Body::from(Joined { branches: branches.collect() });
            let parents: Vec<Hash> = ends.iter().map(|end| end.hash).collect();
            let seq = u32::try_from(fresh.here.len() + fresh.rows.len() + 1).unwrap_or(u32::MAX);
            let row = StoredRow::made(seq, stamp, &body, parents)?;
            let appended = Appended { seq, hash: row.hash, clock_back_s: None };
            fresh.rows.push(row);
            fresh.put(target, path, lot.name(), &from)?;
            Ok(appended)
        })?;
        self.seal()?;
        Ok(joined)
    }
}
