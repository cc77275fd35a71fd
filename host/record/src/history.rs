//! Listing jobs and showing one.

use serde::{Serialize, Serializer};

use crate::chain::{Hash, Rule};
use crate::event::{Body, Judged, JudgedAt, Phase, Verdict};
use crate::id::JobId;
use crate::job_row::{JobRow, need};
use crate::practice::Heads;
use crate::takes;
use crate::walk::{Broken, Walked};
use crate::{Record, RecordError, When};

impl Serialize for When {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// A job in a few words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JobSummary {
    /// Which job it is, wherever it is carried.
    pub id: JobId,
    /// Its name: a label, which two jobs may share.
    pub name: String,
    /// When it was opened.
    pub opened: When,
    /// When the last event was appended.
    pub last: When,
    /// How many events it has.
    pub events: u32,
    /// How many takes were made, not counting those that were replaced, nor those that were only
    /// written again.
    pub takes: u32,
    /// The last verdict on the whole.
    pub verdict: Option<Verdict>,
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
    /// What it says, in the form of today.
    #[serde(flatten)]
    pub body: Body,
    /// By which rule its hash is made.
    #[serde(skip)]
    pub rule: Rule,
    /// The take or tilt of which this one is only a copy, that an old program wrote again as left.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub copy_of: Option<Hash>,
    /// Hashes of the events that it follows: none for the first, one as a rule.
    pub parents: Vec<Hash>,
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
    /// Whether the record that it was read from has [other tables or
    /// triggers](Record::is_altered) than this program makes.
    pub altered: bool,
}

/// A job in a list, its chain checked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckedJob {
    /// In a few words.
    #[serde(flatten)]
    pub summary: JobSummary,
    /// What its last verdict speaks of.
    pub judged_at: Option<JudgedAt>,
    /// Events that a newer program wrote, which this one does not know.
    pub unknown: u32,
    /// Whether only simulated heads read it: practice.
    pub simulated: bool,
    /// Where and how its chain breaks; absent when it holds.
    pub broken: Option<Broken>,
}

impl JobHistory {
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

    /// The last verdict on the whole, in whatever state; none of a practice.
    pub fn last_judged(&self) -> Option<&Judged> {
        self.events.iter().rev().find_map(|event| match &event.body {
            Body::Judged(judged) if !judged.simulated => Some(judged),
            _ => None,
        })
    }

    /// The place of the event with this hash, from 1.
    pub fn place(&self, hash: Hash) -> Option<u32> {
        self.events.iter().find(|event| event.hash == hash).map(|event| event.seq)
    }

    /// How many of its events a newer program wrote, which this one does not know.
    pub fn unknown(&self) -> usize {
        self.events.iter().filter(|event| matches!(event.body, Body::Unknown(_))).count()
    }
}

impl Record {
    /// All jobs, the one last worked on first, as the record sums them up: their chains are not
    /// looked at.
    ///
    /// # Errors
    /// What reading can meet.
    pub fn jobs(&self) -> Result<Vec<JobSummary>, RecordError> {
        let mut jobs = JobRow::all(self)?
            .into_iter()
            .map(|row| self.summary(row))
            .collect::<Result<Vec<_>, _>>()?;
        jobs.sort_by(JobSummary::last_first);
        Ok(jobs)
    }

    /// All jobs, the one last worked on first, each gone through from its first event to its last.
    ///
    /// # Errors
    /// What reading can meet.
    pub fn jobs_checked(&self) -> Result<Vec<CheckedJob>, RecordError> {
        let reading =
            self.connection.unchecked_transaction().map_err(|error| self.sqlite(&error))?;
        let mut jobs = Vec::new();
        for row in JobRow::all(self)? {
            let history = self.history(row)?;
            let unknown = u32::try_from(history.unknown()).unwrap_or(u32::MAX);
            let simulated = history.heads() == Heads::Simulated;
            let judged_at = history.last_judged().and_then(|judged| judged.judged_at.clone());
            let (summary, broken) = (history.summary, history.broken);
            jobs.push(CheckedJob { summary, judged_at, unknown, simulated, broken });
        }
        drop(reading);
        jobs.sort_by(|a, b| a.summary.last_first(&b.summary));
        Ok(jobs)
    }

    /// One job with its events, by its name or its [identity](JobId), the chain checked on the way.
    /// A chain that breaks is no error here: the history ends there and says so.
    ///
    /// # Errors
    /// [`RecordError::NoSuchJob`], [`RecordError::NameShared`], and what reading can meet.
    pub fn job(&self, asked: &str) -> Result<JobHistory, RecordError> {
        // One transaction, so that an append in between does not show in the one and not in the
        // other.
        let reading =
            self.connection.unchecked_transaction().map_err(|error| self.sqlite(&error))?;
        let row = need(&reading, &self.path, asked)?;
        self.history(row)
    }

    fn history(&self, row: JobRow) -> Result<JobHistory, RecordError> {
        let Walked { events, broken } =
            Walked::job(&self.connection, row.job_id, (row.last_seq, row.last_hash));
        let job_id = row.job_id;
        let mut summary = self.summary(row)?;
        if broken.is_none() {
            // What a record of format 1 sums up counts copies as well.
            summary.takes = takes::count(&events);
            if !events.iter().any(|event| matches!(event.body, Body::Unknown(_))) {
                // Told from the events, not from the row that sums them up: that is held by no
                // hash.
                let sum = JobRow::of(job_id, &events);
                (summary.verdict, summary.closed) = (sum.verdict(), sum.closed);
            }
        }
        Ok(JobHistory { summary, events, broken, altered: self.is_altered() })
    }

    fn summary(&self, row: JobRow) -> Result<JobSummary, RecordError> {
        let damaged = |what: String| RecordError::Damaged {
            path: self.path.clone(),
            what: format!("job \"{}\": {what}", row.name),
        };
        let when =
            |text: &str| When::parse(text).map_err(|_| damaged(format!("\"{text}\" is no time")));
        let verdict = match &row.verdict {
            None => None,
            Some(word) => Some(
                Verdict::parse(word).ok_or_else(|| damaged(format!("\"{word}\" is no verdict")))?,
            ),
        };
        Ok(JobSummary {
            id: row.id,
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

impl JobSummary {
    /// The order of lists: the one last worked on first.
    fn last_first(&self, other: &Self) -> std::cmp::Ordering {
        other.last.moment().cmp(&self.last.moment()).then_with(|| self.name.cmp(&other.name))
    }
}
