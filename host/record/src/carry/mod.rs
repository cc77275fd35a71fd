//! Jobs between stores: a [record](crate::Record) in a file, a firm's database. Both hold the same bytes of
//! every event and agree on every hash; a job is its identity, whatever laptop made it.
//!
//! What is carried is a [`Lot`]: the events of one job as they stand, each after those that it
//! follows. It is gone through from its first event to its last before anything is put anywhere,
//! and held to the [limits] of what this program writes. A store takes all of it or nothing, and
//! what it has already it leaves as it is.
//!
//! A job that was gone on with on two laptops apart has two ends. A database keeps both
//! [branches]; a file has one of them, until a person [joins](crate::Record::join) them.

mod file;

use std::collections::{HashMap, HashSet};

use crate::chain::Hash;
use crate::event::{Body, hashes_in};
use crate::history::{Event, JobSummary};
use crate::id::JobId;
use crate::job_row::JobRow;
use crate::portable::Carried;
use crate::walk::{Broken, StoredRow, Walked};
use crate::{JobHistory, RecordError, When, limits, order};
pub(crate) use file::Fresh;

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
        if rows.iter().filter(|row| row.parents.0.is_empty()).count() != 1 {
            return Err(refuse(1, "a job is opened once, by its first event".to_owned()));
        }
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
