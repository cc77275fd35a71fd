//! `jobs`: the job file to begin with, and everything about the record.

mod check;
mod show;

use crate::keeping::{self, record_path};
use crate::lengths::Lengths;
use crate::outcome::{Ended, Outcome};
use crate::written;
use anyhow::{Context, Result, bail};
use clap::{Subcommand, ValueEnum};
pub use show::plain;
use skimgauge_record::photo::{LARGEST, Photo};
use skimgauge_record::portable::{Carried, salvage};
use skimgauge_record::sign::Signer;
use skimgauge_record::{Record, Stamp, table};
use skimgauge_system::input;
use skimgauge_system::output::{Outputs, Replace};
use skimgauge_system::terminal::Shown;
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
    New {
        /// Where to; nothing that is there is overwritten.
        file: PathBuf,
    },
    /// List the jobs, the last worked on first.
    List {
        /// One JSON object for each job, a line each.
        #[arg(long)]
        json: bool,
    },
    /// Show one job: takes, turns, verdicts, notes.
    Show {
        /// The job's name.
        job: String,
        /// As something that programs read.
        #[arg(long = "as", value_name = "FORM", value_enum)]
        form: Option<Form>,
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
    /// Write one job to a file of its own: `.json`, `.csv` (takes), or any other ending for one that `import` reads.
    Export {
        /// The job's name, and the file to write; nothing that is there is overwritten.
        #[arg(num_args = 2, value_names = ["JOB", "FILE"], required_unless_present = "salvage", conflicts_with = "salvage")]
        words: Vec<String>,
        /// Save what still holds of a damaged record into this new one.
        #[arg(long, value_name = "FILE")]
        salvage: Option<PathBuf>,
    },
    /// Read in the jobs of a file that `export` wrote.
    Import {
        /// The file.
        file: PathBuf,
    },
    /// Check a record to the last bit, and name what is wrong.
    Verify {
        /// The file; without it, the record.
        file: Option<PathBuf>,
        /// A public key whose signature every closed job must bear.
        #[arg(long, value_name = "FILE")]
        key: Option<PathBuf>,
        /// The report as JSON.
        #[arg(long)]
        json: bool,
    },
    /// Close a job: from then on it takes nothing but signatures.
    Close {
        /// The job's name.
        job: String,
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

#[derive(Debug, clap::Args)]
struct By {
    /// Who does this; the account's name without it.
    #[arg(long = "by", value_name = "NAME")]
    name: Option<String>,
}

/// Does what was asked. `verify` that finds something wrong ends as [`Ended::Outside`].
///
/// # Errors
/// A sentence for the person who asked.
pub fn run(args: Args, units: Lengths) -> Outcome {
    let mut out = BufWriter::new(shown(&args.what));
    let done = obey(&args, units, &mut out).and_then(|ended| {
        out.flush()?;
        Ok(ended)
    });
    match done {
        // Whoever reads has enough, as in `skimgauge jobs list | head`.
        Err(error) if error.downcast_ref::<io::Error>().is_some_and(|e| e.kind() == io::ErrorKind::BrokenPipe) => {
            Ok(Ended::Well)
        }
        Err(error) if error.chain().len() == 1 && (error.is::<io::Error>() || error.is::<serde_json::Error>()) => {
            Err(error.context("The output cannot be written."))
        }
        done => done,
    }
}

/// Standard output, as what is written there may be shown: a table that does not go to a terminal goes as it is.
fn shown(what: &What) -> Box<dyn Write> {
    let out = io::stdout();
    match what {
        What::List { json: true } | What::Show { form: Some(Form::Json), .. } | What::Verify { json: true, .. } => {
            Box::new(Shown::json(out))
        }
        What::Show { form: Some(Form::Takes | Form::Events), .. } if !out.is_terminal() => Box::new(out),
        _ => Box::new(Shown::text(out)),
    }
}

fn obey(args: &Args, units: Lengths, out: &mut dyn Write) -> Outcome {
    let path = || record_path(args.record.as_deref());
    let open = || -> Result<Record> { Ok(Record::open(&path()?)?) };
    let open_read_only = || -> Result<Record> { Ok(Record::open_read_only(&path()?)?) };
    match &args.what {
        What::New { file } => new(file, out)?,
        What::List { json } => show::list(&open_read_only()?.jobs()?, *json, out)?,
        What::Show { job, form } => {
            let history = open_read_only()?.job(job)?;
            match form {
                None => show::show(&history, units, out)?,
                Some(Form::Json) => table::write_json(&history, out)?,
                Some(Form::Takes) => table::write_takes(&history, out)?,
                Some(Form::Events) => table::write_events(&history, out)?,
            }
        }
        What::Note { job, text, by } => {
            let noted = open()?.note(job, &by.stamp()?, text)?;
            writeln!(out, "Noted in \"{}\" as event {}.", plain(job), noted.seq)?;
        }
        What::Attach { job, file, caption, by } => {
            let seq = attach(&mut open()?, job, file, caption.as_deref(), &by.stamp()?)?;
            writeln!(out, "Attached to \"{}\" as event {seq}.", plain(job))?;
        }
        What::Export { words, salvage: None } => {
            let [job, file] = words.as_slice() else { bail!("Say which job, and which file to write it to.") };
            export(&open_read_only()?, job, Path::new(file))?;
            writeln!(out, "\"{}\" is in {file}.", plain(job))?;
        }
        What::Export { salvage: Some(to), .. } => {
            carried(&salvage(&path()?, to)?, out)?;
            writeln!(out, "What holds is in {}. The damaged record was left as it is.", to.display())?;
        }
        What::Import { file } => carried(&Record::open_or_create(&path()?)?.import(file)?, out)?,
        What::Verify { file, key, json } => {
            let file = file.clone().map_or_else(path, Ok)?;
            return check::run(&file, key.as_deref(), *json, out);
        }
        What::Close { job, open_point, sign, passphrase_file, by } => {
            let signer = sign.as_deref().map(|key| signer(key, passphrase_file.as_deref())).transpose()?;
            close(&mut open()?, job, open_point, signer.as_ref(), &by.stamp()?, out)?;
        }
    }
    Ok(Ended::Well)
}

impl By {
    fn stamp(&self) -> Result<Stamp> {
        let account = || ["USER", "USERNAME", "LOGNAME"].iter().find_map(|name| std::env::var(name).ok());
        let Some(who) = self.name.clone().or_else(account) else { bail!("Say who does this with --by NAME.") };
        Ok(keeping::stamp(&who)?)
    }
}

fn new(file: &Path, out: &mut dyn Write) -> Result<()> {
    Outputs::new(Replace::Never).write(file, written::JOB_FILE, skimgauge_job::template().as_bytes())?;
    writeln!(
        out,
        "{} is a job to begin with. Put your board's values in, then `skimgauge watch --job` it.",
        file.display()
    )?;
    Ok(())
}

fn attach(record: &mut Record, job: &str, file: &Path, caption: Option<&str>, stamp: &Stamp) -> Result<u32> {
    let cannot = || format!("{} cannot be read.", file.display());
    let limit = input::Limit { what: "attachment", most: LARGEST as u64 };
    let bytes = input::read(file, limit).with_context(cannot)?;
    let name = file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let photo = Photo { name: &name, media_type: media_type(file), bytes: &bytes, caption };
    Ok(record.attach(job, stamp, photo)?.seq)
}

fn close(
    record: &mut Record,
    job: &str,
    open_points: &[String],
    signer: Option<&Signer>,
    stamp: &Stamp,
    out: &mut dyn Write,
) -> Result<()> {
    let closed = record.job(job)?.summary.closed;
    match signer {
        Some(signer) if closed && open_points.is_empty() => {
            record.sign(job, stamp, signer)?;
            writeln!(out, "Signed \"{}\".", plain(job))?;
        }
        _ => {
            let closed = record.close(job, stamp, open_points, signer)?;
            let signed = if signer.is_some() { " and signed" } else { "" };
            writeln!(out, "Closed{signed} \"{}\" with hash {}.", plain(job), closed.hash)?;
        }
    }
    Ok(())
}

/// The media type that a file's ending stands for (IANA's registry).
fn media_type(file: &Path) -> &'static str {
    let ending = file.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
    match ending.as_str() {
        "jpg" | "jpeg" => "image/jpeg",
        "png" => "image/png",
        "webp" => "image/webp",
        "heic" => "image/heic",
        "gif" => "image/gif",
        "pdf" => "application/pdf",
        "txt" => "text/plain",
        _ => "application/octet-stream",
    }
}

fn export(record: &Record, job: &str, file: &Path) -> Result<()> {
    let ending = file.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
    if !matches!(ending.as_str(), "json" | "csv") {
        return Ok(record.export_job(job, file)?);
    }
    let history = record.job(job)?;
    if let Some(broken) = &history.broken {
        bail!("The chain of \"{}\" breaks at event {}: {}. Nothing was written.", plain(job), broken.seq, broken.why);
    }
    let mut bytes = Vec::new();
    let kind = if ending == "json" {
        table::write_json(&history, &mut bytes)?;
        written::JOB_JSON
    } else {
        table::write_takes(&history, &mut bytes)?;
        written::TAKES
    };
    Ok(written::sparing_record(Outputs::new(Replace::Never), record.path()).write(file, kind, &bytes)?)
}

fn carried(jobs: &[Carried], out: &mut dyn Write) -> Result<()> {
    for Carried { job, new_events, broken } in jobs {
        match new_events {
            0 if broken.is_none() => writeln!(out, "\"{}\": all of it is here already.", plain(job))?,
            n => writeln!(out, "\"{}\": {n} events.", plain(job))?,
        }
        if let Some(broken) = broken {
            writeln!(out, "  Left behind from event {} on: {}.", broken.seq, plain(&broken.why))?;
        }
    }
    Ok(())
}

fn signer(key: &Path, passphrase_file: Option<&Path>) -> Result<Signer> {
    let read =
        |file: &Path| input::read_text(file, input::KEY).with_context(|| format!("{} cannot be read.", file.display()));
    let passphrase = passphrase_file.map(read).transpose()?;
    let first_line = passphrase.as_deref().map(|text| text.lines().next().unwrap_or_default());
    Signer::from_openssh(&read(key)?, first_line).with_context(|| format!("{} was not used", key.display()))
}
