//! Everything in a record read back and checked.
//!
//! In this order: the file is a record in a format that this program knows; its tables and triggers
//! are those of that format, word for word; SQLite finds its pages in order (`integrity_check`,
//! `foreign_key_check`); the [seal], if there is one, holds; each job's events follow from each
//! other, link by link; what its row sums up is what they say; job files, photos and signatures
//! match their hashes; nothing is there that no event speaks of.
//!
//! In a sealed record, which a closed or exported one is, that covers every bit of the file. In one
//! that is not sealed it covers everything that is ever read, and leaves out unused bytes alone.
//!
//! What this cannot find: a record that someone wrote anew from end to end, with all hashes. A
//! signature can.

use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

use rusqlite::Connection;
use serde::Serialize;

use crate::chain::Hash;
use crate::event::{Body, Signed, hashes_in};
use crate::id::JobId;
use crate::job_row::{JobRow, rows};
use crate::seal::{self, Seal};
use crate::walk::{Broken, Walked};
use crate::{Event, Record, RecordError, schema, sign};

/// How many of SQLite's own findings to keep.
const MOST_PAGE_FINDINGS: u32 = 20;

/// What a check of a whole record came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Report {
    /// The file.
    pub path: PathBuf,
    /// Whether the whole file is as it was sealed.
    pub seal: Seal,
    /// Job by job.
    pub jobs: Vec<JobReport>,
    /// What is wrong beside the chains, one sentence each, the gravest first.
    pub findings: Vec<String>,
}

/// What the check of one job came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JobReport {
    /// Which job it is, wherever it is carried.
    pub id: JobId,
    /// Its name, as far as it can be read.
    pub name: String,
    /// Events that follow from each other, from the first.
    pub events: u32,
    /// Hash of the last of them.
    pub head_hash: Hash,
    /// The hash of each of them, in order: a page made earlier shows one of these.
    #[serde(skip)]
    pub hashes: Vec<Hash>,
    /// Whether it is closed.
    pub closed: bool,
    /// Events that a newer program wrote: their hashes hold, and this program does not know what
    /// they say.
    pub unknown: u32,
    /// The first broken link.
    pub broken: Option<Broken>,
    /// Signatures under it.
    pub signatures: Vec<Signature>,
}

/// A signature, checked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Signature {
    /// Its place in the job.
    pub seq: u32,
    /// Who put it there, in their own words: the key alone proves who it was.
    pub who: String,
    /// The key's fingerprint, to be compared with one that came by another way.
    pub fingerprint: String,
    /// What does not fit; absent when it holds.
    pub wrong: Option<String>,
}

impl Report {
    /// Whether nothing at all is wrong.
    pub fn sound(&self) -> bool {
        self.first_wrong().is_none()
    }

    /// The first thing that is wrong, as a sentence.
    pub fn first_wrong(&self) -> Option<String> {
        let link = self.jobs.iter().find_map(|job| {
            let broken = job.broken.as_ref()?;
            Some(format!(
                "In the job \"{}\" the chain breaks at event {}: {}.",
                job.name, broken.seq, broken.why
            ))
        });
        let signature = || {
            self.jobs.iter().find_map(|job| {
                let (signature, wrong) =
                    job.signatures.iter().find_map(|s| Some((s, s.wrong.as_ref()?)))?;
                Some(format!(
                    "In the job \"{}\" the signature at event {} does not hold: {wrong}.",
                    job.name, signature.seq
                ))
            })
        };
        let seal = || {
            (self.seal == Seal::Broken).then(|| {
                "The file is not as it was sealed: something in it was changed since.".to_owned()
            })
        };
        link.or_else(signature).or_else(|| self.findings.first().cloned()).or_else(seal)
    }
}

/// Checks the record at `path`. Nothing is written; an interrupted write is undone first, where
/// that is possible.
///
/// # Errors
/// When it can't be opened or read at all: [`RecordError::NotARecord`], [`RecordError::Newer`],
/// [`RecordError::Damaged`] and the like. A record that opens and is wrong is no error but a
/// [`Report`].
pub fn verify(path: &Path) -> Result<Report, RecordError> {
    let mut record = Record::connect_to_read(path)?;
    // One state of the file from here to the end, whoever else writes.
    let begun = record.connection.execute_batch("BEGIN");
    begun.map_err(|error| record.sqlite(&error))?;
    let mut report = Report {
        path: path.to_owned(),
        seal: Seal::Unchecked,
        jobs: Vec::new(),
        findings: Vec::new(),
    };
    let exact = schema::is_exact(&record.connection, record.format)
        .map_err(|error| record.sqlite(&error))?;
    if !exact {
        report.findings.push(
            "The record's tables are not those that this program makes: something altered them."
                .to_owned(),
        );
    }
    // A table that is none is asked nothing.
    if schema::check(&record.connection, path, record.format, false).is_err() {
        return Ok(report);
    }
    if exact && let Err(error) = check_pages(&record.connection, &mut report.findings) {
        report.findings.push(format!("The file's structure cannot be checked: {error}."));
    }
    let file_bytes = std::fs::metadata(path)
        .map_err(|error| RecordError::from_io(path, &error, error.to_string()))?
        .len();
    match seal::check(&mut record.connection, file_bytes) {
        Ok(seal) => report.seal = seal,
        Err(error) => {
            report.seal = Seal::Broken;
            report.findings.push(format!("The seal cannot be read: {error}."));
        }
    }
    record.only_read()?;
    let mut photos = Photos::default();
    if let Err(error) = check_jobs(&record, &mut report, &mut photos) {
        report.findings.push(format!("Not all jobs can be read: {error}."));
    }
    if let Err(error) = check_photos(&record.connection, &photos, &mut report.findings) {
        report.findings.push(format!("Not all photos can be read: {error}."));
    }
    Ok(report)
}

/// The attached bytes that events speak of.
#[derive(Default)]
struct Photos {
    /// With the length that the event says.
    attached: HashMap<Hash, u64>,
    /// Named by an event that is not known, or from behind a break.
    named: HashSet<Hash>,
}

impl Photos {
    /// Notes what an event says of attached bytes.
    fn note(&mut self, body: &Body) {
        match body {
            Body::PhotoAttached(photo) => drop(self.attached.insert(photo.sha256, photo.bytes)),
            Body::Unknown(unknown) => self.named.extend(hashes_in(&unknown.payload)),
            Body::Salvaged(saved) => self.named.extend(hashes_in(&saved.payload)),
            _ => {}
        }
    }
}

fn check_pages(connection: &Connection, findings: &mut Vec<String>) -> rusqlite::Result<()> {
    let mut query = connection.prepare(&format!("PRAGMA integrity_check({MOST_PAGE_FINDINGS})"))?;
    for line in query.query_map([], |row| row.get::<_, String>(0))? {
        let line = line?;
        if line != "ok" {
            findings.push(format!("The file's pages are not in order: {line}."));
        }
    }
    let mut query = connection.prepare("PRAGMA foreign_key_check")?;
    if query.exists([])? {
        findings.push("There are events that belong to no job.".to_owned());
    }
    Ok(())
}

fn check_jobs(record: &Record, report: &mut Report, photos: &mut Photos) -> rusqlite::Result<()> {
    let connection = &record.connection;
    let mut walked: u64 = 0;
    let mut ids = HashSet::new();
    for (kept, number) in rows(connection)?.into_iter().zip(1..) {
        if kept.job_id != number {
            report
                .findings
                .push(format!("The record has no job number {number}, and others after it."));
        }
        if !ids.insert(kept.id) {
            report.findings.push(format!("Two jobs have the identity {}.", kept.id));
        }
        let job = check_job(record, &kept, photos, &mut report.findings);
        walked += u64::from(job.events);
        report.jobs.push(job);
    }
    let events: u64 = connection
        .query_row("SELECT count(*) FROM event", [], |row| row.get::<_, i64>(0))?
        .unsigned_abs();
    if events != walked && report.jobs.iter().all(|job| job.broken.is_none()) {
        report.findings.push(format!(
            "The record holds {}, and its jobs account for {walked}.",
            skimgauge_quantity::count(events, "event")
        ));
    }
    Ok(())
}

fn check_job(
    record: &Record,
    kept: &JobRow,
    photos: &mut Photos,
    findings: &mut Vec<String>,
) -> JobReport {
    let Walked { events, broken } =
        Walked::job(&record.connection, kept.job_id, (kept.last_seq, kept.last_hash));
    events.iter().for_each(|event| photos.note(&event.body));
    let mut sum = JobRow::of(kept.job_id, &events);
    let unknown = events.iter().filter(|event| matches!(event.body, Body::Unknown(_))).count();
    if unknown > 0 {
        // What kinds from a newer program do to these is not known here.
        (sum.takes, sum.verdict, sum.closed) =
            (kept.takes, kept.verdict.clone(), sum.closed || kept.closed);
    }
    if record.format == 1 {
        sum.takes = takes_of_format_1(&events);
    }
    if broken.is_none() && sum != *kept {
        findings.push(format!(
            "What the record sums up of the job \"{}\" is not what its events say.",
            sum.name
        ));
    }
    let name = if sum.name.is_empty() { kept.name.clone() } else { sum.name };
    JobReport { id: kept.id, name, closed: sum.closed, ..JobReport::of(&events, broken) }
}

impl JobReport {
    /// Of events that follow from each other, and where they cease to.
    pub fn of(events: &[Event], broken: Option<Broken>) -> Self {
        let mut closings = HashSet::new();
        let mut signatures = Vec::new();
        for event in events {
            if let Body::Signed(signed) = &event.body {
                signatures.push(check_signature(event, signed, &closings));
            }
            if event.body.closes() {
                closings.insert(event.hash);
            }
        }
        let sum = JobRow::of(0, events);
        let unknown = events.iter().filter(|event| matches!(event.body, Body::Unknown(_))).count();
        Self {
            id: sum.id,
            name: sum.name,
            events: u32::try_from(events.len()).unwrap_or(u32::MAX),
            head_hash: events.last().map_or(Hash::NONE, |event| event.hash),
            hashes: events.iter().map(|event| event.hash).collect(),
            closed: sum.closed,
            unknown: u32::try_from(unknown).unwrap_or(u32::MAX),
            broken,
            signatures,
        }
    }
}

/// What format 1 counted: takes that replace none.
fn takes_of_format_1(events: &[Event]) -> u32 {
    let counts =
        |event: &&Event| matches!(&event.body, Body::Take(take) if take.supersedes.is_none());
    u32::try_from(events.iter().filter(counts).count()).unwrap_or(u32::MAX)
}

fn check_signature(event: &Event, signed: &Signed, closings: &HashSet<Hash>) -> Signature {
    let wrong = if closings.contains(&signed.hash) {
        sign::check(signed).err()
    } else {
        Some("it is not for this job's closing event".to_owned())
    };
    Signature {
        seq: event.seq,
        who: event.who.clone(),
        fingerprint: sign::fingerprint(&signed.public_key)
            .unwrap_or_else(|_| "unreadable".to_owned()),
        wrong,
    }
}

fn check_photos(
    connection: &Connection,
    photos: &Photos,
    findings: &mut Vec<String>,
) -> rusqlite::Result<()> {
    let mut missing = photos.attached.clone();
    let mut query =
        connection.prepare("SELECT photo_id, sha256, bytes FROM photo ORDER BY photo_id")?;
    let mut rows = query.query([])?;
    let mut number = 0;
    while let Some(row) = rows.next()? {
        number += 1;
        let (photo_id, sha256): (i64, Hash) = (row.get(0)?, row.get(1)?);
        let bytes = row.get_ref(2)?.as_blob()?;
        let problem = if photo_id != number {
            format!("has the number {photo_id} and should have {number}")
        } else if Hash::of(bytes) != sha256 {
            "does not match its hash".to_owned()
        } else {
            match missing.remove(&sha256) {
                None if photos.named.contains(&sha256) => continue,
                None => "is spoken of by no event".to_owned(),
                Some(length) if length != bytes.len() as u64 => {
                    "is not as long as its event says".to_owned()
                }
                Some(_) => continue,
            }
        };
        findings.push(format!("The photo {} {problem}.", sha256.short()));
    }
    for sha256 in missing.keys() {
        findings.push(format!("The photo {} is missing.", sha256.short()));
    }
    Ok(())
}
