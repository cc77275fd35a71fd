//! What can be saved out of a damaged record.
//!
//! Of each job everything before the first broken link is carried over as it stands. An event from
//! the break on whose own hash holds is saved, too, inside a [`Salvaged`] event: it is what
//! somebody wrote, but what it followed is lost, so that it counts for nothing and is shown as what
//! it is. The damaged file is left as it is.

use std::path::Path;

use rusqlite::{OptionalExtension, Transaction};

use crate::chain::Hash;
use crate::event::{Body, JobOpened, Salvaged, hashes_in};
use crate::job_row::{JobRow, find, next_job_id, rows};
use crate::photo::put_photo;
use crate::portable::{Carried, Parcel, load_all, unload, write_anew};
use crate::store::Open;
use crate::walk::{Broken, StoredRow};
use crate::{JobId, Record, RecordError, Stamp, limits};

/// Most places behind a break that are looked at, whatever the damaged record says how many there
/// are.
const MOST_PLACES: usize = 1_000_000;

/// A job of a damaged record.
struct Wreck {
    parcel: Parcel,
    /// Its name as the list of jobs has it: where the event that says it is lost.
    listed: Option<String>,
    /// What is whole behind the break.
    behind: Vec<StoredRow>,
    /// How many are not.
    lost: u32,
}

/// Saves what holds of the record at `from` into a new one at `to`. What is saved from behind a
/// break is written under `stamp`; `new_id` gives an identity to a job whose own is lost
/// ([`JobId::random`], but for tests).
///
/// # Errors
/// [`RecordError::Exists`] when there is a file under the new name; what reading meets when not
/// even the jobs can be found.
pub fn salvage(
    from: &Path,
    to: &Path,
    stamp: &Stamp,
    mut new_id: impl FnMut() -> Result<JobId, RecordError>,
) -> Result<Vec<Carried>, RecordError> {
    let source = Record::open_read_only(from)?;
    // A list of jobs that can't be read says no names; the events do.
    let listed = rows(&source.connection).unwrap_or_default();
    let wrecks: Vec<Wreck> = load_all(&source)?
        .into_iter()
        .map(|(job_id, parcel)| Wreck::found(&source, job_id, parcel, &listed))
        .collect();
    let mut done = Vec::new();
    write_anew(to, |record| {
        done = record.write(|target, path| {
            wrecks
                .iter()
                .map(|wreck| wreck.save(target, path, &source, stamp, &mut new_id))
                .collect()
        })?;
        Ok(())
    })?;
    Ok(done)
}

impl Wreck {
    fn found(source: &Record, job_id: i64, mut parcel: Parcel, listed: &[JobRow]) -> Self {
        // An event whose photo is gone can't be carried, nor what hangs on it.
        let gone = parcel.events.iter().position(|event| match &event.body {
            Body::PhotoAttached(photo) => !matches!(source.photo(photo.sha256), Ok(Some(_))),
            _ => false,
        });
        if let Some(gone) = gone {
            let seq = parcel.rows[gone].seq;
            parcel.rows.truncate(gone);
            parcel.events.truncate(gone);
            parcel.broken = Some(Broken { seq, why: "its photo is missing or damaged".to_owned() });
        }
        let row = listed.iter().find(|row| row.job_id == job_id);
        let should = row.map_or(0, |row| row.last_seq);
        let (behind, lost) = behind(source, job_id, parcel.rows.len(), should);
        if parcel.broken.is_none() && lost > 0 {
            let seq = u32::try_from(parcel.rows.len()).unwrap_or(u32::MAX).saturating_add(1);
            parcel.broken =
                Some(Broken { seq, why: format!("the job should have {should} events") });
        }
        Self { parcel, listed: row.map(|row| row.name.clone()), behind, lost }
    }

    fn save(
        &self,
        target: &Transaction<'_>,
        path: &Path,
        source: &Record,
        stamp: &Stamp,
        new_id: &mut impl FnMut() -> Result<JobId, RecordError>,
    ) -> Result<Carried, RecordError> {
        let new_events = unload(target, path, source, &self.parcel)?;
        let mut carried = Carried { lost: self.lost, ..self.parcel.carried(new_events, false) };
        if self.behind.is_empty() {
            return Ok(carried);
        }
        let mut open = match find(target, path, self.parcel.id)? {
            Some(row) if !self.parcel.rows.is_empty() => Open::load(target, path, &row)?,
            _ => {
                (carried.id, carried.job) = (new_id()?, self.name());
                let opened = JobOpened {
                    id: carried.id,
                    name: carried.job.clone(),
                    job_file: String::new(),
                    job_file_sha256: Hash::of(b""),
                };
                let mut open = Open::new(next_job_id(target, path)?, &carried.job);
                open.put(target, path, stamp, opened.into())?;
                open
            }
        };
        let broke_at = self.parcel.broken.as_ref().map_or(1, |broken| broken.seq);
        for stored in &self.behind {
            for sha256 in hashes_in(&stored.payload) {
                if let Ok(Some(bytes)) = source.photo(sha256) {
                    put_photo(target, sha256, &bytes)
                        .map_err(|error| RecordError::from_sqlite(path, &error))?;
                }
            }
            match open.put(target, path, stamp, saved(stored, broke_at).into()) {
                Ok(_) => carried.behind += 1,
                Err(RecordError::BadEvent(_)) => carried.lost += 1,
                Err(error) => return Err(error),
            }
        }
        Ok(carried)
    }

    /// A name for a job whose own is lost: the one in the list of jobs, as far as it will do.
    fn name(&self) -> String {
        let listed =
            self.listed.as_deref().map(|name| skimgauge_quantity::shown(name).trim().to_owned());
        listed.filter(|name| limits::name(name).is_ok()).unwrap_or_else(|| self.parcel.name.clone())
    }
}

/// The events from a place on whose own hash holds, and how many are there, or should be, and are
/// not whole.
fn behind(source: &Record, job_id: i64, whole: usize, should: u32) -> (Vec<StoredRow>, u32) {
    let sql = "SELECT coalesce(max(seq), 0) FROM event WHERE job_id = ?1";
    // Where not even that can be read, place by place as far as the list of jobs says.
    let last: u32 = source.connection.query_row(sql, [job_id], |row| row.get(0)).unwrap_or(should);
    let whole = u32::try_from(whole).unwrap_or(u32::MAX);
    let (mut found, mut lost) = (Vec::new(), should.saturating_sub(last.max(whole)));
    for seq in (whole.saturating_add(1)..=last).take(MOST_PLACES) {
        match event_at(source, job_id, seq) {
            Ok(Some(stored)) if stored.is_whole() => found.push(stored),
            _ => lost += 1,
        }
    }
    (found, lost)
}

fn event_at(source: &Record, job_id: i64, seq: u32) -> rusqlite::Result<Option<StoredRow>> {
    let sql = format!("SELECT {} FROM event WHERE job_id = ?1 AND seq = ?2", StoredRow::COLUMNS);
    source.connection.prepare_cached(&sql)?.query_row((job_id, seq), StoredRow::read).optional()
}

fn saved(stored: &StoredRow, broke_at: u32) -> Salvaged {
    Salvaged {
        seq: stored.seq,
        at: stored.at.clone(),
        who: stored.who.clone(),
        software: stored.software.clone(),
        kind: stored.kind.clone(),
        version: stored.version,
        payload: stored.payload.clone(),
        rule: stored.rule,
        parents: stored.parents.0.clone(),
        hash: stored.hash,
        broke_at,
    }
}
