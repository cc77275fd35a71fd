//! Which bytes of an event are hashed, and how one event holds on to the one before it.
//!
//! An event's hash is SHA-256 (FIPS 180-4) over, in this order:
//!
//! | bytes | what |
//! | --- | --- |
//! | 19 | `skimgauge event 2` and two zero bytes: the domain, so that no other use of SHA-256 can collide with it |
//! | 8 | how many parents it has, unsigned, most significant byte first |
//! | 32, for each parent | the hashes of the events that it follows in the same job, in ascending order |
//! | 8 | the version of its payload, unsigned, most significant byte first |
//! | 8 + n, five times | length in bytes, likewise, then UTF-8 text: when, who, software, kind, payload |
//!
//! The first event of a job has no parent, every other has one; an event that joins two branches of
//! a job, made on two machines, has two. At most [`MOST_PARENTS`] are read. An event's place in the
//! job is not hashed: it counts the rows of one record, each event after its parents, and the last
//! event follows, through its parents, from every other.
//!
//! The texts are the very bytes that the row holds, so nothing has to be brought into a canonical
//! form first. The job's identity and its name are in the payload of its first event.
//!
//! # Events from format 1
//! Events that were written in record format 1 keep the hash that they had, and with it every
//! signature holds. The column `rule` is 1 for them, and their hash is over: `skimgauge event 1`
//! and two zero bytes; the hash of the event before it, 32 zero bytes for the first; its place in
//! the job (8 bytes, from 1); the version (8 bytes); the five texts as above. Such events stand in
//! a row at the beginning of a job; what is appended to it today follows by rule 2, with the last
//! of them as its parent.

use std::fmt;

use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest as _, Sha256};

const DOMAIN_1: &[u8; 19] = b"skimgauge event 1\0\0";
const DOMAIN_2: &[u8; 19] = b"skimgauge event 2\0\0";

/// Most parents that an event may have.
pub const MOST_PARENTS: usize = 8;

/// By which rule an event's hash is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// That of record format 1, which old events keep.
    First = 1,
    /// Today's.
    Second = 2,
}

impl Rule {
    /// As it stands in the record.
    pub fn number(self) -> u32 {
        self as u32
    }

    /// The rule of this number.
    pub fn of(number: u32) -> Option<Self> {
        [Self::First, Self::Second].into_iter().find(|rule| rule.number() == number)
    }
}

/// A SHA-256 hash. Shown and kept in JSON as 64 lower-case hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Hash(pub [u8; 32]);

impl Hash {
    /// What the first event of a job holds on to.
    pub const NONE: Self = Self([0; 32]);

    /// The hash of these bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// Reads 64 hexadecimal digits.
    pub fn parse(text: &str) -> Option<Self> {
        hex(text).map(Self)
    }

    /// The first eight digits: enough for a person to tell two apart.
    pub fn short(&self) -> String {
        self.to_string()[..8].to_owned()
    }
}

/// Reads two hexadecimal digits a byte.
pub(crate) fn hex<const N: usize>(text: &str) -> Option<[u8; N]> {
    let mut bytes = [0; N];
    if text.len() != 2 * N || !text.bytes().all(|digit| digit.is_ascii_hexdigit()) {
        return None;
    }
    for (byte, pair) in bytes.iter_mut().zip(text.as_bytes().chunks_exact(2)) {
        *byte = u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?;
    }
    Some(bytes)
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl Serialize for Hash {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Hash {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse(&text).ok_or_else(|| serde::de::Error::custom("expected 64 hexadecimal digits"))
    }
}

impl ToSql for Hash {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(ValueRef::Blob(&self.0)))
    }
}

impl FromSql for Hash {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let bytes = value.as_blob()?;
        bytes.try_into().map(Self).map_err(|_| FromSqlError::InvalidBlobSize {
            expected_size: 32,
            blob_size: bytes.len(),
        })
    }
}

/// An event's columns as they stand in the record, without its job and its hash.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row<'a> {
    /// Place in the job, from 1.
    pub seq: u32,
    /// RFC 3339.
    pub at: &'a str,
    /// The person.
    pub who: &'a str,
    /// The program.
    pub software: &'a str,
    /// What kind of event.
    pub kind: &'a str,
    /// Version of the payload.
    pub version: u32,
    /// JSON.
    pub payload: &'a str,
}

/// The hash of an event that follows these, by the rule of today. `parents` are in ascending order.
pub fn link(parents: &[Hash], row: Row<'_>) -> Hash {
    let mut hasher = Sha256::new();
    hasher.update(DOMAIN_2);
    hasher.update((parents.len() as u64).to_be_bytes());
    parents.iter().for_each(|parent| hasher.update(parent.0));
    hash_rest(hasher, row)
}

/// The hash of an event that follows the one whose hash is `before`, by the rule of record format
/// 1.
pub fn link_first(before: Hash, row: Row<'_>) -> Hash {
    let mut hasher = Sha256::new();
    hasher.update(DOMAIN_1);
    hasher.update(before.0);
    hasher.update(u64::from(row.seq).to_be_bytes());
    hash_rest(hasher, row)
}

fn hash_rest(mut hasher: Sha256, row: Row<'_>) -> Hash {
    hasher.update(u64::from(row.version).to_be_bytes());
    for text in [row.at, row.who, row.software, row.kind, row.payload] {
        hasher.update((text.len() as u64).to_be_bytes());
        hasher.update(text);
    }
    Hash(hasher.finalize().into())
}

/// The hash of an event with these parents, by this rule.
pub fn link_by(rule: Rule, parents: &[Hash], row: Row<'_>) -> Hash {
    match rule {
        Rule::First => link_first(parents.first().copied().unwrap_or(Hash::NONE), row),
        Rule::Second => link(parents, row),
    }
}

/// Parents as one column holds them: their bytes one after another.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Parents(pub Vec<Hash>);

impl ToSql for Parents {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::from(self.bytes()))
    }
}

impl FromSql for Parents {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        let bytes = value.as_blob()?;
        Self::of_bytes(bytes)
            .ok_or(FromSqlError::InvalidBlobSize { expected_size: 32, blob_size: bytes.len() })
    }
}

impl Parents {
    /// One after another, 32 bytes each.
    pub fn bytes(&self) -> Vec<u8> {
        self.0.iter().flat_map(|parent| parent.0).collect()
    }

    /// From their bytes; `None` where those are no whole hashes, or more than [`MOST_PARENTS`].
    pub fn of_bytes(bytes: &[u8]) -> Option<Self> {
        let (whole, rest) = bytes.as_chunks::<32>();
        let fits = rest.is_empty() && whole.len() <= MOST_PARENTS;
        fits.then(|| Self(whole.iter().map(|bytes| Hash(*bytes)).collect()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const ROW: Row<'_> = Row {
        seq: 2,
        at: "2026-11-25T09:14:03+01:00",
        who: "A. Fitter",
        software: "skimgauge 0.1.0",
        kind: "note",
        version: 1,
        payload: r#"{"text":"left anchor re-torqued"}"#,
    };

    #[test]
    fn the_hash_is_sha_256() {
        // FIPS 180-2 (2002), appendix B.1 and B.2, and the empty message of NIST's SHA test vectors
        // (SHA256ShortMsg.rsp, Len = 0); from memory.
        for (message, hash) in [
            ("abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
            (
                "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
                "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
            ),
            ("", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        ] {
            assert_eq!(Hash::of(message.as_bytes()).to_string(), hash);
            assert_eq!(Hash::parse(hash), Some(Hash::of(message.as_bytes())));
        }
        // FIPS 180-2, appendix B.3: a million times "a"; from memory.
        assert_eq!(
            Hash::of(&vec![b'a'; 1_000_000]).to_string(),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"
        );
    }

    fn texts() -> Vec<u8> {
        let mut bytes = Vec::new();
        for text in [ROW.at, ROW.who, ROW.software, ROW.kind, ROW.payload] {
            bytes.extend([0, 0, 0, 0, 0, 0, 0, u8::try_from(text.len()).unwrap()]);
            bytes.extend(text.bytes());
        }
        bytes
    }

    #[test]
    fn the_bytes_are_those_documented() {
        for parents in [vec![], vec![Hash([0x11; 32])], vec![Hash([0x11; 32]), Hash([0x12; 32])]] {
            let mut bytes = b"skimgauge event 2\0\0".to_vec();
            bytes.extend([0, 0, 0, 0, 0, 0, 0, u8::try_from(parents.len()).unwrap()]);
            parents.iter().for_each(|parent| bytes.extend(parent.0));
            bytes.extend([0, 0, 0, 0, 0, 0, 0, 1]);
            bytes.extend(texts());
            assert_eq!(link(&parents, ROW), Hash::of(&bytes));
        }
    }

    #[test]
    fn the_bytes_of_format_1_are_those_documented() {
        let mut bytes = b"skimgauge event 1\0\0".to_vec();
        bytes.extend([0x11; 32]);
        bytes.extend([0, 0, 0, 0, 0, 0, 0, 2, 0, 0, 0, 0, 0, 0, 0, 1]);
        bytes.extend(texts());
        assert_eq!(link_by(Rule::First, &[Hash([0x11; 32])], ROW), Hash::of(&bytes));
    }

    #[test]
    fn refuses_what_is_not_a_hash() {
        for text in [
            "",
            "00",
            &"0".repeat(63),
            &"g".repeat(64),
            &"é".repeat(32),
            &format!("+{}", "0".repeat(63)),
        ] {
            assert_eq!(Hash::parse(text), None, "{text}");
        }
    }

    proptest! {
        /// Text that moves from one column to the next, or a parent more or less, gives another hash.
        #[test]
        fn no_two_rows_share_their_bytes(who in ".{0,8}", software in ".{0,8}", cut in 0usize..16, one in 0usize..3, two in 0usize..3) {
            let joined: Vec<char> = who.chars().chain(software.chars()).collect();
            let cut = cut.min(joined.len());
            let (left, right): (String, String) = (joined[..cut].iter().collect(), joined[cut..].iter().collect());
            let parents = [Hash([1; 32]), Hash([2; 32])];
            let first = link(&parents[..one], Row { who: &who, software: &software, ..ROW });
            let second = link(&parents[..two], Row { who: &left, software: &right, ..ROW });
            prop_assert_eq!(first == second, one == two && left == who);
            prop_assert_ne!(first, link_first(Hash::NONE, Row { who: &who, software: &software, ..ROW }));
        }
    }
}
