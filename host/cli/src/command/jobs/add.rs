//! What is added to a job by hand: notes, files, its close.

use super::by::Who;
use super::{What, files};
use crate::report;
use anyhow::Result;
use skimgauge_record::Record;
use skimgauge_record::sign::Signer;
use skimgauge_steps::standings;
use skimgauge_steps::state::without_as_points;
use skimgauge_system::terminal::shown;
use std::io::Write;

/// Adds to a job. Who it is comes first: an earlier format is brought up to date only for what is
/// added.
pub(super) fn add(
    what: &What,
    open: impl Fn() -> Result<Record>,
    read: impl FnOnce() -> Result<Record>,
    out: &mut dyn Write,
) -> Result<()> {
    match what {
        What::Note { job, text, by } => {
            let who = by.of(job, read)?;
            let seq = open()?.note(job, &who.stamp, text)?.seq;
            writeln!(out, "Noted in \"{}\" as event {seq}, by {}.", shown(job), shown(&who.name))?;
        }
        What::Attach { job, file, caption, by } => {
            let who = by.of(job, read)?;
            let seq = files::attach(&mut open()?, job, file, caption.as_deref(), &who.stamp)?;
            writeln!(
                out,
                "Attached to \"{}\" as event {seq}, by {}.",
                shown(job),
                shown(&who.name)
            )?;
        }
        What::Close { job, open_point, sign, passphrase_file, by } => {
            anyhow::ensure!(
                open_point.iter().all(|point| !point.trim().is_empty()),
                "--open-point is empty: say what is left to do, or leave it out. Nothing was kept."
            );
            let signer = sign
                .as_deref()
                .map(|key| files::signer(key, passphrase_file.as_deref()))
                .transpose()?;
            let who = by.of(job, read)?;
            close(&mut open()?, job, open_point, signer.as_ref(), &who, out)?;
        }
        _ => {}
    }
    Ok(())
}

fn close(
    record: &mut Record,
    job: &str,
    open_points: &[String],
    signer: Option<&Signer>,
    who: &Who,
    out: &mut dyn Write,
) -> Result<()> {
    let (stamp, name) = (&who.stamp, shown(&who.name));
    let history = record.job(job)?;
    match signer {
        Some(signer) if history.summary.closed && open_points.is_empty() => {
            record.sign(job, stamp, signer)?;
            writeln!(out, "Signed \"{}\" by {name}.", shown(job))?;
        }
        _ => {
            let without = without_as_points(&standings(&history.events));
            let points = [open_points, &without].concat();
            let closed = record.close(job, stamp, &points, signer)?;
            let signed = if signer.is_some() { " and signed" } else { "" };
            let (job, hash) = (shown(job), closed.hash);
            writeln!(out, "Closed{signed} \"{job}\" by {name}, with hash {hash}.")?;
            for point in without {
                write!(out, "{}", report::paragraph("", &format!("Kept with it: {point}.")))?;
            }
        }
    }
    Ok(())
}
