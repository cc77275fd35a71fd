//! A zeroing on disk: what was read so far in a file of its own, new constants in the record.

use super::entry::{Store, Stored};
use crate::keeping::{Keeping, hash_of, open_record, stamp};
use crate::written::{ZEROING, sparing_record};
use anyhow::Context;
use skimgauge_metrology::budget::Budget;
use skimgauge_metrology::zero::{Checked, Session};
use skimgauge_model::Verdict;
use skimgauge_procedure::Entry;
use skimgauge_procedure::zero::{CheckedZero, Zeroed};
use skimgauge_quantity::Mm;
use skimgauge_record::event::{BudgetLine, Calibrated, Head, Sayer, ZeroChecked};
use skimgauge_record::{JobId, RecordError};
use skimgauge_session::HeadIs;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::message::CalibrationCheck;
use skimgauge_system::input;
use skimgauge_system::output::{Outputs, Replace};
use std::path::{Path, PathBuf};

/// Where a zeroing is kept.
pub struct PutAside {
    /// What was read so far. The record is spared.
    pub path: PathBuf,
    /// The record.
    pub record: PathBuf,
    /// Who zeroes.
    pub who: String,
    /// The job on whose board it is done, if that was said.
    pub job: Option<Keeping>,
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
            Entry::Zeroed(zeroed) => {
                let found = calibrated(zeroed)?;
                keep(&self.record, &self.who, found.clone())?;
                if let Some(job) = &mut self.job {
                    job.append(found)?;
                }
            }
            Entry::ZeroChecked(checked) => {
                if let Some(job) = &mut self.job {
                    job.append(zero_checked(checked)?)?;
                }
            }
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

fn value(constants: &Calibration) -> Result<serde_json::Value, RecordError> {
    serde_json::to_value(constants).map_err(|error| RecordError::BadEvent(error.to_string()))
}

fn calibrated(zeroed: &Zeroed) -> Result<Calibrated, RecordError> {
    Ok(Calibrated {
        head: head_of(&zeroed.head)?,
        before: Some(value(&zeroed.before)?),
        after: Some(value(&zeroed.after)?),
        reference: zeroed.reference.clone(),
        budget: zeroed.budget.as_ref().map_or_else(Vec::new, lines),
        seats: zeroed.seats_mm.iter().copied().map(Mm).collect(),
    })
}

fn zero_checked(checked: &CheckedZero) -> Result<ZeroChecked, RecordError> {
    let check = &checked.check;
    Ok(ZeroChecked {
        head: head_of(&checked.head)?,
        constants: value(&checked.head.calibration.calibration)?,
        reference: checked.reference.clone(),
        known: Mm(check.known_mm),
        error: Mm(check.error_mm),
        expanded_u: Mm(check.expanded_mm),
        verdict: match check.checked {
            Checked::StillGood => Verdict::Within,
            Checked::NotGood => Verdict::Outside,
            Checked::CannotTell => Verdict::Unsure,
        },
    })
}

/// The head's own history is a job of its own in the record.
fn keep(path: &Path, who: &str, found: Calibrated) -> Result<(), RecordError> {
    let mut record = open_record(path)?;
    let job = format!("head {}", found.head.serial);
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
    record.append(&id.to_string(), &stamp, found)?;
    Ok(())
}
