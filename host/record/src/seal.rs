//! A digest of the whole file, kept in the file.
//!
//! The chain covers what events say. The seal covers the rest as well, down to unused bytes:
//! SHA-256 over the whole file with three places taken as zero: the seal itself, which is the last
//! 32 bytes of the root page of the table `seal`, and the two counters in the header (bytes 24 to
//! 27 and 92 to 95) that SQLite raises by one when the seal is written; those two hold
//! the same number, which is checked instead. All zero means: not sealed. Closing a job and
//! exporting one seal the file; the next event takes the seal off.

use rusqlite::{Connection, MAIN_DB, OpenFlags, OptionalExtension, TransactionBehavior};
use sha2::{Digest as _, Sha256};

use crate::chain::Hash;
use crate::{Record, RecordError};

/// Where SQLite's file header counts changes, and where it repeats that count (SQLite file format,
/// 1.3).
const COUNTERS: [std::ops::Range<usize>; 2] = [24..28, 92..96];

/// Whether the whole file is as it was sealed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Seal {
    /// To the last bit.
    Holds,
    /// Something in the file is not as it was.
    Broken,
    /// Events were added since, or it never was.
    None,
    /// The file's tables are not those of a record, so that nothing was asked of them.
    Unchecked,
}

impl Record {
    /// Seals the file as it is now. Takes memory for the whole file while it does.
    ///
    /// # Errors
    /// What writing can meet; then the file is not sealed.
    pub fn seal(&mut self) -> Result<(), RecordError> {
        self.check_in_place()?;
        let path = self.path.clone();
        let sqlite = |error: rusqlite::Error| RecordError::from_sqlite(&path, &error);
        // Held from reading the file to writing the seal, so that no other process writes in
        // between.
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(sqlite)?;
        // A connection of its own: this one's cache need not hold what the disk does, where a page
        // was freed.
        let digest = Record::connect(&path, OpenFlags::SQLITE_OPEN_READ_ONLY)
            .and_then(|mut disk| digest_of(&mut disk.connection).map_err(sqlite))?;
        transaction.execute("UPDATE seal SET digest = ?1", [digest]).map_err(sqlite)?;
        transaction.commit().map_err(sqlite)
    }
}

/// The digest that the seal of this file should hold.
fn digest_of(connection: &mut Connection) -> rusqlite::Result<Hash> {
    let place = place(connection)?;
    let image = connection.serialize(MAIN_DB)?;
    Ok(digest(&image, place))
}

fn digest(image: &[u8], place: Option<std::ops::Range<usize>>) -> Hash {
    let mut blank: Vec<std::ops::Range<usize>> = COUNTERS.to_vec();
    blank.extend(place);
    blank.sort_by_key(|range| range.start);
    let mut hasher = Sha256::new();
    let mut from = 0;
    for range in blank {
        let range = range.start.min(image.len())..range.end.min(image.len());
        hasher.update(image.get(from..range.start).unwrap_or_default());
        hasher.update(vec![0; range.len()]);
        from = range.end;
    }
    hasher.update(image.get(from..).unwrap_or_default());
    Hash(hasher.finalize().into())
}

/// Where in the file the seal lies.
fn place(connection: &Connection) -> rusqlite::Result<Option<std::ops::Range<usize>>> {
    let page: Option<usize> = connection
        .query_row(
            "SELECT rootpage FROM sqlite_schema WHERE type = 'table' AND name = 'seal'",
            [],
            |row| row.get::<_, u32>(0).map(|page| page as usize),
        )
        .optional()?;
    let size: u32 = connection.query_row("PRAGMA page_size", [], |row| row.get(0))?;
    let end = page.and_then(|page| page.checked_mul(size as usize));
    Ok(end.and_then(|end| Some(end.checked_sub(32)?..end)))
}

/// Checks the seal of an open file; `file_bytes` is how long the file is.
///
/// # Errors
/// What SQLite reports.
pub(crate) fn check(connection: &mut Connection, file_bytes: u64) -> rusqlite::Result<Seal> {
    let rows: Vec<(i64, Vec<u8>)> = {
        let mut query = connection.prepare("SELECT seal_id, digest FROM seal")?;
        query
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
            .collect::<rusqlite::Result<_>>()?
    };
    let [(1, kept)] = rows.as_slice() else { return Ok(Seal::Broken) };
    let kept = kept.clone();
    let place = place(connection)?;
    let image = connection.serialize(MAIN_DB)?;
    let lies_there =
        place.clone().and_then(|place| image.get(place)).is_some_and(|bytes| bytes == kept);
    let [count, again] = COUNTERS.map(|range| image.get(range));
    if !lies_there || count != again || image.len() as u64 != file_bytes {
        return Ok(Seal::Broken);
    }
    Ok(match kept {
        kept if kept == [0; 32] => Seal::None,
        kept if kept == digest(&image, place).0 => Seal::Holds,
        _ => Seal::Broken,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::tests::take;
    use crate::photo::Photo;
    use crate::verify::verify;
    use crate::{JobId, Stamp, When};

    /// SQLite leaves a freed page's last content in memory and does not write it: the seal must be
    /// over what the disk holds.
    #[test]
    fn the_seal_holds_with_free_pages() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("record.sqlite");
        let stamp =
            Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "A. Fitter", "test")
                .unwrap();
        let mut record = Record::create(&path).unwrap();
        for round in 1..8_u8 {
            let job = format!("job {round}");
            record.open_job(JobId([round; 16]), &job, "x", &stamp).unwrap();
            for n in 0..6 {
                record.append(&job, &stamp, take("top", f64::from(n))).unwrap();
            }
            let photo =
                Photo { name: "x", media_type: "i", bytes: &[round; 50_000], caption: None };
            record.attach(&job, &stamp, photo).unwrap();
            // Pages that are written and freed by this very connection.
            let spare = "CREATE TABLE spare (x); INSERT INTO spare VALUES (randomblob(90000)); UPDATE spare SET x = randomblob(9)";
            record
                .connection
                .execute_batch(&format!("BEGIN; {spare}; DROP TABLE spare; COMMIT"))
                .unwrap();
            record.connection.execute_batch(&format!("{spare}; DROP TABLE spare")).unwrap();
            let free: i64 =
                record.connection.query_row("PRAGMA freelist_count", [], |row| row.get(0)).unwrap();
            assert!(free > 0, "no page is free: this test has lost its point");
            record.close(&job, &stamp, &[], None).unwrap();
            assert_eq!(verify(&path).unwrap().seal, Seal::Holds, "after close {round}");
        }
    }
}
