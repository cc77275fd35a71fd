//! Jobs between stores: a [record](Record) in a file, a firm's database. Both hold the same bytes of
//! every event and agree on every hash; a job is its identity, whatever laptop made it.
//!
//! What is carried is a [`Lot`]: the events of one job as they stand, each after those that it
//! follows. It is gone through from its first event to its last before anything is put anywhere,
//! and held to the [limits] of what this program writes. A store takes all of it or nothing, and
//! what it has already it leaves as it is.
//!
//! A job that was gone on with on two laptops apart has two ends. A database keeps both
//! [branches]; a file has one of them, until a person [joins](Record::join) them.

use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use crate::chain::{Hash, MOST_PARENTS};
use crate::event::{Body, Joined, JoinedBranch, hashes_in};
use crate::history::{Event, JobSummary};
use crate::id::JobId;
use crate::job_row::{JobRow, find, need, next_job_id};
use crate::photo::put_photo;
use crate::portable::Carried;
use crate::store::{Open, put_row};
use crate::walk::{Broken, StoredRow, Walked, walk_job};
use crate::{Appended, JobHistory, Record, RecordError, Stamp, When, limits, order};

/// What holds jobs.
pub trait Store {
    /// Where it is, for people.
    fn place(&self) -> String;

    /// The jobs in it.
    ///
    /// # Errors
    /// What reading can meet.
    fn ids(&mut self) -> Result<Vec<JobId>, RecordError>;

    /// The job that is meant: by its identity, whole or its first eight digits or more, or by its
    /// name where no other has it.
    ///
    /// # Errors
    /// [`RecordError::NoSuchJob`], [`RecordError::NameShared`], and what reading can meet.
    fn meant(&mut self, asked: &str) -> Result<JobId, RecordError>;

    /// The hashes of a job's events that are in it; none where it has not the job.
    ///
    /// # Errors
    /// What reading can meet.
    fn hashes(&mut self, job: JobId) -> Result<HashSet<Hash>, RecordError>;

    /// A job's events, each after those that it follows; none where it has not the job. Their
    /// hashes are not looked at.
    ///
    /// # Errors
    /// What reading can meet.
    fn rows(&mut self, job: JobId) -> Result<Vec<StoredRow>, RecordError>;

    /// Attached bytes of a job, checked against their hash.
    ///
    /// # Errors
    /// They do not match it, and what reading can meet.
    fn photo_of(&mut self, job: JobId, sha256: Hash) -> Result<Option<Vec<u8>>, RecordError>;

    /// Puts what of a lot is not in it yet: all of that or nothing. How many events were new. When
    /// it returns, they are kept.
    ///
    /// # Errors
    /// [`RecordError::PartWays`] where it can hold one branch only and another is in it; and what
    /// writing can meet.
    fn put(&mut self, lot: &Lot) -> Result<u32, RecordError>;
}

/// One job on its way.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    /// Which job.
    pub id: JobId,
    /// Where it comes from, for people.
    pub from: String,
    /// Its events, each after those that it follows.
    pub rows: Vec<StoredRow>,
    /// Its branches, gone through: each holds from its first event to its end. One as a rule.
    pub branches: Vec<JobHistory>,
    /// Attached bytes that go with it, by their hash.
    pub photos: Vec<(Hash, Vec<u8>)>,
}

/// The branches of a job: for each event that nothing follows, it and all before it, in their one
/// order, their places counted anew. The one that was written last comes last.
pub fn branches(rows: Vec<StoredRow>) -> Vec<Vec<StoredRow>> {
    let rows = order::settle_rows(rows);
    let followed: HashSet<Hash> = rows.iter().flat_map(|row| row.parents.0.clone()).collect();
    let mut ends: Vec<usize> =
        (0..rows.len()).filter(|at| !followed.contains(&rows[*at].hash)).collect();
    if ends.len() == 1 {
        return vec![rows];
    }
    let moment = |at: usize| When::parse(&rows[at].at).ok().map(When::moment);
    ends.sort_by_key(|at| (moment(*at), rows[*at].hash));
    ends.into_iter().map(|end| before(&rows, end)).collect()
}

/// An event and all that it follows.
fn before(rows: &[StoredRow], end: usize) -> Vec<StoredRow> {
    let mut wanted = HashSet::from([rows[end].hash]);
    let mut branch: Vec<StoredRow> = Vec::new();
    for row in rows[..=end].iter().rev() {
        if wanted.contains(&row.hash) {
            wanted.extend(row.parents.0.iter().copied());
            branch.push(row.clone());
        }
    }
    branch.reverse();
    for (row, place) in branch.iter_mut().zip(1..) {
        row.seq = place;
    }
    branch
}

/// A branch gone through from its first event, as a history.
///
/// # Errors
/// Not even its first event holds.
pub fn history(rows: &[StoredRow]) -> Result<JobHistory, Broken> {
    let Walked { events, broken } = Walked::rows(rows);
    let row = JobRow::of(0, &events);
    let (Some(first), Some(last)) = (events.first(), events.last()) else {
        return Err(broken.unwrap_or(Broken { seq: 1, why: "there is no event".to_owned() }));
    };
    let summary = JobSummary {
        id: row.id,
        verdict: row.verdict(),
        opened: first.at,
        last: last.at,
        events: row.last_seq,
        takes: row.takes,
        closed: row.closed,
        head_hash: row.last_hash,
        name: row.name,
    };
    Ok(JobHistory { summary, events, broken, altered: false })
}

impl Lot {
    /// A job's rows, checked: every branch holds from its first event to its end, and every event
    /// is what this program could have written.
    ///
    /// # Errors
    /// [`RecordError::NotCarried`] with the first thing that does not fit.
    pub fn checked(id: JobId, from: &str, rows: Vec<StoredRow>) -> Result<Self, RecordError> {
        let refuse = |seq: u32, why: String| RecordError::NotCarried {
            job: id.short(),
            place: from.to_owned(),
            seq,
            why,
        };
        let mut histories = Vec::new();
        for branch in branches(rows.clone()) {
            let history = history(&branch).map_err(|broken| refuse(broken.seq, broken.why))?;
            if let Some(Broken { seq, why }) = &history.broken {
                return Err(refuse(*seq, why.clone()));
            }
            if history.summary.id != id {
                return Err(refuse(1, format!("it opens the job {}", history.summary.id)));
            }
            histories.push(history);
        }
        let bodies: HashMap<Hash, &Event> = histories
            .iter()
            .flat_map(|history| &history.events)
            .map(|event| (event.hash, event))
            .collect();
        for row in &rows {
            let Some(event) = bodies.get(&row.hash) else { continue };
            within_limits(row, &event.body).map_err(|why| refuse(row.seq, why))?;
        }
        Ok(Self { id, from: from.to_owned(), rows, branches: histories, photos: Vec::new() })
    }

    /// The job's name, as its first event says it.
    pub fn name(&self) -> &str {
        self.branches.last().map_or("", |branch| branch.summary.name.as_str())
    }

    /// Only the branch with this end.
    ///
    /// # Errors
    /// [`RecordError::BadEvent`] where no branch ends there.
    pub fn branch(&self, end: Hash) -> Result<Self, RecordError> {
        let rows = branches(self.rows.clone())
            .into_iter()
            .find(|branch| branch.last().is_some_and(|row| row.hash == end))
            .ok_or_else(|| {
                RecordError::BadEvent(format!("no branch of the job ends with {}", end.short()))
            })?;
        Self::checked(self.id, &self.from, rows)
    }
}

/// Whether an event is what this program could have written.
pub(crate) fn within_limits(row: &StoredRow, body: &Body) -> Result<(), String> {
    for (what, text) in
        [("the name of the person", &row.who), ("the program's name", &row.software)]
    {
        limits::line(what, text)?;
    }
    limits::check(body, &row.payload)
}

/// The attached bytes that an event speaks of: by name where it must have them.
pub(crate) fn attached(body: &Body) -> (Vec<Hash>, Option<&str>) {
    match body {
        Body::PhotoAttached(photo) => (vec![photo.sha256], Some(photo.name.as_str())),
        Body::Unknown(unknown) => (hashes_in(&unknown.payload), None),
        Body::Salvaged(saved) => (hashes_in(&saved.payload), None),
        _ => (Vec::new(), None),
    }
}

/// Reads a job out of a store, checked, with the attached bytes of every event that is not among
/// `there`.
///
/// # Errors
/// [`RecordError::NotCarried`] where it does not hold, or attached bytes are missing; and what
/// reading can meet.
pub fn lot(
    from: &mut dyn Store,
    job: JobId,
    branch: Option<Hash>,
    there: &HashSet<Hash>,
) -> Result<Lot, RecordError> {
    let rows = from.rows(job)?;
    let mut lot = Lot::checked(job, &from.place(), rows)?;
    if let Some(end) = branch {
        lot = lot.branch(end)?;
    }
    let mut photos: HashMap<Hash, Vec<u8>> = HashMap::new();
    let mut seen = HashSet::new();
    for event in lot.branches.iter().flat_map(|history| &history.events) {
        if there.contains(&event.hash) || !seen.insert(event.hash) {
            continue;
        }
        let (hashes, name) = attached(&event.body);
        for sha256 in hashes {
            if photos.contains_key(&sha256) {
                continue;
            }
            match (from.photo_of(job, sha256)?, name) {
                (Some(bytes), _) => drop(photos.insert(sha256, bytes)),
                (None, None) => {}
                (None, Some(name)) => {
                    return Err(RecordError::NotCarried {
                        job: lot.name().to_owned(),
                        place: from.place(),
                        seq: event.seq,
                        why: format!("the bytes of \"{name}\" are missing"),
                    });
                }
            }
        }
    }
    lot.photos = photos.into_iter().collect();
    lot.photos.sort_by_key(|(sha256, _)| *sha256);
    Ok(lot)
}

/// Carries a job from one store to another; of several branches the one that ends with `branch`, or
/// all. What is there already stays as it is: a second time nothing is carried.
///
/// # Errors
/// As [`lot`] and [`Store::put`]; then nothing was carried.
pub fn carry(
    from: &mut dyn Store,
    to: &mut dyn Store,
    job: JobId,
    branch: Option<Hash>,
) -> Result<Carried, RecordError> {
    let there = to.hashes(job)?;
    let lot = lot(from, job, branch, &there)?;
    let new_events =
        if lot.rows.iter().all(|row| there.contains(&row.hash)) { 0 } else { to.put(&lot)? };
    Ok(Carried {
        id: job,
        job: lot.name().to_owned(),
        new_events,
        namesake: false,
        broken: None,
        behind: 0,
        lost: 0,
    })
}

/// What of a job's rows is new in a record, each in the place where it will stand, behind what is
/// there.
pub(crate) struct Fresh {
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
        Ok(Self { job_id, here, rows })
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
        // The job's row first: events refer to it.
        JobRow::of(self.job_id, &events).put(target).map_err(sqlite)?;
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
