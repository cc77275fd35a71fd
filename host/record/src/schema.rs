//! The tables, and how a record made by an earlier version is brought up to date.
//!
//! `PRAGMA application_id` says that a file is a record, `PRAGMA user_version` which format it is
//! in. A later format is reached by one more step in [`STEPS`]; a step that changes a table makes
//! it anew and copies, so that a migrated record and a fresh one hold the same schema text, which
//! every opening compares before it asks any table anything.
//!
//! A record in an earlier format is read as it is, through views that look like the tables of today
//! ([`SHADOWS`]). Before it is written to it is brought up to date: in one transaction, after a
//! copy of the file as it was is on disk beside it.
//!
//! A new kind of event, or a new version of one, needs no new format ([`crate::event`] says why).

use std::path::Path;
use std::sync::OnceLock;

use rusqlite::{Connection, Transaction};

use crate::{RecordError, job_row};

/// Marks a file as a record: `SKMG` in ASCII.
pub const APPLICATION_ID: i64 = 0x534B_4D47;

/// How one format becomes the next.
#[derive(Clone, Copy)]
pub struct Step {
    /// What changes in the tables.
    sql: &'static str,
    /// What SQL alone cannot do.
    then: Option<fn(&Transaction<'_>) -> rusqlite::Result<()>>,
}

/// One step for each format: step `n` makes format `n + 1` out of format `n`.
///
/// Events and photos refuse to be changed or deleted. The `job` table sums up what its events say,
/// so that a list need not read them; `verify` computes it again. `seal` holds one row; its hash is
/// the last column of the last cell of the page, so that it lies in the last 32 bytes of that page
/// (see [`crate::seal`]).
///
/// Format 2: a job has an identity beside its name; an event has parents, one after another in one
/// column, and the rule by which its hash is made ([`crate::chain`]).
pub const STEPS: &[Step] =
    &[Step { sql: FORMAT_1, then: None }, Step { sql: FORMAT_2, then: Some(job_row::sum_up_all) }];

const FORMAT_1: &str = "
CREATE TABLE job (
    job_id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    opened_at TEXT NOT NULL,
    last_at TEXT NOT NULL,
    last_seq INTEGER NOT NULL,
    last_hash BLOB NOT NULL,
    takes INTEGER NOT NULL,
    verdict TEXT,
    closed INTEGER NOT NULL
) STRICT;
CREATE TABLE event (
    job_id INTEGER NOT NULL REFERENCES job (job_id),
    seq INTEGER NOT NULL,
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    software TEXT NOT NULL,
    kind TEXT NOT NULL,
    version INTEGER NOT NULL,
    payload TEXT NOT NULL,
    hash BLOB NOT NULL,
    PRIMARY KEY (job_id, seq)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER event_stays BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END;
CREATE TRIGGER event_keeps BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'an event is never deleted'); END;
CREATE TABLE photo (
    photo_id INTEGER PRIMARY KEY,
    sha256 BLOB NOT NULL UNIQUE,
    bytes BLOB NOT NULL
) STRICT;
CREATE TRIGGER photo_stays BEFORE UPDATE ON photo BEGIN SELECT RAISE(ABORT, 'a photo is never changed'); END;
CREATE TRIGGER photo_keeps BEFORE DELETE ON photo BEGIN SELECT RAISE(ABORT, 'a photo is never deleted'); END;
CREATE TABLE seal (
    seal_id INTEGER PRIMARY KEY,
    digest BLOB NOT NULL
) STRICT;
INSERT INTO seal VALUES (1, zeroblob(32));
";

const FORMAT_2: &str = "
DROP TRIGGER event_stays;
DROP TRIGGER event_keeps;
ALTER TABLE event RENAME TO event_1;
ALTER TABLE job RENAME TO job_1;
CREATE TABLE job (
    job_id INTEGER PRIMARY KEY,
    id BLOB NOT NULL,
    name TEXT NOT NULL,
    opened_at TEXT NOT NULL,
    last_at TEXT NOT NULL,
    last_seq INTEGER NOT NULL,
    last_hash BLOB NOT NULL,
    takes INTEGER NOT NULL,
    verdict TEXT,
    closed INTEGER NOT NULL
) STRICT;
CREATE INDEX job_by_id ON job (id);
CREATE INDEX job_by_name ON job (name);
CREATE TABLE event (
    job_id INTEGER NOT NULL REFERENCES job (job_id),
    seq INTEGER NOT NULL,
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    software TEXT NOT NULL,
    kind TEXT NOT NULL,
    version INTEGER NOT NULL,
    payload TEXT NOT NULL,
    rule INTEGER NOT NULL,
    parents BLOB NOT NULL,
    hash BLOB NOT NULL,
    PRIMARY KEY (job_id, seq)
) STRICT, WITHOUT ROWID;
INSERT INTO job
    SELECT job_id, coalesce((SELECT substr(hash, 1, 16) FROM event_1 WHERE event_1.job_id = job_1.job_id AND seq = 1), zeroblob(16)),
    name, opened_at, last_at, last_seq, last_hash, takes, verdict, closed FROM job_1;
INSERT INTO event
    SELECT job_id, seq, at, who, software, kind, version, payload, 1,
    coalesce((SELECT hash FROM event_1 AS before WHERE before.job_id = event_1.job_id AND before.seq = event_1.seq - 1), x''),
    hash FROM event_1;
DROP TABLE event_1;
DROP TABLE job_1;
CREATE TRIGGER event_stays BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END;
CREATE TRIGGER event_keeps BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'an event is never deleted'); END;
UPDATE seal SET digest = zeroblob(32);
";

/// For each earlier format, views that stand before its tables and look like those of today.
/// Temporary: the file is not touched.
pub const SHADOWS: &[&str] = &["
CREATE TEMP VIEW job AS
    SELECT job_id, coalesce((SELECT substr(hash, 1, 16) FROM main.event WHERE job_id = kept.job_id AND seq = 1), zeroblob(16)) AS id,
    name, opened_at, last_at, last_seq, last_hash, takes, verdict, closed FROM main.job AS kept;
CREATE TEMP VIEW event AS
    SELECT job_id, seq, at, who, software, kind, version, payload, 1 AS rule,
    coalesce((SELECT hash FROM main.event WHERE job_id = kept.job_id AND seq = kept.seq - 1), x'') AS parents,
    hash FROM main.event AS kept;
"];

/// The format that this program writes.
pub const VERSION: i64 = STEPS.len() as i64;

/// What a file turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// A database with nothing in it: a record whose making was interrupted, or an empty file.
    Empty,
    /// A record in the format that this program writes.
    Current,
    /// A record in an earlier format.
    Older(i64),
}

/// Looks at what a file is.
///
/// # Errors
/// [`RecordError::NotARecord`], [`RecordError::Newer`], or what SQLite reports.
pub fn identify(connection: &Connection, path: &Path) -> Result<Found, RecordError> {
    // One statement, so that all three are read from one state of the file.
    let (application, version, anything): (i64, i64, bool) = connection
        .query_row(
            "SELECT application_id, user_version, EXISTS (SELECT 1 FROM sqlite_schema) \
             FROM pragma_application_id, pragma_user_version",
            [],
            |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
        )
        .map_err(|error| RecordError::from_sqlite(path, &error))?;
    match (application, version) {
        (0, 0) if !anything => Ok(Found::Empty),
        (APPLICATION_ID, VERSION) => Ok(Found::Current),
        (APPLICATION_ID, 1..) if version < VERSION => Ok(Found::Older(version)),
        (APPLICATION_ID, found) if found > VERSION => {
            Err(RecordError::Newer { path: path.to_owned(), found, known: VERSION })
        }
        _ => Err(RecordError::NotARecord(path.to_owned())),
    }
}

/// Makes the tables in an empty file, or brings an earlier format up to date.
///
/// # Errors
/// What SQLite reports.
pub(crate) fn climb_from(transaction: &Transaction<'_>, from: i64) -> rusqlite::Result<()> {
    climb(transaction, STEPS, from)
}

fn climb(transaction: &Transaction<'_>, steps: &[Step], from: i64) -> rusqlite::Result<()> {
    for step in steps.iter().skip(usize::try_from(from).unwrap_or(usize::MAX)) {
        transaction.execute_batch(step.sql)?;
        if let Some(then) = step.then {
            then(transaction)?;
        }
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", steps.len() as i64)
}

/// Puts the views of today before the tables of an earlier format.
///
/// # Errors
/// What SQLite reports.
pub(crate) fn shadow(connection: &Connection, format: i64) -> rusqlite::Result<()> {
    let views = usize::try_from(format - 1).ok().and_then(|at| SHADOWS.get(at));
    views.map_or(Ok(()), |views| connection.execute_batch(views))
}

/// Refuses a file whose tables are not those of its format, before any of them is asked anything:
/// what stands there under a table's name could as well be a view that never ends. A file that is
/// to be written to must match word for word; one that is only read may have lost a trigger, or
/// gained something that is never asked.
///
/// # Errors
/// [`RecordError::Damaged`], or what SQLite reports.
pub(crate) fn check(
    connection: &Connection,
    path: &Path,
    format: i64,
    writes: bool,
) -> Result<(), RecordError> {
    let sqlite = |error: rusqlite::Error| RecordError::from_sqlite(path, &error);
    let found = texts(connection).map_err(sqlite)?;
    let expected = fresh_texts(format).map_err(sqlite)?;
    let is_table = |text: &&[Option<String>; 4]| text[0].as_deref() == Some("table");
    let fits = if writes {
        found == expected
    } else {
        expected.iter().filter(is_table).all(|table| found.contains(table))
    };
    let what =
        "its tables are not those that this program makes: something altered them".to_owned();
    if fits { Ok(()) } else { Err(RecordError::Damaged { path: path.to_owned(), what }) }
}

/// Whether every table, index and trigger is, word for word, what this program makes in that
/// format.
///
/// # Errors
/// What SQLite reports.
pub(crate) fn is_exact(connection: &Connection, format: i64) -> rusqlite::Result<bool> {
    Ok(texts(connection)? == fresh_texts(format)?)
}

/// Type, name, table and defining text of each table, index and trigger.
pub type Texts = Vec<[Option<String>; 4]>;

/// Every table, index and trigger with its defining text, in a fixed order.
///
/// # Errors
/// What SQLite reports.
pub fn texts(connection: &Connection) -> rusqlite::Result<Texts> {
    let mut statement = connection
        .prepare("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name")?;
    let rows =
        statement.query_map([], |row| Ok([row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?]))?;
    rows.collect()
}

/// [`texts`] of a fresh record in this format; made once a format.
///
/// # Errors
/// What SQLite reports; only for want of memory.
pub fn fresh_texts(format: i64) -> rusqlite::Result<Texts> {
    static MADE: [OnceLock<Texts>; STEPS.len() + 1] = [const { OnceLock::new() }; STEPS.len() + 1];
    let steps = usize::try_from(format).unwrap_or(0).min(STEPS.len());
    if let Some(made) = MADE[steps].get() {
        return Ok(made.clone());
    }
    let made = make_texts(steps)?;
    Ok(MADE[steps].get_or_init(|| made).clone())
}

fn make_texts(steps: usize) -> rusqlite::Result<Texts> {
    let mut connection = Connection::open_in_memory()?;
    let transaction = connection.transaction()?;
    climb(&transaction, &STEPS[..steps], 0)?;
    transaction.commit()?;
    texts(&connection)
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn step(sql: &'static str) -> Step {
        Step { sql, then: None }
    }

    const GROWN: &[Step] = &[
        step("CREATE TABLE a (x INTEGER) STRICT; INSERT INTO a VALUES (7);"),
        step(
            "ALTER TABLE a RENAME TO old; CREATE TABLE a (x INTEGER, y INTEGER) STRICT; INSERT INTO a SELECT x, 2 * x FROM old; DROP TABLE old;",
        ),
        step("CREATE TABLE b (z INTEGER) STRICT; INSERT INTO b SELECT y FROM a;"),
    ];

    fn made(steps: &[Step]) -> Connection {
        let mut connection = Connection::open_in_memory().unwrap();
        let transaction = connection.transaction().unwrap();
        climb(&transaction, steps, 0).unwrap();
        transaction.commit().unwrap();
        connection
    }

    #[test]
    fn every_earlier_format_climbs_to_the_last() {
        for from in 0..=GROWN.len() {
            let mut connection = made(&GROWN[..from]);
            let transaction = connection.transaction().unwrap();
            climb(&transaction, GROWN, from as i64).unwrap();
            transaction.commit().unwrap();
            let z: i64 = connection.query_row("SELECT z FROM b", [], |row| row.get(0)).unwrap();
            let version: i64 =
                connection.query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap();
            assert_eq!((z, version), (14, 3), "from {from}");
            assert_eq!(texts(&connection).unwrap(), texts(&made(GROWN)).unwrap());
        }
    }

    #[test]
    fn a_step_that_fails_leaves_all_as_it_was() {
        let mut connection = made(&GROWN[..1]);
        let before = texts(&connection).unwrap();
        let transaction = connection.transaction().unwrap();
        climb(
            &transaction,
            &[GROWN[0], GROWN[1], step("CREATE TABLE c (x NOSUCHTYPE) STRICT;")],
            1,
        )
        .unwrap_err();
        drop(transaction);
        let version: i64 =
            connection.query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap();
        assert_eq!(version, 1);
        assert_eq!(texts(&connection).unwrap(), before);
    }

    #[test]
    fn every_earlier_format_has_its_shadow() {
        assert_eq!(SHADOWS.len() as i64, VERSION - 1);
        for format in 1..VERSION {
            let connection = made(&STEPS[..format as usize]);
            check(&connection, Path::new("x"), format, true).unwrap();
            shadow(&connection, format).unwrap();
            for table in ["job", "event"] {
                let columns = |connection: &Connection| -> Vec<String> {
                    let query = connection.prepare(&format!("SELECT * FROM {table}")).unwrap();
                    query.column_names().map(str::to_owned).collect()
                };
                assert_eq!(
                    columns(&connection),
                    columns(&made(STEPS)),
                    "{table} of format {format}"
                );
            }
        }
    }

    #[test]
    fn tells_what_a_file_is() {
        let path = Path::new("some.sqlite");
        let connection = Connection::open_in_memory().unwrap();
        assert_eq!(identify(&connection, path).unwrap(), Found::Empty);
        connection.execute_batch("CREATE TABLE shopping (item TEXT)").unwrap();
        assert!(matches!(identify(&connection, path), Err(RecordError::NotARecord(_))));
        let connection = made(STEPS);
        assert_eq!(identify(&connection, path).unwrap(), Found::Current);
        connection.pragma_update(None, "user_version", VERSION + 1).unwrap();
        let refusal = identify(&connection, path).unwrap_err();
        assert!(matches!(refusal, RecordError::Newer { found, .. } if found == VERSION + 1));
        assert!(refusal.to_string().contains("newer version"));
        for broken in [0, -1] {
            connection.pragma_update(None, "user_version", broken).unwrap();
            assert!(matches!(identify(&connection, path), Err(RecordError::NotARecord(_))));
        }
    }
}
