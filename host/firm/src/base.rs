//! An open database, as a store of jobs.

use std::collections::HashSet;

use postgres::types::{ToSql, Type};
use postgres::{Client, Row};
use skimgauge_record::carry::{Lot, Store};
use skimgauge_record::chain::{Hash, Parents};
use skimgauge_record::{JobId, RecordError, StoredRow};

use crate::connect::connect;
use crate::put::{HASHES, Statements, put_events, put_summary};
use crate::summary::Summary;
use crate::{Address, FirmError, schema};

/// The oldest PostgreSQL that will do.
const OLDEST: i32 = 150_000;

/// What every connection asks of the server. Times, numbers and texts as the program writes them,
/// whatever the account has set; no question here is worth compiling. And nobody waits for the dead:
/// a laptop that went out of reach in the middle of a job leaves its half there, and whoever sends
/// that job again waits for it. Left to itself a server finds out after two hours; a slow upload is
/// no silence, so it is asked by the network and not by the statements.
const SETTINGS: &str = "SET timezone = 'UTC'; SET datestyle = 'ISO'; SET bytea_output = 'hex'; SET jit = off; \
    SET tcp_keepalives_idle = 10; SET tcp_keepalives_interval = 5; SET tcp_keepalives_count = 3; \
    SET tcp_user_timeout = '20s'; SET lock_timeout = '40s'";

/// Fewest digits by which a job's identity may be given.
const FEWEST_DIGITS: usize = 8;

/// A firm's jobs, open.
pub struct Base {
    pub(crate) client: Client,
    /// For people: user, server and database.
    pub(crate) place: String,
    /// The machine that this program runs on.
    laptop: String,
    step: i32,
    statements: Option<Statements>,
}

impl std::fmt::Debug for Base {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Base").field("place", &self.place).field("step", &self.step).finish()
    }
}

/// This machine's name.
pub fn laptop() -> String {
    let name = whoami::hostname().unwrap_or_default();
    let name: String = name.chars().filter(|c| !c.is_control()).take(100).collect();
    if name.trim().is_empty() { "not named".to_owned() } else { name }
}

impl Base {
    /// Opens the firm's jobs, to read and to send.
    ///
    /// # Errors
    /// [`FirmError::Unreachable`] and its like; [`FirmError::NotPrepared`], [`FirmError::Older`],
    /// [`FirmError::Unfit`]. Tables of a newer program are no error before something is sent.
    pub fn open(address: &Address) -> Result<Self, FirmError> {
        let mut base = Self::reach(address)?;
        base.step = schema::found(&mut base.client, &base.place)?;
        let place = base.place.clone();
        match base.step {
            0 => Err(FirmError::NotPrepared { place }),
            found if found < schema::KNOWN => {
                Err(FirmError::Older { place, found, known: schema::KNOWN })
            }
            _ => Ok(base),
        }
    }

    /// Makes the tables, or brings them up to date: the numbers of the steps that were taken.
    ///
    /// # Errors
    /// As [`Base::open`]; the account may not; [`FirmError::Newer`].
    pub fn prepare(address: &Address) -> Result<Vec<i32>, FirmError> {
        let mut base = Self::reach(address)?;
        schema::climb(&mut base.client, &base.place)
    }

    fn reach(address: &Address) -> Result<Self, FirmError> {
        let client = connect(address)?;
        let (place, laptop) = (address.to_string(), laptop());
        let mut base = Self { client, place, laptop, step: 0, statements: None };
        let about = base.one(
            "SELECT current_setting('server_version_num')::int, current_setting('server_encoding'), \
             current_setting('synchronous_commit') = 'off'",
            &[],
        )?;
        let (version, encoding, late): (i32, String, bool) =
            (about.get(0), about.get(1), about.get(2));
        let unfit = |why: String| Err(FirmError::Unfit { place: base.place.clone(), why });
        if version < OLDEST {
            return unfit(format!(
                "it is PostgreSQL {}, and 15 or later is needed",
                version / 10_000
            ));
        }
        if encoding != "UTF8" {
            return unfit(format!(
                "its texts are in {encoding}, and UTF8 is needed (createdb -E UTF8)"
            ));
        }
        if late {
            // What is told as sent is on the server's disk.
            base.batch("SET synchronous_commit = on")?;
        }
        base.batch(SETTINGS)?;
        Ok(base)
    }

    /// The name by which this machine is known in what it sends.
    #[must_use]
    pub fn as_laptop(mut self, name: &str) -> Self {
        name.clone_into(&mut self.laptop);
        self
    }

    /// Whether the tables are those of a newer program: then it reads, and sends nothing.
    ///
    /// # Errors
    /// [`FirmError::Newer`] where they are.
    pub fn may_send(&self) -> Result<(), FirmError> {
        if self.step > schema::KNOWN {
            let (place, found) = (self.place.clone(), self.step);
            return Err(FirmError::Newer { place, found, known: schema::KNOWN });
        }
        Ok(())
    }

    /// Whether this account may add to what is there: the office reads.
    ///
    /// # Errors
    /// [`FirmError::NotAllowed`] where it may not, and what reading can meet.
    pub fn may_add(&mut self) -> Result<(), FirmError> {
        let may = self.one("SELECT has_any_column_privilege('skimgauge.event', 'INSERT')", &[])?;
        if may.get(0) {
            return Ok(());
        }
        Err(FirmError::NotAllowed { place: self.place.clone(), why: "it reads".to_owned() })
    }

    pub(crate) fn query(
        &mut self,
        sql: &str,
        values: &[&(dyn ToSql + Sync)],
    ) -> Result<Vec<Row>, FirmError> {
        self.client.query(sql, values).map_err(|error| FirmError::of(&self.place, &error))
    }

    pub(crate) fn one(
        &mut self,
        sql: &str,
        values: &[&(dyn ToSql + Sync)],
    ) -> Result<Row, FirmError> {
        self.client.query_one(sql, values).map_err(|error| FirmError::of(&self.place, &error))
    }

    pub(crate) fn batch(&mut self, sql: &str) -> Result<(), FirmError> {
        self.client.batch_execute(sql).map_err(|error| FirmError::of(&self.place, &error))
    }

    /// Which machine sent each of a job's events, and when that was.
    ///
    /// # Errors
    /// What reading can meet.
    pub fn sent_by(&mut self, job: JobId) -> Result<Vec<(Hash, String, String)>, FirmError> {
        Ok(self.rows_sent(job)?.into_iter().map(|(row, by, at)| (row.hash, by, at)).collect())
    }

    /// The rows of one job as they stand.
    pub(crate) fn rows_of(&mut self, job: JobId) -> Result<Vec<StoredRow>, FirmError> {
        Ok(self.rows_sent(job)?.into_iter().map(|(row, ..)| row).collect())
    }

    /// The same, each with the machine that sent it and when that was: asked and answered at once.
    pub(crate) fn rows_sent(
        &mut self,
        job: JobId,
    ) -> Result<Vec<(StoredRow, String, String)>, FirmError> {
        let rows = self.client.query_typed(
            "SELECT hash, parents, rule, version, at, who, software, kind, payload, depth, laptop, \
             to_char(received, 'YYYY-MM-DD HH24:MI \"UTC\"') \
             FROM skimgauge.event WHERE job = $1 ORDER BY depth, hash",
            &[(&job.0.as_slice(), Type::BYTEA)],
        );
        let rows = rows.map_err(|error| FirmError::of(&self.place, &error))?;
        rows.iter().map(|row| Ok((stored(&self.place, row)?, row.get(10), row.get(11)))).collect()
    }

    fn send(&mut self, lot: &Lot) -> Result<u32, FirmError> {
        self.may_send()?;
        let (place, laptop) = (self.place.clone(), self.laptop.clone());
        let of = |error: postgres::Error| FirmError::of(&place, &error);
        let statements = self.statements()?;
        let known = self.hashes_of(lot.id)?;
        let is_new = |hash: &Hash| !known.contains(hash);
        if !lot.rows.iter().any(|row| is_new(&row.hash)) {
            return Ok(0);
        }
        let mut transaction = self.client.transaction().map_err(of)?;
        let sent = put_events(&mut transaction, &statements, lot.id, &lot.rows, is_new, &laptop);
        let sent = sent.map_err(of)?;
        if sent == 0 {
            // All of it is there, where this account may not see it: it adds nothing, and so reads
            // nothing.
            return transaction.rollback().map(|()| 0).map_err(of);
        }
        for branch in &lot.branches {
            let sum = Summary::of(branch);
            let end = branch.summary.head_hash;
            put_summary(&mut transaction, &statements, lot.id, end, &sum, &laptop).map_err(of)?;
        }
        for (sha256, bytes) in &lot.photos {
            transaction
                .execute(
                    "INSERT INTO skimgauge.photo (job, sha256, bytes) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING",
                    &[&lot.id.0.as_slice(), &sha256.0.as_slice(), bytes],
                )
                .map_err(of)?;
        }
        transaction.commit().map_err(of)?;
        Ok(u32::try_from(sent).unwrap_or(u32::MAX))
    }

    fn statements(&mut self) -> Result<Statements, FirmError> {
        if let Some(statements) = &self.statements {
            return Ok(statements.clone());
        }
        let made = Statements::of(&mut self.client);
        let made = made.map_err(|error| FirmError::of(&self.place, &error))?;
        Ok(self.statements.insert(made).clone())
    }

    fn hashes_of(&mut self, job: JobId) -> Result<HashSet<Hash>, FirmError> {
        let rows = match &self.statements {
            Some(statements) => self.client.query(&statements.hashes, &[&job.0.as_slice()]),
            None => self.client.query_typed(HASHES, &[(&job.0.as_slice(), Type::BYTEA)]),
        };
        let rows = rows.map_err(|error| FirmError::of(&self.place, &error))?;
        rows.iter().map(|row| hash(&self.place, row.get(0))).collect()
    }
}

pub(crate) fn hash(place: &str, bytes: &[u8]) -> Result<Hash, FirmError> {
    bytes.try_into().map(Hash).map_err(|_| damaged(place, "a hash is none"))
}

pub(crate) fn job_id(place: &str, bytes: &[u8]) -> Result<JobId, FirmError> {
    bytes.try_into().map(JobId).map_err(|_| damaged(place, "a job's identity is none"))
}

fn damaged(place: &str, what: &str) -> FirmError {
    FirmError::Damaged { place: place.to_owned(), what: what.to_owned() }
}

fn stored(place: &str, row: &Row) -> Result<StoredRow, FirmError> {
    let (rule, version, depth): (i32, i64, i32) = (row.get(2), row.get(3), row.get(9));
    let payload = String::from_utf8(row.get(8))
        .map_err(|_| damaged(place, "what an event says is no text"))?;
    let parents = Parents::of_bytes(row.get(1))
        .ok_or_else(|| damaged(place, "what an event follows is not written as it should be"))?;
    Ok(StoredRow {
        seq: u32::try_from(depth).unwrap_or(0).saturating_add(1),
        at: row.get(4),
        who: row.get(5),
        software: row.get(6),
        kind: row.get(7),
        version: u32::try_from(version).unwrap_or(u32::MAX),
        payload,
        rule: u32::try_from(rule).unwrap_or(0),
        parents,
        hash: hash(place, row.get(0))?,
    })
}

impl Store for Base {
    fn place(&self) -> String {
        self.place.clone()
    }

    fn ids(&mut self) -> Result<Vec<JobId>, RecordError> {
        let rows = self.query(
            "SELECT job FROM skimgauge.event WHERE octet_length(parents) = 0 ORDER BY job",
            &[],
        )?;
        let ids: Result<_, FirmError> =
            rows.iter().map(|row| job_id(&self.place, row.get(0))).collect();
        Ok(ids?)
    }

    fn meant(&mut self, asked: &str) -> Result<JobId, RecordError> {
        let begins = asked.to_ascii_lowercase();
        let digits = begins.len() >= FEWEST_DIGITS && begins.bytes().all(|b| b.is_ascii_hexdigit());
        let pattern = if digits { format!("{begins}%") } else { String::new() };
        let rows = self.query(
            "SELECT job, min(client), min(place), bool_or(name = $1) FROM skimgauge.branch \
             WHERE name = $1 OR encode(job, 'hex') LIKE $2 GROUP BY job ORDER BY job",
            &[&asked, &pattern],
        )?;
        let mut found = Vec::new();
        for row in &rows {
            let (client, place): (Option<String>, Option<String>) = (row.get(1), row.get(2));
            let said: Vec<String> = client.into_iter().chain(place).collect();
            let id = job_id(&self.place, row.get(0))?;
            let by_name: bool = row.get(3);
            found.push((
                id,
                by_name,
                if said.is_empty() {
                    id.to_string()
                } else {
                    format!("{id} ({})", said.join(", "))
                },
            ));
        }
        // A whole identity goes before a name, a name before the first digits of an identity.
        if let Some((id, ..)) = found.iter().find(|(id, ..)| id.to_string() == begins) {
            return Ok(*id);
        }
        let named: Vec<_> = found.iter().filter(|(_, by_name, _)| *by_name).collect();
        match (named.as_slice(), found.as_slice()) {
            ([(id, ..)], _) | ([], [(id, ..)]) => Ok(*id),
            ([], []) => {
                Err(RecordError::NoSuchJob { name: asked.to_owned(), close_by: self.near(asked)? })
            }
            _ => Err(RecordError::NameShared {
                name: asked.to_owned(),
                ids: found.into_iter().map(|(_, _, shown)| shown).collect(),
            }),
        }
    }

    fn hashes(&mut self, job: JobId) -> Result<HashSet<Hash>, RecordError> {
        Ok(self.hashes_of(job)?)
    }

    fn rows(&mut self, job: JobId) -> Result<Vec<StoredRow>, RecordError> {
        Ok(self.rows_of(job)?)
    }

    fn photo_of(&mut self, job: JobId, sha256: Hash) -> Result<Option<Vec<u8>>, RecordError> {
        let rows = self.query(
            "SELECT bytes FROM skimgauge.photo WHERE job = $1 AND sha256 = $2",
            &[&job.0.as_slice(), &sha256.0.as_slice()],
        )?;
        let Some(row) = rows.first() else { return Ok(None) };
        let bytes: Vec<u8> = row.get(0);
        if Hash::of(&bytes) != sha256 {
            let what = format!("the photo {} does not match its hash", sha256.short());
            return Err(FirmError::Damaged { place: self.place.clone(), what }.into());
        }
        Ok(Some(bytes))
    }

    fn put(&mut self, lot: &Lot) -> Result<u32, RecordError> {
        Ok(self.send(lot)?)
    }
}

impl Base {
    /// Names that resemble one.
    fn near(&mut self, asked: &str) -> Result<Vec<String>, FirmError> {
        let rows = self.query(
            "SELECT DISTINCT name FROM skimgauge.branch WHERE length($1) > 0 AND \
             (strpos(lower(name), lower($1)) > 0 OR strpos(lower($1), lower(name)) > 0) ORDER BY name LIMIT 3",
            &[&asked.trim()],
        )?;
        Ok(rows.iter().map(|row| row.get(0)).collect())
    }
}
