//! Which job it is, wherever it is carried: a random number of 128 bits. Its name is a label.

use std::fmt;

use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::RecordError;
use crate::chain::{Hash, hex};

/// Identity of a job. Shown and kept in JSON as 32 lower-case hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct JobId(pub [u8; 16]);

impl JobId {
    /// No job's.
    pub const NONE: Self = Self([0; 16]);

    /// A new one, from the system's own random numbers.
    ///
    /// # Errors
    /// [`RecordError::NoRandom`] when the system has none.
    pub fn random() -> Result<Self, RecordError> {
        let mut bytes = [0; 16];
        getrandom::fill(&mut bytes).map_err(|error| RecordError::NoRandom(error.to_string()))?;
        Ok(Self(bytes))
    }

    /// That of a job from before jobs had one: the first half of its first event's hash, so that it
    /// is the same wherever the job was carried.
    pub fn of_first(hash: Hash) -> Self {
        let mut bytes = [0; 16];
        bytes.copy_from_slice(&hash.0[..16]);
        Self(bytes)
    }

    /// Reads 32 hexadecimal digits.
    pub fn parse(text: &str) -> Option<Self> {
        hex(text).map(Self)
    }

    /// The first eight digits: enough for a person to tell two apart.
    pub fn short(&self) -> String {
        self.to_string()[..8].to_owned()
    }
}

impl fmt::Display for JobId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for JobId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl Serialize for JobId {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for JobId {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse(&text).ok_or_else(|| serde::de::Error::custom("expected 32 hexadecimal digits"))
    }
}

impl ToSql for JobId {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(ValueRef::Blob(&self.0)))
    }
}

impl FromSql for JobId {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let bytes = value.as_blob()?;
        let size = bytes.len();
        bytes
            .try_into()
            .map(Self)
            .map_err(|_| FromSqlError::InvalidBlobSize { expected_size: 16, blob_size: size })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comes_back_as_it_was_written_and_no_two_are_alike() {
        let (one, two) = (JobId::random().unwrap(), JobId::random().unwrap());
        assert_ne!(one, two);
        assert_eq!(JobId::parse(&one.to_string()), Some(one));
        assert_eq!(JobId::parse(&one.to_string().to_uppercase()), Some(one));
        for text in ["", "00", &"g".repeat(32), &"0".repeat(31), &"é".repeat(16)] {
            assert_eq!(JobId::parse(text), None, "{text}");
        }
        assert_eq!(JobId::of_first(Hash([7; 32])), JobId([7; 16]));
    }
}
