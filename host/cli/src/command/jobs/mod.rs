//! `jobs`: the job file to begin with, and everything about the record.

mod add;
mod by;
mod carried;
mod check;
mod files;
mod firm;
mod list;
mod new;
mod show;
mod told;

use crate::keeping::{self, record_path};
use crate::lengths::Lengths;
use crate::outcome::{Ended, Outcome};
use add::add;
use anyhow::{Result, bail};
use by::By;
use carried::carried;
use clap::{Subcommand, ValueEnum};
pub(super) use firm::branch_given;
use skimgauge_firm::found::Wanted;
use skimgauge_record::carry::Store;
use skimgauge_record::salvage::salvage;
use skimgauge_record::{JobHistory, JobId, Record, table};
use skimgauge_system::terminal::{Shown, shown};
use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// The job file to begin with, and everything about the record.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The record, where it is not in its usual place.
    #[arg(long, value_name = "FILE", global = true)]
    record: Option<PathBuf>,
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Write a commented job file to begin with.
    New(new::New),
    /// List the jobs, the last worked on first.
    List {
        /// One JSON object for each job, a line each.
        #[arg(long)]
        json: bool,
        /// Those of the firm at this address; `firm` for the one that is set up.
        #[arg(long, value_name = "URL", conflicts_with = "record")]
        from: Option<String>,
    },
    /// Show one job: takes, turns, verdicts, notes.
    ///
    /// Exit status 1: its record is damaged.
    Show {
        /// The job's name, or its identity where two have the name.
        job: String,
        /// As something that programs read.
        #[arg(long = "as", value_name = "FORM", value_enum)]
        form: Option<Form>,
        /// Of the firm's jobs at this address; `firm` for the one that is set up.
        #[arg(long, value_name = "URL", conflicts_with = "record")]
        from: Option<String>,
        /// Where the job was gone on with apart: which branch, by the first digits of its last
        /// event's hash.
        #[arg(long, value_name = "HASH", requires = "from", value_parser = firm::branch_given)]
        branch: Option<String>,
    },
    /// Add a note to a job.
    Note {
        /// The job's name.
        job: String,
        /// The note.
        text: String,
        #[command(flatten)]
        by: By,
    },
    /// Attach a photo or another file to a job.
    Attach {
        /// The job's name.
        job: String,
        /// The file.
        file: PathBuf,
        /// What it shows.
        #[arg(long, value_name = "TEXT")]
        caption: Option<String>,
        #[command(flatten)]
        by: By,
    },
    /// Write one job to a file of its own: `.json`, `.csv` (takes), or any other ending for one
    /// that `import` reads.
    Export {
        /// The job's name, and the file to write; nothing that is there is overwritten.
        #[arg(num_args = 2, value_names = ["JOB", "FILE"], required_unless_present = "salvage", conflicts_with = "salvage")]
        words: Vec<String>,
        /// Save what still holds of a damaged record into this new one; what is whole behind a
        /// break is marked as such.
        #[arg(long, value_name = "FILE")]
        salvage: Option<PathBuf>,
        /// With --salvage: who does this; the account's name without it.
        #[arg(long = "by", value_name = "NAME", requires = "salvage")]
        by: Option<String>,
    },
    /// Read in the jobs of a file that `export` wrote.
    Import {
        /// The file.
        file: PathBuf,
    },
    /// Check a record to the last bit, and name what is wrong.
    ///
    /// Exit status: 0 sound as far as asked, 1 broken or not what was asked for, 2 it cannot be
    /// read.
    Verify {
        /// The file; without it, the record.
        file: Option<PathBuf>,
        /// The firm's jobs at this address, as far as you may read them; `firm` for the one that
        /// is set up.
        #[arg(long, value_name = "URL", conflicts_with_all = ["record", "file", "key", "fingerprint"])]
        from: Option<String>,
        /// A public key: every job must be closed and bear its signature; with --fingerprint, that
        /// one job.
        #[arg(long, value_name = "FILE")]
        key: Option<PathBuf>,
        /// The fingerprint that is printed on a job's page: the record must have that job, as it
        /// was when the page was made.
        #[arg(long, value_name = "HASH", value_parser = check::fingerprint_given)]
        fingerprint: Option<skimgauge_record::chain::Hash>,
        /// The report as JSON.
        #[arg(long)]
        json: bool,
    },
    /// Make the tables for a firm's jobs in a PostgreSQL database, or bring them up to date.
    Prepare(firm::Prepare),
    /// Send jobs to the firm's: what is new there, once.
    Send(firm::Send),
    /// Fetch a job of the firm's into this record.
    Fetch(firm::Fetch),
    /// Join the branches of a job that was gone on with on two laptops apart.
    Join(firm::Join),
    /// Find jobs of the firm's by client, place, head, emitter, day or verdict.
    Find(firm::Find),
    /// Learn from the firm's jobs: adjusters, heads, seats, time, faults.
    Learn(firm::Learn),
    /// Close a job: from then on it takes nothing but signatures.
    ///
    /// It is closed by what the record knows. With --job the job file is looked at too: where it was
    /// changed since and so undid a step, nothing is closed.
    Close {
        /// The job's name.
        job: String,
        /// Its job file, looked at before.
        #[arg(long = "job", value_name = "FILE")]
        file: Option<PathBuf>,
        /// Something left to do; may be given more than once.
        #[arg(long, value_name = "TEXT")]
        open_point: Vec<String>,
        /// Sign it with this OpenSSH private key (ed25519); also a job that is closed already.
        #[arg(long, value_name = "KEY FILE")]
        sign: Option<PathBuf>,
        /// A file whose first line is the key's passphrase.
        #[arg(long, value_name = "FILE", requires = "sign")]
        passphrase_file: Option<PathBuf>,
        #[command(flatten)]
        by: By,
    },
}

/// What `show` writes for programs.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum Form {
    /// The whole job as one JSON object.
    Json,
    /// Its takes as CSV.
    Takes,
    /// All its events as CSV.
    Events,
}

/// Does what was asked. `verify` that finds something wrong ends as [`Ended::Outside`].
///
/// # Errors
/// A sentence for the person who asked.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let mut out = BufWriter::new(output(&args.what));
    let done = obey(&args, units, &mut out).and_then(|ended| {
        out.flush()?;
        Ok(ended)
    });
    match done {
        // Whoever reads has enough, as in `skimgauge jobs list | head`.
        Err(error)
            if error
                .downcast_ref::<io::Error>()
                .is_some_and(|e| e.kind() == io::ErrorKind::BrokenPipe) =>
        {
            Ok(Ended::Well)
        }
        Err(error)
            if error.chain().len() == 1
                && (error.is::<io::Error>() || error.is::<serde_json::Error>()) =>
        {
            Err(error.context("The output cannot be written."))
        }
        done => done,
    }
}

/// Standard output, as what is written there may be shown: a table that does not go to a terminal
/// goes as it is.
fn output(what: &What) -> Box<dyn Write> {
    let out = io::stdout();
    match what {
        What::List { json: true, .. }
        | What::Show { form: Some(Form::Json), .. }
        | What::Verify { json: true, .. } => Box::new(Shown::json(out)),
        What::Learn(args) if args.is_json() => Box::new(Shown::json(out)),
        What::Learn(args) if args.is_table() && !out.is_terminal() => Box::new(out),
        What::Find(args) if args.is_json() => Box::new(Shown::json(out)),
        What::Show { form: Some(Form::Takes | Form::Events), .. } if !out.is_terminal() => {
            Box::new(out)
        }
        _ => Box::new(Shown::text(out)),
    }
}

fn obey(args: &Args, units: Lengths, out: &mut dyn Write) -> Outcome {
    let path = || record_path(args.record.as_deref());
    let open = || -> Result<Record> {
        let record = Record::open(&path()?)?;
        keeping::say_moved_on(&record);
        Ok(record)
    };
    let open_read_only = || -> Result<Record> { Ok(Record::open_read_only(&path()?)?) };
    match &args.what {
        What::New(new) => new::run(new.clone(), out)?,
        What::List { json, from: Some(from) } => {
            let mut base = firm::open(Some(from), &firm::Patience::default())?;
            let lines = base.lines(&Wanted::default())?;
            firm::list(&base, &lines, *json, out)?;
        }
        What::List { json, from: None } => {
            let record = open_read_only()?;
            if record.is_altered() {
                eprintln!("{}", show::ALTERED);
            }
            list::list(&record.jobs_checked()?, &[], *json, out)?;
        }
        What::Show { job, form, from: Some(from), branch } => {
            let mut base = firm::open(Some(from), &firm::Patience::default())?;
            return firm::show(&mut base, job, branch.as_deref(), *form, units.style(), out);
        }
        What::Show { job, form, from: None, .. } => {
            let history = open_read_only()?.job(job)?;
            match form {
                None => show::show(&history, units.style(), out)?,
                Some(Form::Json) => table::write_json(&history, out)?,
                Some(Form::Takes) => table::write_takes(&history, out)?,
                Some(Form::Events) => table::write_events(&history, out)?,
            }
            if history.broken.is_some() {
                return Ok(Ended::Outside);
            }
        }
        What::Note { .. } | What::Attach { .. } | What::Close { .. } => {
            add(&args.what, args.record.as_deref(), open, open_read_only, out)?;
        }
        What::Export { words, salvage: None, .. } => {
            let [job, file] = words.as_slice() else {
                bail!("Say which job, and which file to write it to.")
            };
            files::export(&open_read_only()?, job, Path::new(file))?;
            writeln!(out, "\"{}\" is in {}.", shown(job), shown(file))?;
        }
        What::Export { salvage: Some(to), by, .. } => {
            let stamp = By { name: by.clone() }.stamp()?;
            let saved = salvage(&path()?, to, &stamp, JobId::random);
            carried(&saved.map_err(|error| check::unreadable(error, ""))?, out)?;
            writeln!(
                out,
                "What holds is in {}. The damaged record was left as it is.",
                to.display()
            )?;
        }
        What::Import { file } => carried(&keeping::open_record(&path()?)?.import(file)?, out)?,
        What::Prepare(args) => firm::prepare(args, out)?,
        What::Send(args) => firm::send(args, &mut open_read_only()?, out)?,
        What::Fetch(args) => firm::fetch(args, &mut keeping::open_record(&path()?)?, out)?,
        What::Join(args) => firm::join(args, &mut keeping::open_record(&path()?)?, out)?,
        What::Find(args) => firm::find(args, &open_read_only, units.style(), out)?,
        What::Learn(args) => firm::learn(args, units.style(), out)?,
        What::Verify { from: Some(from), json, .. } => {
            let mut base = firm::open(Some(from), &firm::Patience::default())?;
            return firm::verify(&mut base, *json, out);
        }
        What::Verify { file, key, fingerprint, json, from: None } => {
            let file = file.clone().map_or_else(path, Ok)?;
            let asked = check::Asked { key: key.as_deref(), fingerprint: *fingerprint };
            return check::run(&file, &asked, *json, out);
        }
    }
    Ok(Ended::Well)
}

/// A job of the firm's and what holds its photos, for the handover.
///
/// # Errors
/// What reading can meet; the job has branches, and none is said.
pub(super) fn from_firm(
    from: &str,
    job: &str,
    branch: Option<&str>,
) -> Result<(Box<dyn Store>, JobHistory)> {
    let mut base = firm::open(Some(from), &firm::Patience::default())?;
    let (_, branch) = firm::one(&mut base, job, branch)?;
    Ok((Box::new(base), branch.history))
}
