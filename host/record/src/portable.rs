//! One job as one file, to be carried elsewhere and read in again.
//!
//! The portable file is a record like any other, with one job in it, sealed. Events are carried
//! over as they stand, hash and all, so that a signature holds wherever the job is.

use std::collections::{BTreeSet, HashSet};
use std::path::Path;

use rusqlite::{Connection, Transaction};
use serde::Serialize;

use crate::carry::{Fresh, attached, within_limits};
use crate::chain::Hash;
use crate::event::Body;
use crate::history::Event;
use crate::id::JobId;
use crate::job_row::{JobRow, find, named, need};
use crate::photo::{LARGEST, put_photo};
use crate::verify::verify;
use crate::walk::{Broken, StoredRow, Walk, walk_job};
use crate::{Record, RecordError, limits};

/// What came of a job that was carried over.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Carried {
    /// Which job it is, wherever it is carried.
    pub id: JobId,
    /// Its name.
    pub job: String,
    /// Events that were new here.
    pub new_events: u32,
    /// Whether another job here has the same name.
    pub namesake: bool,
    /// Where its chain broke, when it was saved out of a damaged record.
    pub broken: Option<Broken>,
    /// Events from behind the break that are whole in themselves and were saved, marked as such.
    pub behind: u32,
    /// Events from the break on that were left behind, because their bytes are not what they were.
    pub lost: u32,
}

/// A job's events, checked.
pub(crate) struct Parcel {
    pub id: JobId,
    pub name: String,
    pub rows: Vec<StoredRow>,
    pub events: Vec<Event>,
    pub broken: Option<Broken>,
}

impl Parcel {
    /// All events of a job up to the first that does not follow.
    pub(crate) fn load(connection: &Connection, job_id: i64) -> Self {
        let mut walk = Walk::default();
        let (mut rows, mut events) = (Vec::new(), Vec::new());
        let walked = walk_job(connection, job_id, |stored| {
            events.push(walk.step(&stored)?);
            rows.push(stored);
            Ok(())
        });
        let broken = walked.unwrap_or_else(|error| Some(walk.unreadable(&error)));
        let broken = broken.or_else(|| walk.end((walk.seq(), walk.hash())));
        let row = JobRow::of(job_id, &events);
        let name = if events.is_empty() { format!("number {job_id}") } else { row.name };
        Self { id: row.id, name, rows, events, broken }
    }

    /// Whether every event is what this program could have written.
    fn within_limits(&self) -> Result<(), String> {
        for (event, stored) in self.events.iter().zip(&self.rows) {
            within_limits(stored, &event.body)
                .map_err(|what| format!("event {}: {what}", event.seq))?;
        }
        Ok(())
    }

    /// What came of it.
    pub(crate) fn carried(&self, new_events: u32, namesake: bool) -> Carried {
        Carried {
            id: self.id,
            job: self.name.clone(),
            new_events,
            namesake,
            broken: self.broken.clone(),
            behind: 0,
            lost: 0,
        }
    }
}

/// The attached bytes that an event speaks of: all of those must be there, or, for a kind that is
/// not known, those that are.
fn put_photos(
    target: &Transaction<'_>,
    path: &Path,
    source: &Record,
    job: &str,
    body: &Body,
) -> Result<(), RecordError> {
    let sqlite = |error: rusqlite::Error| RecordError::from_sqlite(path, &error);
    let (hashes, name) = attached(body);
    for sha256 in hashes {
        match (source.photo(sha256)?, name) {
            (Some(bytes), _) if bytes.len() > LARGEST => {
                let what =
                    format!("attached bytes of the job \"{job}\" are {} MB", bytes.len() >> 20);
                return Err(RecordError::Foreign { path: source.path.clone(), what });
            }
            (Some(bytes), _) => put_photo(target, sha256, &bytes).map_err(sqlite)?,
            (None, None) => {}
            (None, Some(name)) => {
                let what = format!("the photo \"{name}\" of the job \"{job}\" is missing");
                return Err(RecordError::Damaged { path: source.path.clone(), what });
            }
        }
    }
    Ok(())
}

/// Puts the parcel's events that are new here, and their photos.
pub(crate) fn unload(
    target: &Transaction<'_>,
    path: &Path,
    source: &Record,
    parcel: &Parcel,
) -> Result<u32, RecordError> {
    let fresh = Fresh::of(target, path, parcel.id, &parcel.rows)?;
    if fresh.rows.is_empty() {
        return Ok(0);
    }
    let new: HashSet<Hash> = fresh.rows.iter().map(|row| row.hash).collect();
    for event in parcel.events.iter().filter(|event| new.contains(&event.hash)) {
        put_photos(target, path, source, &parcel.name, &event.body)?;
    }
    fresh.put(target, path, &parcel.name, &source.path)?;
    Ok(u32::try_from(fresh.rows.len()).unwrap_or(u32::MAX))
}

impl Record {
    /// Writes one job with its photos into a new file, sealed. The file appears under its name when
    /// it is whole.
    ///
    /// # Errors
    /// [`RecordError::NoSuchJob`]; [`RecordError::Exists`] when there is a file;
    /// [`RecordError::Damaged`] when the chain breaks ([`salvage`](crate::salvage::salvage)
    /// carries over what can be); and what writing can meet.
    pub fn export_job(&self, job: &str, to: &Path) -> Result<(), RecordError> {
        if to.exists() {
            return Err(RecordError::Exists(to.to_owned()));
        }
        let reading =
            self.connection.unchecked_transaction().map_err(|error| self.sqlite(&error))?;
        let row = need(&reading, &self.path, job)?;
        let parcel = Parcel::load(&reading, row.job_id);
        let whole = parcel.rows.last().map(|stored| (stored.seq, stored.hash))
            == Some((row.last_seq, row.last_hash));
        if let Some(Broken { seq, why }) = parcel.broken {
            let what = format!("the job \"{job}\" breaks at event {seq}: {why}");
            return Err(RecordError::Damaged { path: self.path.clone(), what });
        } else if !whole {
            let what = format!("events at the end of the job \"{job}\" are missing");
            return Err(RecordError::Damaged { path: self.path.clone(), what });
        }
        write_anew(to, |record| {
            record.write(|target, path| unload(target, path, self, &parcel)).map(|_| ())
        })
    }

    /// Reads in every job of another record, after checking all of it and holding it to the
    /// [limits] of what this program writes itself. Events that are here already are left as
    /// they are: importing the same file again changes nothing. A job that grew is brought up
    /// to date; a job that only has the name of one that is here stands beside it.
    ///
    /// # Errors
    /// [`RecordError::Damaged`] naming the first thing wrong with the other record;
    /// [`RecordError::Foreign`] where it is beyond the limits; [`RecordError::PartWays`] when
    /// the same job tells another story; and what reading and writing can meet. Then
    /// nothing was imported.
    pub fn import(&mut self, from: &Path) -> Result<Vec<Carried>, RecordError> {
        let foreign = |what: String| RecordError::Foreign { path: from.to_owned(), what };
        let about = std::fs::metadata(from)
            .map_err(|error| RecordError::from_io(from, &error, error.to_string()))?;
        if about.len() > limits::LARGEST_FILE {
            return Err(foreign(format!(
                "it has {} MB, which is more than is read at once",
                about.len() >> 20
            )));
        }
        if let Some(what) = verify(from)?.first_wrong() {
            return Err(RecordError::Damaged {
                path: from.to_owned(),
                what: what.trim_end_matches('.').to_owned(),
            });
        }
        let source = Record::open_read_only(from)?;
        let parcels: Vec<Parcel> =
            load_all(&source)?.into_iter().map(|(_, parcel)| parcel).collect();
        for parcel in &parcels {
            parcel
                .within_limits()
                .map_err(|what| foreign(format!("in the job \"{}\", {what}", parcel.name)))?;
        }
        self.take_in(&source, &parcels)
    }

    fn take_in(
        &mut self,
        source: &Record,
        parcels: &[Parcel],
    ) -> Result<Vec<Carried>, RecordError> {
        let mut anything = false;
        let mut done = Vec::new();
        for parcel in parcels {
            anything |= match find(&self.connection, &self.path, parcel.id)? {
                None => true,
                Some(_) => {
                    let fresh = Fresh::of(&self.connection, &self.path, parcel.id, &parcel.rows)?;
                    !fresh.rows.is_empty()
                }
            };
            let others = named(&self.connection, &self.path, &parcel.name)?
                .iter()
                .any(|row| row.id != parcel.id);
            done.push(parcel.carried(0, others));
        }
        if !anything {
            return Ok(done);
        }
        self.write(|target, path| {
            for (parcel, carried) in parcels.iter().zip(&mut done) {
                carried.new_events = unload(target, path, source, parcel)?;
            }
            Ok(())
        })?;
        self.seal()?;
        Ok(done)
    }

    /// Writes all jobs as this process sees them into a new record: also when the file they were
    /// opened from is gone.
    ///
    /// # Errors
    /// [`RecordError::Exists`], and what reading and writing can meet.
    pub fn save_copy(&self, to: &Path) -> Result<(), RecordError> {
        let reading =
            self.connection.unchecked_transaction().map_err(|error| self.sqlite(&error))?;
        let parcels: Vec<Parcel> = load_all(self)?.into_iter().map(|(_, parcel)| parcel).collect();
        let saved = write_anew(to, |record| record.take_in(self, &parcels).map(|_| ()));
        drop(reading);
        saved
    }
}

/// Every job that has events; found through the events, so that a damaged list of jobs loses none.
pub(crate) fn load_all(source: &Record) -> Result<Vec<(i64, Parcel)>, RecordError> {
    let numbers = numbers(&source.connection).map_err(|error| source.sqlite(&error))?;
    Ok(numbers
        .into_iter()
        .map(|number| (number, Parcel::load(&source.connection, number)))
        .collect())
}

/// Each once: of a damaged file the database may tell the same number again.
fn numbers(connection: &Connection) -> rusqlite::Result<BTreeSet<i64>> {
    connection
        .prepare("SELECT DISTINCT job_id FROM event ORDER BY job_id")?
        .query_map([], |row| row.get(0))?
        .collect()
}

/// Makes a new, sealed record at `to`, filled by `fill`. It appears under its name when it is
/// whole, and never in the place of another file.
pub(crate) fn write_anew(
    to: &Path,
    fill: impl FnOnce(&mut Record) -> Result<(), RecordError>,
) -> Result<(), RecordError> {
    if to.exists() {
        return Err(RecordError::Exists(to.to_owned()));
    }
    let folder =
        to.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let io = |error: std::io::Error| RecordError::from_io(to, &error, error.to_string());
    let part = tempfile::Builder::new()
        .prefix(".skimgauge-")
        .tempfile_in(folder)
        .map_err(io)?
        .into_temp_path();
    let made = Record::open_or_create(&part).and_then(|mut record| {
        fill(&mut record)?;
        record.seal()
    });
    made.map_err(|error| error.of(&part, to))?;
    part.persist_noclobber(to).map_err(|error| io(error.error))?;
    // The new name on disk, too, where folders can be synced.
    if let Ok(folder) = std::fs::File::open(folder) {
        let _ = folder.sync_all();
    }
    Ok(())
}
