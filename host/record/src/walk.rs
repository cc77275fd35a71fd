//! A job's events gone through in order, each checked against what it follows.

use std::collections::{HashMap, HashSet};

use rusqlite::Connection;
use serde::Serialize;

use crate::chain::{Hash, MOST_PARENTS, Parents, Row, Rule, link, link_by};
use crate::event::Body;
use crate::history::Event;
use crate::id::JobId;
use crate::order;
use crate::{RecordError, Stamp, When, limits};

/// The first place where a job's events don't follow from each other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Broken {
    /// Place of the first event that can't be trusted.
    pub seq: u32,
    /// What does not fit there.
    pub why: String,
}

/// An event's columns as a store holds them.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredRow {
    /// Its place in the job, from 1; each store counts its own.
    pub seq: u32,
    /// RFC 3339.
    pub at: String,
    /// The person.
    pub who: String,
    /// The program.
    pub software: String,
    /// What kind of event.
    pub kind: String,
    /// Version of the payload.
    pub version: u32,
    /// JSON.
    pub payload: String,
    /// By which [rule](crate::chain::Rule) its hash is made.
    pub rule: u32,
    /// The events that it follows.
    pub parents: Parents,
    /// Its hash.
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

    /// A new event, its hash by the rule of today. `parents` are in ascending order.
    ///
    /// # Errors
    /// [`RecordError::BadEvent`] where it is not what a record holds.
    pub fn made(
        seq: u32,
        stamp: &Stamp,
        body: &Body,
        parents: Vec<Hash>,
    ) -> Result<Self, RecordError> {
        let payload = body.payload()?;
        limits::check(body, &payload).map_err(RecordError::BadEvent)?;
        let mut row = Self {
            seq,
            at: stamp.at.to_string(),
            who: stamp.who.clone(),
            software: stamp.software.clone(),
            kind: body.kind().to_owned(),
            version: body.version(),
            payload,
            rule: Rule::Second.number(),
            parents: Parents(parents),
            hash: Hash::NONE,
        };
        row.hash = link(&row.parents.0, row.row());
        Ok(row)
    }

    /// What of it is hashed.
    pub fn row(&self) -> Row<'_> {
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
    pub fn is_whole(&self) -> bool {
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
        Self::settled(events, broken)
    }
}

impl Walked {
    /// Goes through rows of one job that stand in the order of their places, whichever store they
    /// are from.
    pub(crate) fn rows(rows: &[StoredRow]) -> Self {
        let mut walk = Walk::default();
        let mut events = Vec::with_capacity(rows.len());
        let mut broken = None;
        for stored in rows {
            match walk.step(stored) {
                Ok(event) => events.push(event),
                Err(found) => {
                    broken = Some(found);
                    break;
                }
            }
        }
        let broken = broken.or_else(|| walk.end((walk.seq(), walk.hash())));
        Self::settled(events, broken)
    }

    fn settled(mut events: Vec<Event>, broken: Option<Broken>) -> Self {
        crate::takes::mark_copies(&mut events);
        if broken.is_none() {
            order::settle(&mut events);
        }
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
    /// Those that close the job, and those that follow such a one.
    shut: HashSet<Hash>,
    times: HashMap<Hash, When>,
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
        let parents = stored.parents.0.as_slice();
        let shut = parents.iter().any(|parent| self.shut.contains(parent));
        may_stand(&body, shut).map_err(|why| broken(why.to_owned()))?;
        let at =
            When::parse(&stored.at).map_err(|_| broken(format!("\"{}\" is no time", stored.at)))?;
        // The clock that was set back is that of the machine that wrote what it follows.
        let before = parents.iter().filter_map(|parent| self.times.get(parent));
        let before = before.max_by_key(|when| when.moment()).copied();
        let clock_back_s = before.and_then(|before| at.seconds_before(before));
        if self.places.insert(stored.hash, place).is_some() {
            return Err(broken("it stands here twice".to_owned()));
        }
        for parent in &stored.parents.0 {
            self.ends.remove(parent);
        }
        self.ends.insert(stored.hash);
        self.hashes.push(stored.hash);
        if shut || body.closes() {
            self.shut.insert(stored.hash);
        }
        self.times.insert(stored.hash, at);
        self.rule = Some(rule);
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

/// Whether an event may stand where it does, `shut` where what it follows is closed; and says of its
/// job file what that is.
fn may_stand(body: &Body, shut: bool) -> Result<(), &'static str> {
    let file = |text: &str, sha256: Hash| Hash::of(text.as_bytes()) == sha256;
    let fits = match body {
        Body::JobOpened(opened) => file(&opened.job_file, opened.job_file_sha256),
        Body::JobRevised(revised) => file(&revised.job_file, revised.job_file_sha256),
        _ => true,
    };
    match body {
        _ if !fits => Err("the job file does not match its hash"),
        Body::Signed(_) | Body::Joined(_) | Body::Salvaged(_) | Body::Unknown(_) => Ok(()),
        _ if shut => Err("something follows the close that is no signature"),
        _ => Ok(()),
    }
}
