//! What is added to a job by hand: notes, files, its close.

use super::by::Who;
use super::{What, files};
use crate::jobs;
use crate::keeping::is_of;
use crate::report;
use crate::steps::{Named, undone_by_file};
use anyhow::{Context, Result};
use skimgauge_record::sign::Signer;
use skimgauge_record::{JobHistory, Record};
use skimgauge_steps::standings;
use skimgauge_steps::state::without_as_points;
use skimgauge_system::terminal::shown;
use std::io::Write;
use std::path::Path;

/// Adds to a job. Who it is comes first: an earlier format is brought up to date only for what is
/// added.
pub(super) fn add(
    what: &What,
    named: Option<&Path>,
    open: impl Fn() -> Result<Record>,
    read: impl Fn() -> Result<Record>,
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
            let kept = files::attach(&mut open()?, job, file, caption.as_deref(), &who.stamp)?;
            let (job, name) = (shown(job), shown(&who.name));
            writeln!(out, "Attached to \"{job}\" as event {}, by {name}.", kept.seq)?;
            write!(out, "{}", report::paragraph("", &kept.says))?;
        }
        What::Close { job, file, open_point, sign, passphrase_file, by } => {
            anyhow::ensure!(
                open_point.iter().all(|point| !point.trim().is_empty()),
                "--open-point is empty: say what is left to do, or leave it out. Nothing was kept."
            );
            let signer = sign
                .as_deref()
                .map(|key| files::signer(key, passphrase_file.as_deref()))
                .transpose()?;
            if let Some(file) = file {
                let history = read()?.job(job)?;
                looked_at(&Named::new(file, job, named), file, &history)?;
            }
            let who = by.of(job, read)?;
            let closed = close(&mut open()?, job, open_point, signer.as_ref(), &who, out)?;
            if closed && file.is_none() {
                let says = file_unseen(&Named::new(Path::new("FILE"), job, named));
                write!(out, "{}", report::paragraph("", &says))?;
            }
        }
        _ => {}
    }
    Ok(())
}

/// Said where the job file was not named.
fn file_unseen(named: &Named) -> String {
    format!(
        "Only the record was looked at, not the job file: what was changed there since may have undone a step that stands \
         here as done. `{}` looks at both, and closes nothing then.",
        named.typed().filled("jobs close {name} --job {job}")
    )
}

/// Nothing is closed while the job file has undone a step that the record has as done.
fn looked_at(named: &Named, file: &Path, history: &JobHistory) -> Result<()> {
    let (job, text) = jobs::read_early(file)?;
    is_of(history, &job, &text).context("Nothing was closed.")?;
    let words = undone_by_file(file, &job, &text, &history.events);
    anyhow::ensure!(
        words.is_empty(),
        "Nothing was closed: by this job file as it is now these are to be done again: {}. `{}` tells why. To close it \
         by what is in the record all the same, leave --job out.",
        words.join(", "),
        named.typed().next()
    );
    Ok(())
}

/// Closes a job, or signs one that is closed; whether it was closed now.
fn close(
    record: &mut Record,
    job: &str,
    open_points: &[String],
    signer: Option<&Signer>,
    who: &Who,
    out: &mut dyn Write,
) -> Result<bool> {
    let (stamp, name) = (&who.stamp, shown(&who.name));
    let history = record.job(job)?;
    match signer {
        Some(signer) if history.summary.closed && open_points.is_empty() => {
            record.sign(job, stamp, signer)?;
            writeln!(out, "Signed \"{}\" by {name}.", shown(job))?;
            Ok(false)
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
            Ok(true)
        }
    }
}
