//! Everything in a record read back and checked.
//!
//! In this order: the file is a record in a format that this program knows; its tables and triggers are those of that
//! format, word for word; SQLite finds its pages in order (`integrity_check`, `foreign_key_check`); the [seal],
//! if there is one, holds; each job's events follow from each other, link by link; what its row sums up is what they say;
//! job files, photos and signatures match their hashes; nothing is there that no event speaks of.
//!
//! In a sealed record, which a closed or exported one is, that covers every bit of the file. In one that is not sealed it
//! covers everything that is ever read, and leaves out unused bytes alone.
//!
//! What this cannot find: a record that someone wrote anew from end to end, with all hashes. A signature can.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use rusqlite::Connection;
use serde::Serialize;

use crate::chain::Hash;
use crate::event::{Body, Signed};
use crate::history::{Broken, Walk, walk_job};
use crate::seal::{self, Seal};
use crate::store::JobRow;
use crate::{Record, RecordError, schema, sign};

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
    /// Its name, as far as it can be read.
    pub name: String,
    /// Events that follow from each other, from the first.
    pub events: u32,
    /// Hash of the last of them.
    pub head_hash: Hash,
    /// Whether it is closed.
    pub closed: bool,
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
            Some(format!("In the job \"{}\" the chain breaks at event {}: {}.", job.name, broken.seq, broken.why))
        });
        let signature = || {
            self.jobs.iter().find_map(|job| {
                let (signature, wrong) = job.signatures.iter().find_map(|s| Some((s, s.wrong.as_ref()?)))?;
                Some(format!(
                    "In the job \"{}\" the signature at event {} does not hold: {wrong}.",
                    job.name, signature.seq
                ))
            })
        };
        let seal = || {
            (self.seal == Seal::Broken)
                .then(|| "The file is not as it was sealed: something in it was changed since.".to_owned())
        };
        link.or_else(signature).or_else(|| self.findings.first().cloned()).or_else(seal)
    }
}

/// Checks the record at `path`. Nothing is written; an interrupted write is undone first, where that is possible.
///
/// # Errors
/// When it can't be opened or read at all: [`RecordError::NotARecord`], [`RecordError::Newer`],
/// [`RecordError::Damaged`] and the like. A record that opens and is wrong is no error but a [`Report`].
pub fn verify(path: &Path) -> Result<Report, RecordError> {
    let mut record = Record::open_read_only(path)?;
    // One state of the file from here to the end, whoever else writes.
    let begun = record.connection.execute_batch("BEGIN");
    begun.map_err(|error| record.sqlite(&error))?;
    let mut report = Report { path: path.to_owned(), seal: Seal::None, jobs: Vec::new(), findings: Vec::new() };
    let mut photos = HashMap::new();

    if let Err(error) = check_schema(&record.connection, &mut report.findings)
        .and_then(|()| check_pages(&record.connection, &mut report.findings))
    {
        report.findings.push(format!("The file's structure cannot be checked: {error}."));
    }
    let file_bytes =
        std::fs::metadata(path).map_err(|error| RecordError::from_io(path, &error, error.to_string()))?.len();
    match seal::check(&mut record.connection, file_bytes) {
        Ok(seal) => report.seal = seal,
        Err(error) => {
            report.seal = Seal::Broken;
            report.findings.push(format!("The seal cannot be read: {error}."));
        }
    }
    if let Err(error) = check_jobs(&record.connection, &mut report, &mut photos) {
        report.findings.push(format!("Not all jobs can be read: {error}."));
    }
    if let Err(error) = check_photos(&record.connection, &photos, &mut report.findings) {
        report.findings.push(format!("Not all photos can be read: {error}."));
    }
    Ok(report)
}

fn check_schema(connection: &Connection, findings: &mut Vec<String>) -> rusqlite::Result<()> {
    if schema::texts(connection)? != schema::fresh_texts()? {
        findings.push("The record's tables are not those that this program makes: something altered them.".to_owned());
    }
    Ok(())
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

fn check_jobs(connection: &Connection, report: &mut Report, photos: &mut HashMap<Hash, u64>) -> rusqlite::Result<()> {
    let mut query = connection.prepare(&format!("SELECT {} FROM job ORDER BY job_id", JobRow::COLUMNS))?;
    let rows: Vec<JobRow> = query.query_map([], JobRow::read)?.collect::<rusqlite::Result<_>>()?;
    let mut walked: u64 = 0;
    for (kept, number) in rows.into_iter().zip(1..) {
        if kept.job_id != number {
            report.findings.push(format!("The record has no job number {number}, and others after it."));
        }
        let job = check_job(connection, &kept, photos, &mut report.findings);
        walked += u64::from(job.events);
        report.jobs.push(job);
    }
    let events: u64 =
        connection.query_row("SELECT count(*) FROM event", [], |row| row.get::<_, i64>(0))?.unsigned_abs();
    if events != walked && report.jobs.iter().all(|job| job.broken.is_none()) {
        report.findings.push(format!("The record holds {events} events, and its jobs account for {walked}."));
    }
    Ok(())
}

fn check_job(
    connection: &Connection,
    kept: &JobRow,
    photos: &mut HashMap<Hash, u64>,
    findings: &mut Vec<String>,
) -> JobReport {
    let mut walk = Walk::default();
    let mut sum = JobRow::empty(kept.job_id);
    let mut closing = None;
    let mut signatures = Vec::new();
    let walked = walk_job(connection, kept.job_id, |stored| {
        let event = walk.step(&stored)?;
        let broken = |why: &str| Err(Broken { seq: event.seq, why: why.to_owned() });
        match &event.body {
            Body::JobOpened(opened) if Hash::of(opened.job_file.as_bytes()) != opened.job_file_sha256 => {
                return broken("the job file does not match its hash");
            }
            Body::JobRevised(revised) if Hash::of(revised.job_file.as_bytes()) != revised.job_file_sha256 => {
                return broken("the job file does not match its hash");
            }
            Body::PhotoAttached(photo) => {
                photos.insert(photo.sha256, photo.bytes);
            }
            Body::Signed(signed) => signatures.push(check_signature(&event, signed, closing)),
            _ if closing.is_some() => return broken("something follows the close that is no signature"),
            _ => {}
        }
        if matches!(event.body, Body::Closed(_)) {
            closing = Some((event.seq, event.hash));
        }
        sum.follow(&event.body, stored.row(), stored.hash);
        Ok(())
    });
    let mut broken = walked.unwrap_or_else(|error| {
        Some(Broken { seq: walk.seq.saturating_add(1), why: format!("it cannot be read ({error})") })
    });
    if broken.is_none() && (walk.seq, walk.hash) != (kept.last_seq, kept.last_hash) {
        let why = if walk.seq == kept.last_seq {
            "the last event is not the one that was written last".to_owned()
        } else {
            format!("the job has {} events and should have {}", walk.seq, kept.last_seq)
        };
        broken = Some(Broken { seq: walk.seq.min(kept.last_seq).saturating_add(1), why });
    }
    if broken.is_none() && sum != *kept {
        findings.push(format!("What the record sums up of the job \"{}\" is not what its events say.", sum.name));
    }
    JobReport {
        name: if sum.name.is_empty() { kept.name.clone() } else { sum.name },
        events: walk.seq,
        head_hash: walk.hash,
        closed: sum.closed,
        broken,
        signatures,
    }
}

fn check_signature(event: &crate::Event, signed: &Signed, closing: Option<(u32, Hash)>) -> Signature {
    let wrong = if closing == Some((signed.seq, signed.hash)) {
        sign::check(signed).err()
    } else {
        Some("it is not for this job's closing event".to_owned())
    };
    Signature {
        seq: event.seq,
        who: event.who.clone(),
        fingerprint: sign::fingerprint(&signed.public_key).unwrap_or_else(|_| "unreadable".to_owned()),
        wrong,
    }
}

fn check_photos(
    connection: &Connection,
    attached: &HashMap<Hash, u64>,
    findings: &mut Vec<String>,
) -> rusqlite::Result<()> {
    let mut missing = attached.clone();
    let mut query = connection.prepare("SELECT photo_id, sha256, bytes FROM photo ORDER BY photo_id")?;
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
                None => "is spoken of by no event".to_owned(),
                Some(length) if length != bytes.len() as u64 => "is not as long as its event says".to_owned(),
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
