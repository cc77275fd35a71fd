//! Jobs found again, by what is summed up of them.

use std::collections::HashMap;

use skimgauge_record::JobId;
use skimgauge_record::carry::{self, Store};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{JudgedAt, Verdict};
use skimgauge_record::history::{CheckedJob, JobSummary};
use skimgauge_record::practice::is_simulated;
use skimgauge_record::{JobHistory, RecordError, When};

use crate::FirmError;
use crate::base::{Base, hash, job_id};
use crate::summary::Summary;

/// What is looked for: each that is said must hold. Texts are looked for within, small and capital
/// letters alike.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Wanted {
    /// This very job.
    pub job: Option<JobId>,
    /// In its name.
    pub name: Option<String>,
    /// In its client.
    pub client: Option<String>,
    /// In its place.
    pub place: Option<String>,
    /// In a head's serial number.
    pub head: Option<String>,
    /// In the emitter's model.
    pub emitter: Option<String>,
    /// Worked on at this day or later, `2026-11-26`.
    pub since: Option<String>,
    /// Opened on this day or earlier.
    pub until: Option<String>,
    /// With this last verdict.
    pub verdict: Option<Verdict>,
}

/// A branch of a job, as it is summed up: the whole job, where it was never gone on with apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Which job.
    pub id: JobId,
    /// Its last event.
    pub end: Hash,
    /// What its events sum up to, as its sender said.
    pub sum: Summary,
    /// The machine that sent its last event.
    pub laptop: String,
    /// When that was, by the server's clock.
    pub received: String,
}

impl Line {
    /// As a list of jobs shows it.
    ///
    /// # Errors
    /// [`FirmError::Damaged`]: what is summed up makes no sense.
    pub fn summary(&self, base: &Base) -> Result<CheckedJob, FirmError> {
        let damaged = |what: &str| FirmError::Damaged {
            place: base.place(),
            what: format!("what is summed up of the job {} says \"{what}\"", self.id.short()),
        };
        let when = |text: &str| When::parse(text).map_err(|_| damaged(text));
        let sum = &self.sum;
        let verdict = match &sum.verdict {
            None => None,
            Some(word) => Some(Verdict::parse(word).ok_or_else(|| damaged(word))?),
        };
        let judged_at = sum.judged_at.as_deref().and_then(judged_at);
        Ok(CheckedJob {
            summary: JobSummary {
                id: self.id,
                name: sum.name.clone(),
                opened: when(&sum.opened)?,
                last: when(&sum.last)?,
                events: u32::try_from(sum.events).unwrap_or(u32::MAX),
                takes: u32::try_from(sum.takes).unwrap_or(u32::MAX),
                verdict,
                closed: sum.closed,
                head_hash: self.end,
            },
            judged_at,
            unknown: u32::try_from(sum.unknown).unwrap_or(u32::MAX),
            simulated: !sum.heads.is_empty() && sum.heads.iter().all(|serial| is_simulated(serial)),
            broken: None,
        })
    }

    /// The branch, named by the machine that sent it and when.
    pub fn branch(&self) -> String {
        format!("sent by {} on {}", self.laptop, self.received)
    }
}

fn judged_at(text: &str) -> Option<JudgedAt> {
    serde_json::from_str(text).ok()
}

const COLUMNS: &str = "job, end_hash, name, client, place, emitter, heads, opened, last, events, takes, verdict, \
     judged_at, closed, unknown, laptop, to_char(received, 'YYYY-MM-DD HH24:MI \"UTC\"')";

fn line(place: &str, row: &postgres::Row) -> Result<Line, FirmError> {
    Ok(Line {
        id: job_id(place, row.get(0))?,
        end: hash(place, row.get(1))?,
        sum: Summary {
            name: row.get(2),
            client: row.get(3),
            place: row.get(4),
            emitter: row.get(5),
            heads: row.get(6),
            opened: row.get(7),
            last: row.get(8),
            events: row.get(9),
            takes: row.get(10),
            verdict: row.get(11),
            judged_at: row.get(12),
            closed: row.get(13),
            unknown: row.get(14),
        },
        laptop: row.get(15),
        received: row.get(16),
    })
}

/// A branch of a job, gone through.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// From its first event to its end, as far as it holds.
    pub history: JobHistory,
    /// The machine that sent its last event, and when.
    pub sent: Option<(String, String)>,
}

impl Base {
    /// The branches of the jobs that are wanted, the one last worked on first. Their chains are not
    /// looked at.
    ///
    /// # Errors
    /// What reading can meet.
    pub fn lines(&mut self, wanted: &Wanted) -> Result<Vec<Line>, FirmError> {
        let job = wanted.job.map(|id| id.0.to_vec());
        let verdict = wanted.verdict.map(Verdict::word);
        let sql = format!(
            "SELECT {COLUMNS} FROM skimgauge.branch \
             WHERE ($1::bytea IS NULL OR job = $1) \
             AND ($2::text IS NULL OR strpos(lower(name), lower($2)) > 0) \
             AND ($3::text IS NULL OR strpos(lower(client), lower($3)) > 0) \
             AND ($4::text IS NULL OR strpos(lower(place), lower($4)) > 0) \
             AND ($5::text IS NULL OR EXISTS (SELECT FROM unnest(heads) AS h WHERE strpos(lower(h), lower($5)) > 0)) \
             AND ($6::text IS NULL OR strpos(lower(emitter), lower($6)) > 0) \
             AND ($7::text IS NULL OR last_at >= $7::text::date) \
             AND ($8::text IS NULL OR opened_at < $8::text::date + 1) \
             AND ($9::text IS NULL OR verdict = $9) \
             ORDER BY last_at DESC, name, end_hash"
        );
        let rows = self.query(
            &sql,
            &[
                &job,
                &wanted.name,
                &wanted.client,
                &wanted.place,
                &wanted.head,
                &wanted.emitter,
                &wanted.since,
                &wanted.until,
                &verdict,
            ],
        )?;
        rows.iter().map(|row| line(&self.place, row)).collect()
    }

    /// The branches of a job, each gone through from its first event to its end. One as a rule.
    ///
    /// # Errors
    /// [`FirmError::Damaged`] where not even a first event holds, and what reading can meet.
    pub fn branches(&mut self, job: JobId) -> Result<Vec<Branch>, RecordError> {
        let mut sent = HashMap::new();
        let mut rows = Vec::new();
        for (row, laptop, received) in self.rows_sent(job)? {
            sent.insert(row.hash, (laptop, received));
            rows.push(row);
        }
        let mut found = Vec::new();
        for branch in carry::branches(rows) {
            let history = carry::history(&branch).map_err(|broken| FirmError::Damaged {
                place: self.place(),
                what: format!("the job {} at event {}: {}", job.short(), broken.seq, broken.why),
            })?;
            let sent = branch.last().and_then(|row| sent.remove(&row.hash));
            found.push(Branch { history, sent });
        }
        Ok(found)
    }
}

impl Branch {
    /// Named by the machine that sent it and when.
    pub fn name(&self) -> String {
        let end = self.history.events.last().map(|event| event.hash.short()).unwrap_or_default();
        match &self.sent {
            None => format!("that ends with {end}"),
            Some((laptop, received)) => {
                format!("sent by {laptop} on {received}, which ends with {end}")
            }
        }
    }
}
