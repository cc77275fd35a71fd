//! `jobs prepare`, `jobs send`, `jobs fetch`.

use super::{Patience, Waiting, branch_given, is_meant, meant, open, reach, say_how};
use anyhow::{Result, bail};
use skimgauge_firm::found::Wanted;
use skimgauge_firm::patience::{Real, insist};
use skimgauge_firm::{Address, Base, FirmError};
use skimgauge_quantity::count;
use skimgauge_record::carry::{Store, carry};
use skimgauge_record::portable::Carried;
use skimgauge_record::{JobId, Record, RecordError};
use skimgauge_system::terminal::shown;
use std::io::Write;

/// Make the tables for a firm's jobs in a PostgreSQL database, or bring them up to date.
#[derive(Debug, Clone, clap::Args)]
pub(in super::super) struct Prepare {
    /// The database: `postgresql://USER@HOST/DATABASE`. Without it the address that is set up.
    #[arg(long, value_name = "URL")]
    to: Option<String>,
}

/// Makes the tables.
///
/// # Errors
/// What the database can meet.
pub(in super::super) fn prepare(args: &Prepare, out: &mut dyn Write) -> Result<()> {
    let address = Address::find(args.to.as_deref())?;
    say_how(&address);
    let taken = Base::prepare(&address)?;
    if taken.is_empty() {
        writeln!(out, "{address} has the tables for jobs already.")?;
    } else {
        writeln!(
            out,
            "{address} is ready for jobs. Crews come in with users of the role skimgauge_crew (they add and read their own), the \
             office with users of skimgauge_office (it reads all)."
        )?;
    }
    Ok(())
}

/// Send jobs to the firm's: what is new there, once.
#[derive(Debug, Clone, clap::Args)]
pub(in super::super) struct Send {
    /// The jobs, by name or identity; all of the record's without one.
    #[arg(value_name = "JOB")]
    jobs: Vec<String>,
    /// The firm's jobs: `postgresql://USER@HOST/DATABASE`, without a password (that is read from
    /// ~/.pgpass). Without it the address that is set up.
    #[arg(long, value_name = "URL")]
    to: Option<String>,
    /// The name by which this machine is known there; its own name without it.
    #[arg(long, value_name = "NAME")]
    laptop: Option<String>,
    #[command(flatten)]
    patience: Patience,
}

/// A way to the firm's jobs that is opened again when it was cut.
struct Way<'a> {
    address: &'a Address,
    laptop: Option<&'a str>,
    base: Option<Base>,
}

impl Way<'_> {
    fn open(&mut self) -> Result<&mut Base, FirmError> {
        let base = match self.base.take() {
            Some(base) => base,
            None => {
                let base = Base::open(self.address)?;
                base.may_send()?;
                match self.laptop {
                    Some(name) => base.as_laptop(name),
                    None => base,
                }
            }
        };
        Ok(self.base.insert(base))
    }

    fn carry(&mut self, record: &mut Record, job: JobId) -> Result<Carried, RecordError> {
        let done =
            self.open().map_err(RecordError::from).and_then(|base| carry(record, base, job, None));
        if done.as_ref().is_err_and(passes) {
            self.base = None;
        }
        done
    }
}

fn passes(error: &RecordError) -> bool {
    FirmError::within(error).is_some_and(FirmError::passes)
}

/// Sends jobs. Each is there as a whole or not at all; one that cannot be sent keeps no other back.
///
/// # Errors
/// The firm's jobs cannot be reached, or some jobs could not be sent.
pub(in super::super) fn send(args: &Send, record: &mut Record, out: &mut dyn Write) -> Result<()> {
    let address = Address::find(args.to.as_deref())?;
    say_how(&address);
    let jobs = match args.jobs.as_slice() {
        [] => record.ids()?,
        asked => asked.iter().map(|job| record.meant(job)).collect::<Result<_, _>>()?,
    };
    let mut way = Way { address: &address, laptop: args.laptop.as_deref(), base: None };
    let mut world = Real::default();
    let mut waiting = Waiting::new(&address, &args.patience);
    insist(&mut world, args.patience.span(), FirmError::passes, || {
        way.open().map(|_| ()).inspect_err(|error| waiting.met(error.passes()))
    })?;
    let mut kept_back = 0;
    for job in &jobs {
        let sent = insist(&mut world, args.patience.span(), passes, || {
            way.carry(record, *job).inspect_err(|error| waiting.met(passes(error)))
        });
        match sent {
            Ok(carried) => {
                say_carried(&carried, "sent", out)?;
                // What was sent stands on the screen before the next is on its way.
                out.flush()?;
                let base = insist(&mut world, args.patience.span(), FirmError::passes, || {
                    let lines = way.open()?.lines(&Wanted { job: Some(*job), ..Wanted::default() });
                    if lines.is_err() {
                        way.base = None;
                    }
                    lines
                })?;
                if base.len() > 1 {
                    writeln!(out, "  This job was gone on with apart; both branches are kept:")?;
                    for line in &base {
                        let (end, branch) = (line.end.short(), line.branch());
                        writeln!(out, "    {end}  {}", shown(&branch))?;
                    }
                    writeln!(out, "  `skimgauge jobs join` makes them one.")?;
                }
            }
            Err(error) => {
                let whole = FirmError::within(&error)
                    .is_some_and(|error| !matches!(error, FirmError::Refused { .. }));
                if whole {
                    return Err(error.into());
                }
                kept_back += 1;
                eprintln!("{}", shown(&error.to_string()));
            }
        }
    }
    if kept_back > 0 {
        let were = if kept_back == 1 { "was" } else { "were" };
        bail!("{kept_back} of {} {were} not sent; the others are.", count(jobs.len(), "job"));
    }
    Ok(())
}

fn say_carried(carried: &Carried, done: &str, out: &mut dyn Write) -> std::io::Result<()> {
    let name = shown(&carried.job);
    match carried.new_events {
        0 => writeln!(out, "\"{name}\": all of it is there already."),
        n => writeln!(out, "\"{name}\": {} {done}.", count(n, "event")),
    }
}

/// Fetch a job of the firm's into this record.
#[derive(Debug, Clone, clap::Args)]
pub(in super::super) struct Fetch {
    /// The job's name, or its identity where several have the name.
    job: String,
    /// The firm's jobs; without it the address that is set up.
    #[arg(long, value_name = "URL")]
    from: Option<String>,
    /// Where the job was gone on with apart: which branch, by the first digits of its last event's
    /// hash.
    #[arg(long, value_name = "HASH", value_parser = branch_given)]
    branch: Option<String>,
    #[command(flatten)]
    patience: Patience,
}

/// Fetches a job. A record holds one branch of it: of several, the one that it has already or the
/// one that is said.
///
/// # Errors
/// What either can meet; the job has branches, and none is said.
pub(in super::super) fn fetch(
    args: &Fetch,
    record: &mut Record,
    out: &mut dyn Write,
) -> Result<()> {
    let mut base = open(args.from.as_deref(), &args.patience)?;
    let job = meant(&mut base, &args.job)?;
    let branches = base.branches(job)?;
    let here = record.hashes(job)?;
    let end = |at: usize| branches[at].history.summary.head_hash;
    let wanted: Vec<usize> = match &args.branch {
        Some(said) => (0..branches.len()).filter(|at| is_meant(end(*at), said)).collect(),
        None if branches.len() == 1 => vec![0],
        // The one that is gone on with here, as far as it was sent.
        None => {
            let own = |at: &usize| !here.is_empty() && here.contains(&end(*at));
            (0..branches.len()).filter(own).collect()
        }
    };
    let [at] = wanted.as_slice() else {
        let list: Vec<String> =
            branches.iter().map(|branch| format!("one {}", branch.name())).collect();
        bail!(
            "The job \"{}\" was gone on with apart, and a record holds one branch of it: {}. Say which with --branch HASH; \
             `skimgauge jobs join` makes them one.",
            args.job,
            list.join("; ")
        );
    };
    let carried = match carry(&mut base, record, job, Some(end(*at))) {
        Err(RecordError::PartWays { .. }) => bail!(
            "The job \"{}\" was gone on with here and there apart. Nothing was changed. Send it: both branches are kept. Then \
             `skimgauge jobs join` makes them one.",
            args.job
        ),
        other => other?,
    };
    say_carried(&carried, "fetched", out)?;
    if branches.len() > 1 {
        for (_, other) in branches.iter().enumerate().filter(|(other, _)| other != at) {
            writeln!(out, "  Not fetched: the branch {}.", shown(&other.name()))?;
        }
    }
    Ok(())
}

/// Opens the firm's jobs to send.
pub(super) fn open_to_send(
    given: Option<&str>,
    laptop: Option<&str>,
    patience: &Patience,
) -> Result<Base> {
    let address = Address::find(given)?;
    say_how(&address);
    let base = reach(&address, patience)?;
    base.may_send()?;
    Ok(match laptop {
        Some(name) => base.as_laptop(name),
        None => base,
    })
}
