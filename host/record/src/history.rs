//! Listing jobs and showing one.

use std::collections::{HashMap, HashSet};

use rusqlite::Connection;
use serde::{Serialize, Serializer};

use crate::chain::{self, Hash, Row};
use crate::event::{Body, Judged, Phase, Take, VerdictWord};
use crate::store::{JobRow, need};
use crate::{Record, RecordError, When};

impl Serialize for When {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// A job in a few words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JobSummary {
    /// Its name.
    pub name: String,
    /// When it was opened.
    pub opened: When,
    /// When the last event was appended.
    pub last: When,
    /// How many events it has.
    pub events: u32,
    /// How many takes stand, not counting those that were replaced.
    pub takes: u32,
    /// The last verdict on the whole.
    pub verdict: Option<VerdictWord>,
    /// Whether it takes no more events.
    pub closed: bool,
    /// Hash of its last event: it stands for all before it.
    pub head_hash: Hash,
}

/// An event, read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Event {
    /// Its place in the job, from 1. This is the order; times may step back.
    pub seq: u32,
    /// When, by the clock of the machine that wrote it.
    pub at: When,
    /// How far the clock was set back since the event before, s.
    pub clock_back_s: Option<f64>,
    /// The person.
    pub who: String,
    /// The program.
    pub software: String,
    /// What it says.
    #[serde(flatten)]
    pub body: Body,
    /// Its hash.
    pub hash: Hash,
}

/// A job with its events.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JobHistory {
    /// In a few words.
    pub summary: JobSummary,
    /// Its events, in order; up to the break if there is one.
    pub events: Vec<Event>,
    /// Where and how the chain breaks: nothing from there on can be trusted. Absent when it holds.
    pub broken: Option<Broken>,
}

/// The first place where a job's events don't follow from each other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Broken {
    /// Place of the first event that can't be trusted.
    pub seq: u32,
    /// What does not fit there.
    pub why: String,
}

/// A take that stands: not replaced, and of the last round at its station and phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurrentTake<'a> {
    /// The event that holds it.
    pub event: &'a Event,
    /// The take.
    pub take: &'a Take,
}

impl JobHistory {
    /// The takes that stand, by the order in which they were made. Several at one station and phase are all takes of the
    /// last round there; a redo leaves only itself.
    pub fn current_takes(&self) -> Vec<CurrentTake<'_>> {
        let takes: Vec<_> = self
            .events
            .iter()
            .filter_map(|event| match &event.body {
                Body::Take(take) => Some(CurrentTake { event, take }),
                _ => None,
            })
            .collect();
        let replaced: HashSet<u32> = takes.iter().filter_map(|current| current.take.supersedes).collect();
        let mut last_round: HashMap<(Phase, &str), u32> = HashMap::new();
        for CurrentTake { take, .. } in &takes {
            let round = last_round.entry((take.phase, take.station.as_str())).or_default();
            *round = take.round.max(*round);
        }
        let stands = |current: &CurrentTake<'_>| {
            !replaced.contains(&current.event.seq)
                && last_round.get(&(current.take.phase, current.take.station.as_str())) == Some(&current.take.round)
        };
        takes.into_iter().filter(stands).collect()
    }

    /// The job file's text as last recorded.
    pub fn job_file(&self) -> Option<&str> {
        self.events.iter().rev().find_map(|event| match &event.body {
            Body::JobOpened(opened) => Some(opened.job_file.as_str()),
            Body::JobRevised(revised) => Some(revised.job_file.as_str()),
            _ => None,
        })
    }

    /// The last verdict on a state of the installation.
    pub fn verdict(&self, phase: Phase) -> Option<&Judged> {
        self.events.iter().rev().find_map(|event| match &event.body {
            Body::Judged(judged) if judged.phase == phase => Some(judged),
            _ => None,
        })
    }
}

impl Record {
    /// All jobs, the one last worked on first.
    ///
    /// # Errors
    /// What reading can meet.
    pub fn jobs(&self) -> Result<Vec<JobSummary>, RecordError> {
        let sql = format!("SELECT {} FROM job", JobRow::COLUMNS);
        let rows: rusqlite::Result<Vec<JobRow>> =
            self.connection.prepare(&sql).and_then(|mut query| query.query_map([], JobRow::read)?.collect());
        let rows = rows.map_err(|error| self.sqlite(&error))?;
        let mut jobs = rows.into_iter().map(|row| self.summary(row)).collect::<Result<Vec<_>, _>>()?;
        jobs.sort_by(|a, b| b.last.moment().cmp(&a.last.moment()).then_with(|| a.name.cmp(&b.name)));
        Ok(jobs)
    }

    /// One job with its events, the chain checked on the way. A chain that breaks is no error here: the history ends there
    /// and says so.
    ///
    /// # Errors
    /// [`RecordError::NoSuchJob`], and what reading can meet.
    pub fn job(&self, name: &str) -> Result<JobHistory, RecordError> {
        // One transaction, so that an append in between does not show in the one and not in the other.
        let reading = self.connection.unchecked_transaction().map_err(|error| self.sqlite(&error))?;
        let row = need(&reading, &self.path, name)?;
        let (last_seq, last_hash) = (row.last_seq, row.last_hash);
        let mut walk = Walk::default();
        let mut events = Vec::with_capacity(last_seq.min(100_000) as usize);
        let mut broken = walk_job(&reading, row.job_id, |stored| {
            events.push(walk.step(&stored)?);
            Ok(())
        })
        .map_err(|error| self.sqlite(&error))?;
        if broken.is_none() && (walk.seq, walk.hash) != (last_seq, last_hash) {
            broken = Some(Broken {
                seq: walk.seq.min(last_seq) + 1,
                why: format!("the job has {} events and should have {last_seq}", walk.seq),
            });
        }
        Ok(JobHistory { summary: self.summary(row)?, events, broken })
    }

    fn summary(&self, row: JobRow) -> Result<JobSummary, RecordError> {
        let damaged = |what: String| RecordError::Damaged {
            path: self.path.clone(),
            what: format!("job \"{}\": {what}", row.name),
        };
        let when = |text: &str| When::parse(text).map_err(|_| damaged(format!("\"{text}\" is no time")));
        let verdict = match &row.verdict {
            None => None,
            Some(word) => Some(VerdictWord::parse(word).ok_or_else(|| damaged(format!("\"{word}\" is no verdict")))?),
        };
        Ok(JobSummary {
            opened: when(&row.opened_at)?,
            last: when(&row.last_at)?,
            events: row.last_seq,
            takes: row.takes,
            verdict,
            closed: row.closed,
            head_hash: row.last_hash,
            name: row.name,
        })
    }
}

/// An event's columns as read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StoredRow {
    pub seq: u32,
    pub at: String,
    pub who: String,
    pub software: String,
    pub kind: String,
    pub version: u32,
    pub payload: String,
    pub hash: Hash,
}

impl StoredRow {
    pub(crate) fn row(&self) -> Row<'_> {
        Row {
            seq: self.seq,
            at: &self.at,
            who: &self.who,
            software: &self.software,
            kind: &self.kind,
            version: self.version,
            payload: &self.payload,
        }
    }
}

/// Goes through a job's events in order until `visit` finds a break.
pub(crate) fn walk_job(
    connection: &Connection,
    job_id: i64,
    mut visit: impl FnMut(StoredRow) -> Result<(), Broken>,
) -> rusqlite::Result<Option<Broken>> {
    let mut query = connection.prepare_cached(
        "SELECT seq, at, who, software, kind, version, payload, hash FROM event WHERE job_id = ?1 ORDER BY seq",
    )?;
    let mut rows = query.query([job_id])?;
    while let Some(row) = rows.next()? {
        let stored = StoredRow {
            seq: row.get(0)?,
            at: row.get(1)?,
            who: row.get(2)?,
            software: row.get(3)?,
            kind: row.get(4)?,
            version: row.get(5)?,
            payload: row.get(6)?,
            hash: row.get(7)?,
        };
        if let Err(broken) = visit(stored) {
            return Ok(Some(broken));
        }
    }
    Ok(None)
}

/// Where a walk along the chain has come to.
#[derive(Debug)]
pub(crate) struct Walk {
    pub seq: u32,
    pub hash: Hash,
    last: Option<When>,
}

impl Default for Walk {
    fn default() -> Self {
        Self { seq: 0, hash: Hash::NONE, last: None }
    }
}

impl Walk {
    /// Takes one more event, if it follows.
    pub(crate) fn step(&mut self, stored: &StoredRow) -> Result<Event, Broken> {
        let place = self.seq.saturating_add(1);
        let broken = |why: String| Broken { seq: place, why };
        if stored.seq != place {
            return Err(broken(format!("event {place} is missing; the next is {}", stored.seq)));
        }
        if chain::link(self.hash, stored.row()) != stored.hash {
            return Err(broken(format!("event {place} (\"{}\", {}) does not match its hash", stored.kind, stored.at)));
        }
        let body = Body::read(&stored.kind, stored.version, &stored.payload).map_err(broken)?;
        if matches!(body, Body::JobOpened(_)) != (place == 1) {
            return Err(broken("a job is opened once, by its first event".to_owned()));
        }
        let at = When::parse(&stored.at).map_err(|_| broken(format!("\"{}\" is no time", stored.at)))?;
        let clock_back_s = self.last.and_then(|last| at.seconds_before(last));
        (self.seq, self.hash, self.last) = (place, stored.hash, Some(at));
        Ok(Event {
            seq: place,
            at,
            clock_back_s,
            who: stored.who.clone(),
            software: stored.software.clone(),
            body,
            hash: stored.hash,
        })
    }
}
