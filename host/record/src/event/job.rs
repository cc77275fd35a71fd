//! The job itself: opened, revised, noted in, closed, signed, saved.

use serde::{Deserialize, Serialize};
use skimgauge_model::Verdict;

use crate::chain::Hash;
use crate::id::JobId;

/// The job was opened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobOpened {
    /// Which job it is, wherever it is carried.
    pub id: JobId,
    /// Its name: a label, which two jobs may share.
    pub name: String,
    /// The job file's text, whole.
    pub job_file: String,
    /// Hash of that text.
    pub job_file_sha256: Hash,
}

/// The job file was changed in the course of the work.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobRevised {
    /// The job file's new text, whole.
    pub job_file: String,
    /// Hash of that text.
    pub job_file_sha256: Hash,
    /// What tells the one job file from the other so much that it might be another job, where the
    /// person said that it is the same job all the same. Empty otherwise.
    pub said_same: Vec<Difference>,
}

/// One thing in which a job file is another than the one before.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Difference {
    /// Which: `client`, `place`, `image`.
    pub what: String,
    /// As it was; absent when it was not said.
    pub was: Option<String>,
    /// As it is now.
    pub is: Option<String>,
}

/// What someone wanted to be kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Note {
    /// The text.
    pub text: String,
    /// The event it is about.
    pub about: Option<Hash>,
}

/// A photo or another file was attached; its bytes stand beside the events, under their hash.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PhotoAttached {
    /// Its file name.
    pub name: String,
    /// Its kind, as in `image/jpeg`.
    pub media_type: String,
    /// Length in bytes.
    pub bytes: u64,
    /// Hash of the bytes.
    pub sha256: Hash,
    /// What it shows.
    pub caption: Option<String>,
}

/// The job is done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Closed {
    /// The last verdict on the whole, if there was one.
    pub verdict: Option<Verdict>,
    /// What is left to do, in the closer's words.
    pub open_points: Vec<String>,
}

/// Someone put their signature under the closed job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signed {
    /// The event that was signed: the closing one.
    pub hash: Hash,
    /// The signer's public key, as OpenSSH writes it.
    pub public_key: String,
    /// The signature, in OpenSSH's armoured form.
    pub signature: String,
}

/// Branches of the job, made apart on two machines, are one from here on: this event follows the end
/// of each. A person put it here; a branch that was closed stays closed, and its signature holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Joined {
    /// Each branch, in the order of their ends' hashes.
    pub branches: Vec<JoinedBranch>,
}

/// One branch that was joined.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JoinedBranch {
    /// Hash of its last event.
    pub end: Hash,
    /// The machine that sent that event, as far as it was known where the branches were joined.
    pub laptop: Option<String>,
    /// When that event was written, RFC 3339.
    pub last_at: String,
}

/// An event that stood behind a break of the chain in a damaged record. Its own hash holds; what it
/// followed is lost, so that nobody can say whether it belongs here. It counts for nothing: not as
/// a take, not as a verdict, not as a close.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Salvaged {
    /// Its place in the damaged record.
    pub seq: u32,
    /// RFC 3339, as it stood.
    pub at: String,
    /// The person, as it stood.
    pub who: String,
    /// The program, as it stood.
    pub software: String,
    /// Its kind.
    pub kind: String,
    /// Version of its payload.
    pub version: u32,
    /// Its payload, as it stood.
    pub payload: String,
    /// By which rule its hash was made.
    pub rule: u32,
    /// Hashes of what it followed.
    pub parents: Vec<Hash>,
    /// Its hash.
    pub hash: Hash,
    /// Where the chain broke.
    pub broke_at: u32,
}
