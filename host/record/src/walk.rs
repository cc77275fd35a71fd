//! A job's events gone through in order, each checked against what it follows.

use std::collections::{HashMap, HashSet};

use rusqlite::Connection;
use serde::Serialize;

use crate::When;
use crate::chain::{Hash, MOST_PARENTS, Parents, Row, Rule, link_by};
use crate::event::Body;
use crate::history::Event;
use crate::id::JobId;

/// The first place where a job's events don't follow from each other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Broken {
    /// Place of the first event that can't be trusted.
    pub seq: u32,
    /// What does not fit there.
    pub why: String,
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
    pub rule: u32,
    pub parents: Parents,
    pub hash: Hash,
}

impl StoredRow {
    pub(crate) const COLUMNS: &str =
        "seq, at, who, software, kind, version, payload, rule, parents, hash";

    pub(crate) fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            seq: row.get(0)?,
            at: row.get(1)?,
            who: row.get(2)?,
            software: row.get(3)?,
            kind: row.get(4)?,
            version: row.get(5)?,
            payload: row.get(6)?,
            rule: row.get(7)?,
            parents: row.get(8)?,
            hash: row.get(9)?,
        })
    }

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

    /// Whether its hash is that of its own columns, whatever became of the events that it follows.
    pub(crate) fn is_whole(&self) -> bool {
        Rule::of(self.rule)
            .is_some_and(|rule| link_by(rule, &self.parents.0, self.row()) == self.hash)
    }
}

/// Goes through a job's events in order until `visit` finds a break.
pub(crate) fn walk_job(
    connection: &Connection,
    job_id: i64,
    mut visit: impl FnMut(StoredRow) -> Result<(), Broken>,
) -> rusqlite::Result<Option<Broken>> {
    let sql = format!("SELECT {} FROM event WHERE job_id = ?1 ORDER BY seq", StoredRow::COLUMNS);
    let mut query = connection.prepare_cached(&sql)?;
    let mut rows = query.query([job_id])?;
    while let Some(row) = rows.next()? {
        if let Err(broken) = visit(StoredRow::read(row)?) {
            return Ok(Some(broken));
        }
    }
    Ok(None)
}

/// A job's events that follow from each other, and where they cease to: also where a row cannot be
/// read.
#[derive(Debug, Default)]
pub(crate) struct Walked {
    pub events: Vec<Event>,
    pub broken: Option<Broken>,
}

impl Walked {
    /// Goes through a job; `last` is the place and hash of the event that was appended last.
    pub(crate) fn job(connection: &Connection, job_id: i64, last: (u32, Hash)) -> Self {
        let mut walk = Walk::default();
        let mut events = Vec::with_capacity(last.0.min(100_000) as usize);
        let broken = walk_job(connection, job_id, |stored| {
            events.push(walk.step(&stored)?);
            Ok(())
        });
        let broken =
            broken.unwrap_or_else(|error| Some(walk.unreadable(&error))).or_else(|| walk.end(last));
        crate::takes::mark_copies(&mut events);
        Self { events, broken }
    }
}

/// Where a walk along the chain has come to.
#[derive(Debug, Default)]
pub(crate) struct Walk {
    /// Hashes so far, by place.
    hashes: Vec<Hash>,
    places: HashMap<Hash, u32>,
    /// Those that nothing follows yet.
    ends: HashSet<Hash>,
    rule: Option<Rule>,
    closed: bool,
    last: Option<When>,
}

impl Walk {
    /// How many events follow from each other so far.
    pub(crate) fn seq(&self) -> u32 {
        u32::try_from(self.hashes.len()).unwrap_or(u32::MAX)
    }

    /// The last of them.
    pub(crate) fn hash(&self) -> Hash {
        self.hashes.last().copied().unwrap_or(Hash::NONE)
    }

    /// Takes one more event, if it follows.
    pub(crate) fn step(&mut self, stored: &StoredRow) -> Result<Event, Broken> {
        let place = self.seq().saturating_add(1);
        let broken = |why: String| Broken { seq: place, why };
        if stored.seq != place {
            return Err(broken(format!("event {place} is missing; the next is {}", stored.seq)));
        }
        let rule = self.follows(stored).map_err(|why| broken(why.to_owned()))?;
        if !stored.is_whole() {
            return Err(broken(format!(
                "event {place} (\"{}\", {}) does not match its hash",
                stored.kind, stored.at
            )));
        }
        let mut body = Body::read(&stored.kind, stored.version, &stored.payload, &self.hashes)
            .map_err(broken)?;
        if body.opens() != (place == 1) {
            return Err(broken("a job is opened once, by its first event".to_owned()));
        }
        if let Body::JobOpened(opened) = &mut body
            && opened.id == JobId::NONE
        {
            opened.id = JobId::of_first(stored.hash);
        }
        self.may_stand(&body).map_err(|why| broken(why.to_owned()))?;
        let at =
            When::parse(&stored.at).map_err(|_| broken(format!("\"{}\" is no time", stored.at)))?;
        let clock_back_s = self.last.and_then(|last| at.seconds_before(last));
        if self.places.insert(stored.hash, place).is_some() {
            return Err(broken("it stands here twice".to_owned()));
        }
        for parent in &stored.parents.0 {
            self.ends.remove(parent);
        }
        self.ends.insert(stored.hash);
        self.hashes.push(stored.hash);
        self.closed |= body.closes();
        (self.rule, self.last) = (Some(rule), Some(at));
        Ok(Event {
            seq: place,
            at,
            clock_back_s,
            who: stored.who.clone(),
            software: stored.software.clone(),
            body,
            rule,
            copy_of: None,
            parents: stored.parents.0.clone(),
            hash: stored.hash,
        })
    }

    /// Whether what the event says that it follows is what stands before it.
    fn follows(&self, stored: &StoredRow) -> Result<Rule, &'static str> {
        let rule = Rule::of(stored.rule)
            .ok_or("its hash is made by a rule that this program does not know")?;
        let parents = stored.parents.0.as_slice();
        let last: Vec<Hash> = self.hashes.last().copied().into_iter().collect();
        if rule == Rule::First {
            let fits = parents == last && self.rule != Some(Rule::Second);
            return if fits { Ok(rule) } else { Err("it does not follow the event before it") };
        }
        let ascending = parents.windows(2).all(|pair| pair[0] < pair[1]);
        if parents.is_empty() != self.hashes.is_empty()
            || parents.len() > MOST_PARENTS
            || !ascending
        {
            return Err("what it follows is not written as it should be");
        }
        if parents.iter().all(|parent| self.places.contains_key(parent)) {
            Ok(rule)
        } else {
            Err("what it follows does not stand before it")
        }
    }

    /// Whether an event may stand where it does, and says of its job file what that is.
    fn may_stand(&self, body: &Body) -> Result<(), &'static str> {
        let file = |text: &str, sha256: Hash| Hash::of(text.as_bytes()) == sha256;
        let fits = match body {
            Body::JobOpened(opened) => file(&opened.job_file, opened.job_file_sha256),
            Body::JobRevised(revised) => file(&revised.job_file, revised.job_file_sha256),
            _ => true,
        };
        match body {
            _ if !fits => Err("the job file does not match its hash"),
            Body::Signed(_) | Body::Salvaged(_) | Body::Unknown(_) => Ok(()),
            _ if self.closed => Err("something follows the close that is no signature"),
            _ => Ok(()),
        }
    }

    /// What is missing where the rows end; `last` is the place and hash of the event that was
    /// appended last.
    pub(crate) fn end(&self, last: (u32, Hash)) -> Option<Broken> {
        let at = |place: u32| Broken { seq: place.saturating_add(1), why: String::new() };
        if self.ends.len() > 1 {
            let loose =
                self.ends.iter().filter_map(|end| self.places.get(end)).min().copied().unwrap_or(0);
            return Some(Broken {
                why: format!("nothing follows event {loose}, and it is not the last"),
                ..at(loose)
            });
        }
        match (self.seq(), self.hash()) {
            found if found == last => None,
            (seq, _) if seq == last.0 => Some(Broken {
                seq,
                why: "the last event is not the one that was written last".to_owned(),
            }),
            (seq, _) => Some(Broken {
                why: format!("the job has {seq} events and should have {}", last.0),
                ..at(seq.min(last.0))
            }),
        }
    }

    /// The break where the next row can't be read.
    pub(crate) fn unreadable(&self, error: &rusqlite::Error) -> Broken {
        Broken { seq: self.seq().saturating_add(1), why: format!("it cannot be read ({error})") }
    }
}
