//! `jobs join`: branches of a job made one, by a person.

use super::super::By;
use super::send::open_to_send;
use super::{Patience, meant};
use anyhow::Result;
use skimgauge_quantity::counted;
use skimgauge_record::Record;
use skimgauge_record::carry::{self, Lot, Store, carry};
use skimgauge_system::terminal::shown;
use std::collections::HashMap;
use std::io::Write;

/// Join the branches of a job that was gone on with on two laptops apart.
///
/// All that was sent of it is fetched into this record, one entry more says that the branches are
/// one from here on, and that is sent. A branch that was closed stays closed and its signature
/// holds, so that the job is closed.
#[derive(Debug, Clone, clap::Args)]
pub(in super::super) struct Join {
    /// The job's name, or its identity where several have the name.
    job: String,
    /// The firm's jobs; without it the address that is set up.
    #[arg(long, value_name = "URL")]
    from: Option<String>,
    /// The name by which this machine is known there; its own name without it.
    #[arg(long, value_name = "NAME")]
    laptop: Option<String>,
    #[command(flatten)]
    by: By,
    #[command(flatten)]
    patience: Patience,
}

/// Joins branches.
///
/// # Errors
/// What either can meet; there is one branch only.
pub(in super::super) fn join(args: &Join, record: &mut Record, out: &mut dyn Write) -> Result<()> {
    let stamp = args.by.stamp()?;
    let mut base = open_to_send(args.from.as_deref(), args.laptop.as_deref(), &args.patience)?;
    let job = meant(&mut base, &args.job)?;
    // Before anything is written here.
    base.may_add()?;
    // What stands here and was not sent yet is a branch, too.
    let here = record.hashes(job)?;
    let new = if here.is_empty() { 0 } else { carry(record, &mut base, job, None)?.new_events };
    let lot: Lot = carry::lot(&mut base, job, None, &here)?;
    if lot.branches.len() == 1 && new > 0 {
        // Joined before, and cut on the way.
        writeln!(
            out,
            "\"{}\" has no branches apart: what was here alone is now at the firm, too.",
            shown(lot.name())
        )?;
        return Ok(());
    }
    let sent: HashMap<_, _> =
        base.sent_by(job)?.into_iter().map(|(hash, laptop, _)| (hash, laptop)).collect();
    let joined = record.join(&lot, &stamp, &|hash| sent.get(&hash).cloned())?;
    carry(record, &mut base, job, None)?;
    writeln!(
        out,
        "{} of \"{}\" are one from event {} on, here and at the firm.",
        counted(lot.branches.len(), "branch", "branches"),
        shown(lot.name()),
        joined.seq
    )?;
    Ok(())
}
