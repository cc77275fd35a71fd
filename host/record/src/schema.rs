//! The tables, and how a record made by an earlier version is brought up to date.
//!
//! `PRAGMA application_id` says that a file is a record, `PRAGMA user_version` which format it is in. A later format is
//! reached by one more step in [`STEPS`]; a step that changes a table makes it anew and copies, so that a migrated record
//! and a fresh one hold the same schema text, which [`crate::verify`] compares.

use std::path::Path;

use rusqlite::{Connection, Transaction, TransactionBehavior};

use crate::RecordError;

/// Marks a file as a record: `SKMG` in ASCII.
pub const APPLICATION_ID: i64 = 0x534B_4D47;

/// One step for each format: step `n` makes format `n + 1` out of format `n`.
///
/// Events and photos refuse to be changed or deleted. The `job` table sums up what its events say, so that a list need not
/// read them; `verify` computes it again. `seal` holds one row; its hash is the last column of the last cell of the page, so
/// that it lies in the last 32 bytes of that page (see [`crate::seal`]).
pub const STEPS: &[&str] = &["
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

/// Makes the tables in an empty file, or brings an earlier format up to date: in one transaction, so that a killed
/// process leaves the one or the other.
///
/// # Errors
/// As [`identify`], and what SQLite reports; then the file is as it was.
pub fn bring_up_to_date(connection: &mut Connection, path: &Path) -> Result<(), RecordError> {
    if identify(connection, path)? == Found::Current {
        return Ok(());
    }
    let sqlite = |error: rusqlite::Error| RecordError::from_sqlite(path, &error);
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(sqlite)?;
    // Another process may have done it while this one waited.
    let from = match identify(&transaction, path)? {
        Found::Current => return Ok(()),
        Found::Empty => 0,
        Found::Older(version) => version,
    };
    climb(&transaction, STEPS, from).map_err(sqlite)?;
    transaction.commit().map_err(sqlite)
}

fn climb(transaction: &Transaction<'_>, steps: &[&str], from: i64) -> rusqlite::Result<()> {
    for step in steps.iter().skip(usize::try_from(from).unwrap_or(usize::MAX)) {
        transaction.execute_batch(step)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", steps.len() as i64)
}

/// Every table, index and trigger with its defining text, in a fixed order.
///
/// # Errors
/// What SQLite reports.
pub fn texts(connection: &Connection) -> rusqlite::Result<Vec<[Option<String>; 4]>> {
    let mut statement =
        connection.prepare("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name")?;
    let rows = statement.query_map([], |row| Ok([row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?]))?;
    rows.collect()
}

/// [`texts`] of a fresh record.
///
/// # Errors
/// What SQLite reports; only for want of memory.
pub fn fresh_texts() -> rusqlite::Result<Vec<[Option<String>; 4]>> {
    let mut connection = Connection::open_in_memory()?;
    let transaction = connection.transaction()?;
    climb(&transaction, STEPS, 0)?;
    transaction.commit()?;
    texts(&connection)
}

#[cfg(test)]
mod tests {
    use super::*;

    const GROWN: &[&str] = &[
        "CREATE TABLE a (x INTEGER) STRICT; INSERT INTO a VALUES (7);",
        "ALTER TABLE a RENAME TO old; CREATE TABLE a (x INTEGER, y INTEGER) STRICT; INSERT INTO a SELECT x, 2 * x FROM old; DROP TABLE old;",
        "CREATE TABLE b (z INTEGER) STRICT; INSERT INTO b SELECT y FROM a;",
    ];

    fn made(steps: &[&str]) -> Connection {
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
            let version: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap();
            assert_eq!((z, version), (14, 3), "from {from}");
            assert_eq!(texts(&connection).unwrap(), texts(&made(GROWN)).unwrap());
        }
    }

    #[test]
    fn a_step_that_fails_leaves_all_as_it_was() {
        let mut connection = made(&GROWN[..1]);
        let before = texts(&connection).unwrap();
        let transaction = connection.transaction().unwrap();
        climb(&transaction, &[GROWN[0], GROWN[1], "CREATE TABLE c (x NOSUCHTYPE) STRICT;"], 1).unwrap_err();
        drop(transaction);
        let version: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap();
        assert_eq!(version, 1);
        assert_eq!(texts(&connection).unwrap(), before);
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
