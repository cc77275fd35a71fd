//! The firm's jobs in one place: sent, fetched, joined, read.

mod find;
mod join;
mod learn;
mod read;
mod send;

pub(super) use find::{Find, find};
pub(super) use join::{Join, join};
pub(super) use learn::{Learn, learn};
pub(super) use read::{list, one, show, verify};
pub(super) use send::{Fetch, Prepare, Send, fetch, prepare, send};

use anyhow::{Result, anyhow};
use skimgauge_firm::patience::{Real, insist};
use skimgauge_firm::{Address, Base, FirmError};
use skimgauge_record::carry::Store;
use skimgauge_record::chain::Hash;
use skimgauge_record::{JobId, RecordError};
use std::time::Duration;

/// How long what passes by itself is waited for, s, where nobody says.
const PATIENCE_S: u64 = 60;

// No documentation: it would stand in the place of the command's own on the screen.
#[allow(missing_docs, reason = "it would be shown as the command's own")]
#[derive(Debug, Clone, clap::Args)]
pub(super) struct Patience {
    /// How long to try again where the firm's jobs cannot be reached or take no more connections.
    #[arg(long, value_name = "SECONDS", default_value_t = PATIENCE_S)]
    wait: u64,
}

impl Patience {
    fn span(&self) -> Duration {
        Duration::from_secs(self.wait)
    }
}

impl Default for Patience {
    fn default() -> Self {
        Self { wait: PATIENCE_S }
    }
}

/// Opens the firm's jobs at the address that was given, or the one that is set up.
pub(super) fn open(given: Option<&str>, patience: &Patience) -> Result<Base> {
    let address = Address::find(given)?;
    say_how(&address);
    Ok(reach(&address, patience)?)
}

fn reach(address: &Address, patience: &Patience) -> Result<Base, FirmError> {
    let mut waiting = Waiting::new(address, patience);
    insist(&mut Real::default(), patience.span(), FirmError::passes, || {
        Base::open(address).inspect_err(|error| waiting.met(error.passes()))
    })
}

/// Says once that something is waited for, and for how long at the most.
struct Waiting<'a> {
    address: &'a Address,
    patience: &'a Patience,
    said: bool,
}

impl<'a> Waiting<'a> {
    fn new(address: &'a Address, patience: &'a Patience) -> Self {
        Self { address, patience, said: patience.wait == 0 }
    }

    /// An error was met; whether it passes by itself.
    fn met(&mut self, passes: bool) {
        if passes && !self.said {
            self.said = true;
            let (address, wait) = (self.address, self.patience.wait);
            eprintln!(
                "The firm's jobs at {address} do not answer: tried again for up to {wait} s."
            );
        }
    }
}

/// The job of the firm's that is meant.
///
/// # Errors
/// There is none, or several have the name; and what reading can meet.
fn meant(base: &mut Base, job: &str) -> Result<JobId> {
    base.meant(job).map_err(|error| match error {
        RecordError::NoSuchJob { name, close_by } => {
            let close_by: Vec<String> = close_by.iter().map(|near| format!("\"{near}\"")).collect();
            let near = if close_by.is_empty() {
                String::new()
            } else {
                format!(" Did you mean {}?", close_by.join(" or "))
            };
            anyhow!(
                "There is no job named \"{name}\" among those of the firm's that you may read.{near} `skimgauge jobs list --from \
                 URL` shows them."
            )
        }
        RecordError::NameShared { name, ids } => anyhow!(
            "More than one of the firm's jobs is named \"{name}\". Say which by its identity: {}.",
            ids.join(", ")
        ),
        other => other.into(),
    })
}

/// Says where TLS does not keep a connection to itself.
fn say_how(address: &Address) {
    if let Some(how) = address.without_tls() {
        eprintln!("The firm's jobs: {address}, {how}.");
    }
}

/// The end of a branch, as it was typed: its hash, whole or its first eight digits or more.
///
/// # Errors
/// It is none.
pub(in crate::command) fn branch_given(text: &str) -> Result<String, String> {
    let digits: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let fits = (8..=64).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_hexdigit());
    if fits {
        Ok(digits.to_ascii_lowercase())
    } else {
        Err("a branch is named by the first eight digits of its last event's hash, or more"
            .to_owned())
    }
}

/// Whether a branch ends where it was said.
fn is_meant(end: Hash, said: &str) -> bool {
    end.to_string().starts_with(said)
}
