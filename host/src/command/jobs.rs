//! `jobs`: the job file to begin with, and everything about the record.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context as _, Result, bail};
use clap::{Args, Subcommand, ValueEnum};
use skimgauge_record::event::{Body, Judged, Phase};
use skimgauge_record::photo::{LARGEST, Photo};
use skimgauge_record::portable::{Carried, salvage};
use skimgauge_record::seal::Seal;
use skimgauge_record::sign::{Signer, fingerprint};
use skimgauge_record::verify::{Report, verify};
use skimgauge_record::{JobHistory, JobSummary, Record, Stamp, When, place, table};

/// The job file to begin with, and everything about the record.
#[derive(Debug, Args)]
pub struct Jobs {
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
        /// The job's name; not with --salvage.
        #[arg(required_unless_present = "salvage", conflicts_with = "salvage")]
        job: Option<String>,
        /// Where to; nothing that is there is overwritten.
        file: Option<PathBuf>,
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

#[derive(Debug, Args)]
struct By {
    /// Who does this; the account's name without it.
    #[arg(long = "by", value_name = "NAME")]
    name: Option<String>,
}

/// Does what was asked and writes it to `out`. Status 0; 1 when `verify` found something wrong; errors are the caller's 2.
///
/// # Errors
/// A sentence for the person who asked.
pub fn run(jobs: &Jobs, out: &mut dyn Write) -> Result<ExitCode> {
    match &jobs.what {
        What::New { file } => new(file, out)?,
        What::List { json } => list(&open_read_only(jobs)?.jobs()?, *json, out)?,
        What::Show { job, form } => {
            let history = open_read_only(jobs)?.job(job)?;
            match form {
                None => show(&history, out)?,
                Some(Form::Json) => table::write_json(&history, out)?,
                Some(Form::Takes) => table::write_takes(&history, out)?,
                Some(Form::Events) => table::write_events(&history, out)?,
            }
        }
        What::Note { job, text, by } => {
            let noted = open(jobs)?.note(job, &by.stamp()?, text)?;
            writeln!(out, "Noted in \"{}\" as event {}.", plain(job), noted.seq)?;
        }
        What::Attach { job, file, caption, by } => {
            let attached = attach(jobs, job, file, caption.as_deref(), &by.stamp()?)?;
            writeln!(out, "Attached to \"{}\" as event {attached}.", plain(job))?;
        }
        What::Export { job, file, salvage: None } => {
            let (Some(job), Some(file)) = (job, file) else { bail!("Say which job, and which file to write it to.") };
            export(&open_read_only(jobs)?, job, file)?;
            writeln!(out, "\"{}\" is in {}.", plain(job), file.display())?;
        }
        What::Export { salvage: Some(to), .. } => {
            carried(&salvage(&path(jobs)?, to)?, out)?;
            writeln!(out, "What holds is in {}. The damaged record was left as it is.", to.display())?;
        }
        What::Import { file } => carried(&open_or_create(jobs)?.import(file)?, out)?,
        What::Verify { file, key, json } => {
            let path = file.clone().map_or_else(|| path(jobs), Ok)?;
            return check(&path, key.as_deref(), *json, out);
        }
        What::Close { job, open_point, sign, passphrase_file, by } => {
            let signer = sign.as_deref().map(|key| signer(key, passphrase_file.as_deref())).transpose()?;
            let mut record = open(jobs)?;
            let closed = record.job(job)?.summary.closed;
            match (&signer, closed) {
                (Some(signer), true) => {
                    if !open_point.is_empty() {
                        bail!("\"{}\" is closed already: an open point can't be added any more.", plain(job));
                    }
                    record.sign(job, &by.stamp()?, signer)?;
                    writeln!(out, "Signed \"{}\".", plain(job))?;
                }
                _ => {
                    let closed = record.close(job, &by.stamp()?, open_point, signer.as_ref())?;
                    let signed = if signer.is_some() { " and signed" } else { "" };
                    writeln!(out, "Closed{signed} \"{}\" with hash {}.", plain(job), closed.hash)?;
                }
            }
        }
    }
    out.flush()?;
    Ok(ExitCode::SUCCESS)
}

impl By {
    fn stamp(&self) -> Result<Stamp> {
        let account = || ["USER", "USERNAME", "LOGNAME"].iter().find_map(|name| std::env::var(name).ok());
        let Some(who) = self.name.clone().or_else(account) else { bail!("Say who does this with --by NAME.") };
        let now = jiff::Zoned::now();
        let software = concat!("skimgauge ", env!("CARGO_PKG_VERSION"));
        Ok(Stamp::new(When::new(now.timestamp(), now.offset()), &who, software)?)
    }
}

fn path(jobs: &Jobs) -> Result<PathBuf> {
    let path = jobs.record.clone().or_else(place::default_path);
    path.context("This account has no home folder to keep the record in: say where with --record FILE.")
}

fn open(jobs: &Jobs) -> Result<Record> {
    Ok(Record::open(&path(jobs)?)?)
}

fn open_or_create(jobs: &Jobs) -> Result<Record> {
    Ok(Record::open_or_create(&path(jobs)?)?)
}

fn open_read_only(jobs: &Jobs) -> Result<Record> {
    Ok(Record::open_read_only(&path(jobs)?)?)
}

fn create_new(file: &Path) -> Result<File> {
    File::create_new(file).map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => {
            anyhow::anyhow!("{} is there already and was left as it is. Choose another name.", file.display())
        }
        _ => anyhow::Error::new(error).context(format!("{} cannot be written", file.display())),
    })
}

fn new(file: &Path, out: &mut dyn Write) -> Result<()> {
    create_new(file)?.write_all(skimgauge_job::template().as_bytes())?;
    writeln!(out, "{} is a job to begin with. Put your board's values in, then `skimgauge watch --job` it.", file.display())?;
    Ok(())
}

fn attach(jobs: &Jobs, job: &str, file: &Path, caption: Option<&str>, stamp: &Stamp) -> Result<u32> {
    let cannot = || format!("{} cannot be read", file.display());
    let length = fs::metadata(file).with_context(cannot)?.len();
    if length > LARGEST as u64 {
        bail!("{} has {} MB; an attachment has at most {} MB. Make it smaller first.", file.display(), length >> 20, LARGEST >> 20);
    }
    let bytes = fs::read(file).with_context(cannot)?;
    let name = file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let photo = Photo { name: &name, media_type: media_type(file), bytes: &bytes, caption };
    Ok(open(jobs)?.attach(job, stamp, photo)?.seq)
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
    let to = BufWriter::new(create_new(file)?);
    if ending == "json" { table::write_json(&history, to)? } else { table::write_takes(&history, to)? }
    Ok(())
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
    let read = |file: &Path| fs::read_to_string(file).with_context(|| format!("{} cannot be read", file.display()));
    let passphrase = passphrase_file.map(read).transpose()?;
    let first_line = passphrase.as_deref().map(|text| text.lines().next().unwrap_or_default());
    Signer::from_openssh(&read(key)?, first_line).with_context(|| format!("{} was not used", key.display()))
}

fn check(path: &Path, key: Option<&Path>, json: bool, out: &mut dyn Write) -> Result<ExitCode> {
    let report = verify(path)?;
    let unsigned = match key {
        None => Vec::new(),
        Some(key) => {
            let text = fs::read_to_string(key).with_context(|| format!("{} cannot be read", key.display()))?;
            unsigned_by(&report, &fingerprint(text.trim())?)
        }
    };
    if json {
        serde_json::to_writer(&mut *out, &serde_json::json!({
            "schema": "skimgauge.verify", "version": 1,
            "sound": report.sound() && unsigned.is_empty(), "unsigned": unsigned, "report": report,
        }))?;
        writeln!(out)?;
    } else {
        say_report(&report, &unsigned, out)?;
    }
    out.flush()?;
    Ok(if report.sound() && unsigned.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

/// Closed jobs that bear no good signature of this key.
fn unsigned_by<'a>(report: &'a Report, fingerprint: &str) -> Vec<&'a str> {
    let signed = |job: &&skimgauge_record::verify::JobReport| {
        job.signatures.iter().any(|signature| signature.wrong.is_none() && signature.fingerprint == fingerprint)
    };
    report.jobs.iter().filter(|job| job.closed).filter(|job| !signed(job)).map(|job| job.name.as_str()).collect()
}

fn say_report(report: &Report, unsigned: &[&str], out: &mut dyn Write) -> io::Result<()> {
    for job in &report.jobs {
        let closed = if job.closed { "closed" } else { "open" };
        match &job.broken {
            None => writeln!(out, "\"{}\": {} events, {closed}, every link holds, hash {}", plain(&job.name), job.events, job.head_hash)?,
            Some(broken) => writeln!(out, "\"{}\": BROKEN at event {}: {}", plain(&job.name), broken.seq, plain(&broken.why))?,
        }
        for signature in &job.signatures {
            let who = plain(&signature.who);
            match &signature.wrong {
                None => writeln!(out, "  signed with the key {} by one who gave the name {who}", signature.fingerprint)?,
                Some(wrong) => writeln!(out, "  the signature at event {} DOES NOT HOLD: {wrong}", signature.seq)?,
            }
        }
    }
    for job in unsigned {
        writeln!(out, "\"{}\": closed, and NOT signed with that key", plain(job))?;
    }
    for finding in &report.findings {
        writeln!(out, "{}", plain(finding))?;
    }
    writeln!(out, "{}", match report.seal {
        Seal::Holds => "The seal over the whole file holds.",
        Seal::Broken => "The seal over the whole file is BROKEN: something in it was changed.",
        Seal::None => "The file is not sealed: it is when a job is closed, until the next entry.",
    })?;
    if report.sound() && unsigned.is_empty() {
        writeln!(out, "Nothing is wrong.")
    } else {
        writeln!(out, "Something is wrong. Keep a copy of the file as it is; `skimgauge jobs export --salvage` saves what holds.")
    }
}

fn list(jobs: &[JobSummary], json: bool, out: &mut dyn Write) -> Result<()> {
    if json {
        for job in jobs {
            serde_json::to_writer(&mut *out, job)?;
            writeln!(out)?;
        }
        return Ok(());
    }
    if jobs.is_empty() {
        writeln!(out, "No jobs yet. `skimgauge jobs new FILE` writes a job file to begin with.")?;
        return Ok(());
    }
    let width = jobs.iter().map(|job| plain(&job.name).chars().count()).max().unwrap_or(0).clamp(3, 40);
    writeln!(out, "{:width$}  {:16}  {:16}  {:>5}  {:17}  state", "job", "opened", "last", "takes", "verdict")?;
    for job in jobs {
        let verdict = job.verdict.map_or("-", word);
        let state = if job.closed { "closed" } else { "open" };
        let (name, opened, last) = (plain(&job.name), minute(job.opened), minute(job.last));
        writeln!(out, "{name:width$}  {opened:16}  {last:16}  {:>5}  {verdict:17}  {state}", job.takes)?;
    }
    Ok(())
}

fn show(job: &JobHistory, out: &mut dyn Write) -> Result<()> {
    let about = &job.summary;
    let state = if about.closed { "closed" } else { "open" };
    writeln!(out, "{}: {state}, {} events, opened {}, last {}", plain(&about.name), about.events, about.opened, about.last)?;
    if let Some(broken) = &job.broken {
        writeln!(out, "THE RECORD OF THIS JOB IS BROKEN at event {}: {}. What follows stands before the break.", broken.seq, plain(&broken.why))?;
    }
    for (phase, title) in [(Phase::AsFound, "As found"), (Phase::Between, "In between"), (Phase::AsLeft, "As left")] {
        show_phase(job, phase, title, out)?;
    }
    let mut title = Some("Events besides takes");
    for event in &job.events {
        if matches!(event.body, Body::Take(_) | Body::JobOpened(_)) && event.clock_back_s.is_none() {
            continue;
        }
        if let Some(title) = title.take() {
            writeln!(out, "\n{title}")?;
        }
        writeln!(out, "  {:>4}  {}  {}  {}", event.seq, event.at, plain(&event.who), plain(&told(&event.body)))?;
        if let Some(back_s) = event.clock_back_s {
            writeln!(out, "        the clock was set back by {back_s:.0} s before this")?;
        }
    }
    writeln!(out, "\nHash of the last event: {}", about.head_hash)?;
    Ok(())
}

fn show_phase(job: &JobHistory, phase: Phase, title: &str, out: &mut dyn Write) -> io::Result<()> {
    let takes: Vec<_> = job.current_takes().into_iter().filter(|current| current.take.phase == phase).collect();
    if takes.is_empty() && job.verdict(phase).is_none() {
        return Ok(());
    }
    writeln!(out, "\n{title}")?;
    let width = takes.iter().map(|current| plain(&current.take.station).chars().count()).max().unwrap_or(0).max(7);
    if !takes.is_empty() {
        writeln!(out, "  {:>4}  {:width$}  {:>8}  {:>7}  {:17}  when", "", "station", "gap mm", "u mm", "verdict")?;
    }
    for current in takes {
        let take = current.take;
        let (station, verdict) = (plain(&take.station), take.verdict.map_or("-", word));
        let flags = if take.flags.is_empty() { String::new() } else { format!("  ({})", plain(&take.flags.join(", "))) };
        let (seq, at) = (current.event.seq, current.event.at);
        writeln!(out, "  {seq:>4}  {station:width$}  {:>8.2}  {:>7.3}  {verdict:17}  {at}{flags}", take.gap_mm, take.u_gap_mm)?;
    }
    match job.verdict(phase) {
        Some(judged) => writeln!(out, "  Verdict: {}", plain(&verdict(judged))),
        None => writeln!(out, "  Verdict: none yet"),
    }
}

fn verdict(judged: &Judged) -> String {
    let mut text = word(judged.verdict).to_owned();
    if let (Some(worst), Some(gap_mm)) = (&judged.worst, judged.worst_gap_mm) {
        text += &format!(", decided at {}: gap {gap_mm:.2} mm", worst.name);
    }
    if let (Some(margin_mm), Some(u_mm)) = (judged.margin_mm, judged.expanded_u_mm) {
        text += &format!(", {margin_mm:.2} mm from the band's end, known to ±{u_mm:.2} mm");
    }
    if let Some(settle) = &judged.would_settle {
        text += &format!("; to settle it: {settle}");
    }
    text
}

/// An event in one line.
fn told(body: &Body) -> String {
    match body {
        Body::JobOpened(_) => "job opened".to_owned(),
        Body::JobRevised(_) => "job file changed".to_owned(),
        Body::CalibrationUsed(used) => {
            format!("head {} with zero {:.3} mm, u {:.3} mm", used.head.serial, used.zero_mm, used.u_zero_mm)
        }
        Body::Calibrated(zero) => format!("head {} zeroed on {}", zero.head.serial, zero.reference),
        Body::Take(take) => format!("take at {}: {:.2} mm", take.station, take.gap_mm),
        Body::TurnAdvised(turn) => {
            format!("turn {} by {:+.2}, until {} reads {:.2} mm", turn.adjuster, turn.turns, turn.station, turn.target_gap_mm)
        }
        Body::TurnObserved(turn) => format!(
            "{} turned: {} went from {:.2} to {:.2} mm{}",
            turn.adjuster,
            turn.station,
            turn.gap_before_mm,
            turn.gap_after_mm,
            if turn.flags.is_empty() { String::new() } else { format!(" ({})", turn.flags.join(", ")) }
        ),
        Body::Judged(judged) => format!("verdict, {}: {}", judged.phase.as_str(), verdict(judged)),
        Body::Section(section) => {
            let name = serde_json::to_value(section.section).ok();
            format!("result of {}", name.as_ref().and_then(serde_json::Value::as_str).unwrap_or("other work"))
        }
        Body::Note(note) => match note.about {
            Some(seq) => format!("note on {seq}: {}", note.text),
            None => format!("note: {}", note.text),
        },
        Body::PhotoAttached(photo) => {
            let caption = photo.caption.as_ref().map(|caption| format!(": {caption}")).unwrap_or_default();
            format!("attached {} ({} kB){caption}", photo.name, photo.bytes.div_ceil(1000))
        }
        Body::Closed(closed) if closed.open_points.is_empty() => "closed, nothing left to do".to_owned(),
        Body::Closed(closed) => format!("closed; left to do: {}", closed.open_points.join("; ")),
        Body::Signed(signed) => format!("signed with {}", fingerprint(&signed.public_key).unwrap_or_default()),
    }
}

fn word(verdict: skimgauge_record::event::VerdictWord) -> &'static str {
    use skimgauge_record::event::VerdictWord::{Outside, Unsure, Within};
    match verdict {
        Within => "within",
        Outside => "outside",
        Unsure => "too close to call",
    }
}

fn minute(when: When) -> String {
    when.to_string().chars().take(16).map(|c| if c == 'T' { ' ' } else { c }).collect()
}

/// Text from a record as a terminal may show it: what a name or note holds must not steer the screen.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}
