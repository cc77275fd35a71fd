//! A zeroing on disk: what was read so far in a file of its own, new constants in the record.

use super::entry::{Store, Stored};
use crate::keeping::{hash_of, open_record, stamp};
use crate::written::{ZEROING, sparing_record};
use anyhow::Context;
use skimgauge_metrology::budget::Budget;
use skimgauge_metrology::zero::Session;
use skimgauge_procedure::Entry;
use skimgauge_procedure::zero::Zeroed;
use skimgauge_record::event::{BudgetLine, Calibrated, Head, Sayer};
use skimgauge_record::{JobId, RecordError};
use skimgauge_session::HeadIs;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::message::CalibrationCheck;
use skimgauge_system::input;
use skimgauge_system::output::{Outputs, Replace};
use std::path::{Path, PathBuf};

/// Where a zeroing is kept.
#[derive(Debug, Clone)]
pub struct PutAside {
    /// What was read so far. The record is spared.
    pub path: PathBuf,
    /// The record.
    pub record: PathBuf,
    /// Who zeroes.
    pub who: String,
}

/// What was put aside at this path, with what is said of the rig now; or `fresh`. Whether there was
/// something.
///
/// # Errors
/// What is there is no zeroing, or another head's; it cannot be read.
pub fn begin_or_go_on(path: &Path, fresh: Session) -> anyhow::Result<(Session, bool)> {
    let bytes = match input::read(path, input::ZEROING) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok((fresh, false)),
        Err(error) => {
            return Err(error).with_context(|| format!("{} cannot be read.", path.display()));
        }
    };
    let found: Session = serde_json::from_slice(&bytes).with_context(|| {
        format!(
            "{} is no zeroing that was put aside. Move it away, or name another with --session.",
            path.display()
        )
    })?;
    anyhow::ensure!(
        found.head == fresh.head,
        "{} is a zeroing of head {}, and this is head {}. Name another file with --session.",
        path.display(),
        found.head,
        fresh.head
    );
    // What is said of the gauge now holds for all that was read before it; where nothing is said, what
    // was said then.
    let gauge = fresh.gauge.or(found.gauge);
    let session = Session { gauge, seat_u_mm: fresh.seat_u_mm, ..found };
    Ok((session, true))
}

impl PutAside {
    fn write(&self, session: &Session) -> anyhow::Result<()> {
        if let Some(folder) = self.path.parent() {
            std::fs::create_dir_all(folder)
                .with_context(|| format!("{} cannot be made.", folder.display()))?;
        }
        // The program's own file, read as a zeroing before: it is written anew after every step.
        let mut outputs = sparing_record(Outputs::new(Replace::Asked), &self.record);
        Ok(outputs.write(&self.path, ZEROING, &serde_json::to_vec_pretty(session)?)?)
    }
}

impl Store for PutAside {
    fn store(&mut self, entry: &Entry, _: Option<&Sayer>) -> anyhow::Result<Option<Stored>> {
        match entry {
            Entry::Zeroing(session) => self.write(session)?,
            Entry::Zeroed(zeroed) => keep(&self.record, &self.who, zeroed)?,
            _ => (),
        }
        Ok(None)
    }
}

fn head_of(head: &HeadIs) -> Result<Head, RecordError> {
    let state = &head.calibration;
    let good = state.check == CalibrationCheck::Good;
    Ok(Head {
        serial: head.hello.serial.map_or_else(String::new, |serial| serial.to_string()),
        firmware: head.hello.firmware.to_string(),
        calibration_date: good.then(|| state.calibration.date.to_string()),
        calibration_sha256: Some(hash_of(&state.calibration)?),
    })
}

fn lines(budget: &Budget) -> Vec<BudgetLine> {
    let line = |entry: &skimgauge_metrology::budget::Entry| BudgetLine {
        source: entry.source.clone(),
        value: entry.stated,
        unit: budget.unit.clone(),
        distribution: entry.distribution.name().to_owned(),
        divisor: entry.distribution.divisor(),
        sensitivity: entry.sensitivity,
        contribution: entry.contribution(),
        dof: entry.dof,
        share: budget.share(entry),
    };
    budget.entries.iter().map(line).collect()
}

/// The head's own history is a job of its own in the record.
fn keep(path: &Path, who: &str, zeroed: &Zeroed) -> Result<(), RecordError> {
    let head = head_of(&zeroed.head)?;
    let mut record = open_record(path)?;
    let job = format!("head {}", head.serial);
    let stamp = stamp(who)?;
    let id = JobId::random()?;
    let id = match record.open_job(id, &job, "", &stamp) {
        Ok(_) => id,
        // Of several, read in from other records, the one last gone on with.
        Err(RecordError::JobExists(_)) => {
            record.jobs()?.into_iter().find(|known| known.name == job).map_or(id, |known| known.id)
        }
        Err(error) => return Err(error),
    };
    let value = |c: &Calibration| {
        serde_json::to_value(c).map_err(|error| RecordError::BadEvent(error.to_string()))
    };
    let body = Calibrated {
        head,
        before: Some(value(&zeroed.before)?),
        after: Some(value(&zeroed.after)?),
        reference: zeroed.reference.clone(),
        budget: zeroed.budget.as_ref().map_or_else(Vec::new, lines),
    };
    record.append(&id.to_string(), &stamp, body)?;
    Ok(())
}
