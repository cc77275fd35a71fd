//! Attached photos and other files: their bytes stand in the record once each, under their hash.

use rusqlite::OptionalExtension;

use crate::chain::Hash;
use crate::event::PhotoAttached;
use crate::{Appended, Record, RecordError, Stamp};

/// Largest attachment, bytes. The whole record is read at once when it is sealed and verified.
pub const LARGEST: usize = 64 << 20;

/// A photo to be attached.
#[derive(Debug, Clone, Copy)]
pub struct Photo<'a> {
    /// Its file name, without folders.
    pub name: &'a str,
    /// Its kind, as in `image/jpeg`.
    pub media_type: &'a str,
    /// Its bytes.
    pub bytes: &'a [u8],
    /// What it shows.
    pub caption: Option<&'a str>,
}

impl Record {
    /// Attaches a photo to a job: bytes and event in one transaction.
    ///
    /// # Errors
    /// [`RecordError::BadEvent`] when it is empty or larger than [`LARGEST`], and as
    /// [`Record::append`].
    pub fn attach(
        &mut self,
        job: &str,
        stamp: &Stamp,
        photo: Photo<'_>,
    ) -> Result<Appended, RecordError> {
        if photo.bytes.is_empty() || photo.bytes.len() > LARGEST {
            return Err(RecordError::BadEvent(format!(
                "\"{}\" has {} bytes; an attachment has 1 to {LARGEST} (64 MB): make it smaller first",
                photo.name,
                photo.bytes.len()
            )));
        }
        let sha256 = Hash::of(photo.bytes);
        let body = PhotoAttached {
            name: photo.name.to_owned(),
            media_type: photo.media_type.to_owned(),
            bytes: photo.bytes.len() as u64,
            sha256,
            caption: photo.caption.map(str::to_owned),
        };
        self.append_with(job, stamp, body, |transaction| {
            put_photo(transaction, sha256, photo.bytes)
        })
    }

    /// The bytes of an attached photo, checked against its hash; `None` when the record has none
    /// such.
    ///
    /// # Errors
    /// [`RecordError::Damaged`] when they don't match, and what reading can meet.
    pub fn photo(&self, sha256: Hash) -> Result<Option<Vec<u8>>, RecordError> {
        let bytes: Option<Vec<u8>> = self
            .connection
            .query_row("SELECT bytes FROM photo WHERE sha256 = ?1", [sha256], |row| row.get(0))
            .optional()
            .map_err(|error| self.sqlite(&error))?;
        match bytes {
            Some(bytes) if Hash::of(&bytes) != sha256 => Err(RecordError::Damaged {
                path: self.path.clone(),
                what: format!("the photo {} does not match its hash", sha256.short()),
            }),
            other => Ok(other),
        }
    }
}

/// Keeps the bytes unless they are there. Photo numbers count from 1 without a gap.
pub(crate) fn put_photo(
    connection: &rusqlite::Connection,
    sha256: Hash,
    bytes: &[u8],
) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT INTO photo SELECT (SELECT coalesce(max(photo_id), 0) + 1 FROM photo), ?1, ?2 \
             WHERE NOT EXISTS (SELECT 1 FROM photo WHERE sha256 = ?1)",
        )?
        .execute((sha256, bytes))
        .map(|_| ())
}
