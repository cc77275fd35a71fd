//! `handover`: what the client keeps, as one page or as PDF.

use super::jobs;
use crate::keeping::{is_of, record_path};
use crate::outcome::{Ended, Outcome};
use crate::steps::{Named, undone_by_file};
use crate::written::{self, PAGE, PDF, sparing_record};
use anyhow::{Context, Result};
use skimgauge_handover::{Options, Units, page_with_photos};
use skimgauge_jobfile::JobFile;
use skimgauge_record::carry::Store;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::Body;
use skimgauge_record::{JobHistory, Record};
use skimgauge_steps::typed;
use skimgauge_system::output::{Outputs, Replace};
use skimgauge_system::terminal::shown;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Make the page that the client keeps: what was found, done and left, with pictures and places to
/// sign.
///
/// One HTML file that needs nothing beside it and prints on A4 and Letter. Exit status: 0 written,
/// 1 written but the job's record is damaged, 2 an error.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The job's name as `jobs list` shows it, or its job file.
    #[arg(long, value_name = "NAME", value_hint = clap::ValueHint::FilePath)]
    job: String,
    /// The record; without this, the platform's place.
    #[arg(long, value_name = "FILE")]
    record: Option<PathBuf>,
    /// From the firm's jobs at this address; `firm` for the one that is set up.
    #[arg(long, value_name = "URL", conflicts_with = "record")]
    from: Option<String>,
    /// With --from, where the job was gone on with apart: which branch, by the first digits of its
    /// last event's hash.
    #[arg(long, value_name = "HASH", requires = "from", value_parser = jobs::branch_given)]
    branch: Option<String>,
    /// Where to; `-` for standard output. Without this, a file named after the job.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write it anew where an earlier handover is.
    #[arg(long)]
    replace: bool,
    /// As PDF, on A4, or on Letter with inches. Only where skimgauge was built with its feature
    /// `pdf`.
    #[arg(long)]
    pdf: bool,
}

/// Most bytes of photos on a page.
const PHOTO_BYTES: u64 = 16 << 20;

/// Makes the handover.
///
/// # Errors
/// The record or the job cannot be read, or the file cannot be written.
pub fn run(args: Args, units: Units) -> Outcome {
    let (asked, mut outputs) = job(&args.job, Replace::flag(args.replace))?;
    let mut record_read = None;
    let (mut kept, history) = match &args.from {
        Some(from) => jobs::from_firm(from, asked.name(), args.branch.as_deref())?,
        None => {
            let path = record_path(args.record.as_deref())?;
            let record = Record::open_read_only(&path)?;
            outputs = sparing_record(outputs, &path);
            let history = record.job(asked.name())?;
            record_read = Some(path);
            (Box::new(record) as Box<dyn Store>, history)
        }
    };
    if let Asked::File(job, text) = &asked {
        is_of(&history, job, text).context(
            "No page was made: if the job in the record is meant, give --job its name as `jobs list` shows it.",
        )?;
        let named = Named::new(Path::new(&args.job), asked.name(), args.record.as_deref());
        is_of_this_file(&history, &named, Path::new(&args.job), job, text)?;
    }
    let options = Options { units };
    if let Some(out) = &args.out {
        is_as_named(out, args.pdf)?;
    }
    let bytes = if args.pdf {
        pdf(&history, &options)?
    } else {
        page_with_photos(&history, &options, &photos(kept.as_mut(), &history)?).into_bytes()
    };
    let out = args.out.unwrap_or_else(|| file_name(&history.summary.name, args.pdf).into());
    if out == Path::new("-") {
        let mut stdout = std::io::stdout().lock();
        stdout
            .write_all(&bytes)
            .and_then(|()| stdout.flush())
            .context("The output cannot be written.")?;
    } else {
        outputs.write(&out, if args.pdf { PDF } else { PAGE }, &bytes)?;
        eprintln!("Written: {}", out.display());
    }
    eprintln!("{}", told_from(record_read.as_deref(), &history));
    match &history.broken {
        None => Ok(Ended::Well),
        Some(broken) => {
            eprintln!(
                "The record of this job is damaged from event {} on: the handover says so and gives no verdict. `{}` tells more.",
                broken.seq,
                typed::on_record(
                    "jobs verify",
                    args.record.as_deref().map(|path| path.display().to_string()).as_deref()
                )
            );
            Ok(Ended::Outside)
        }
    }
}

/// Of which record the page tells, and whether it can be the last: a page of the wrong record looks
/// like one of a job at which nothing was done.
fn told_from(record: Option<&Path>, history: &JobHistory) -> String {
    let from = record.map_or("the firm's jobs".to_owned(), |path| path.display().to_string());
    let name = shown(&history.summary.name);
    let events = history.events.len();
    match history.summary.closed {
        true => format!("It tells of {name} in {from} ({events} events), which is closed."),
        false => format!(
            "A DRAFT: {name} in {from} ({events} events) is not closed, and what is done at it later is not on this page."
        ),
    }
}

/// A page named .pdf opens nowhere, nor a PDF named .html.
fn is_as_named(out: &Path, pdf: bool) -> Result<()> {
    let ending = out.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    match (ending.as_deref(), pdf) {
        (Some("pdf"), false) => anyhow::bail!(
            "Nothing was written: {} is named as a PDF, and a page is made without --pdf. Add --pdf, or name it .html.",
            out.display()
        ),
        (Some("html" | "htm"), true) => anyhow::bail!(
            "Nothing was written: {} is named as a page, and --pdf makes a PDF. Leave --pdf out, or name it .pdf.",
            out.display()
        ),
        _ => Ok(()),
    }
}

/// The page tells of what the record knows. What the file has by now undone would stand on it as done.
fn is_of_this_file(
    history: &JobHistory,
    named: &Named,
    file: &Path,
    job: &JobFile,
    text: &str,
) -> Result<()> {
    let words = undone_by_file(file, job, text, &history.events);
    anyhow::ensure!(
        words.is_empty(),
        "No page was made: by this job file as it is now these are to be done again: {}. `{}` tells why. For a page of \
         what is in the record all the same, give --job the job's name.",
        words.join(", "),
        named.typed().next()
    );
    Ok(())
}

/// The job's photos, each once, as many as a page that is mailed may carry; the rest are named on
/// it all the same.
///
/// # Errors
/// What reading the record can meet.
fn photos(kept: &mut dyn Store, history: &JobHistory) -> Result<Vec<(Hash, Vec<u8>)>> {
    let mut room = PHOTO_BYTES;
    let mut photos: Vec<(Hash, Vec<u8>)> = Vec::new();
    for event in &history.events {
        let Body::PhotoAttached(photo) = &event.body else { continue };
        if !photo.media_type.starts_with("image/")
            || photos.iter().any(|(sha256, _)| *sha256 == photo.sha256)
        {
            continue;
        }
        if photo.bytes > room {
            eprintln!(
                "{} is too large to be shown on the page; it is named there.",
                shown(&photo.name)
            );
            continue;
        }
        if let Some(bytes) = kept.photo_of(history.summary.id, photo.sha256)? {
            room -= photo.bytes;
            photos.push((photo.sha256, bytes));
        }
    }
    Ok(photos)
}

/// Whose handover is asked for.
enum Asked {
    /// The job of that name.
    Named(String),
    /// The job of that file.
    File(Box<JobFile>, String),
}

impl Asked {
    fn name(&self) -> &str {
        match self {
            Self::Named(name) => name,
            Self::File(job, _) => &job.about.name,
        }
    }
}

/// The job, as named or as the job file at that path has it; and what is written, that file spared.
fn job(given: &str, replace: Replace) -> Result<(Asked, Outputs)> {
    let path = Path::new(given);
    if path.extension().is_some() && path.is_file() {
        let (job, text) = crate::jobs::read_early(path)?;
        let outputs = written::outputs(replace, path, &job, None);
        return Ok((Asked::File(Box::new(job), text), outputs));
    }
    Ok((Asked::Named(given.to_owned()), Outputs::new(replace)))
}

/// A file's name after the job's, which may hold what file names must not.
fn file_name(job: &str, pdf: bool) -> String {
    let kept: String = job
        .chars()
        .map(|c| if c.is_alphanumeric() || matches!(c, ' ' | '-' | '_' | '.') { c } else { '-' })
        .take(80)
        .collect();
    let kept = kept.trim_matches(['.', ' ', '-']);
    let name = if kept.is_empty() { "job" } else { kept };
    format!("{name} handover.{}", if pdf { "pdf" } else { "html" })
}

#[cfg(feature = "pdf")]
fn pdf(history: &JobHistory, options: &Options) -> Result<Vec<u8>> {
    Ok(skimgauge_handover::pdf(history, options)?)
}

#[cfg(not(feature = "pdf"))]
fn pdf(_: &JobHistory, _: &Options) -> Result<Vec<u8>> {
    anyhow::bail!(
        "This skimgauge was built without PDF. Leave --pdf out and print the page from a browser, or build it with \
         `cargo build --release --features pdf`."
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_record::{Stamp, When};

    fn args(folder: &Path, job: &str) -> Args {
        Args {
            job: job.to_owned(),
            record: Some(folder.join("record.sqlite")),
            out: Some(folder.join("page.html")),
            replace: false,
            pdf: false,
            from: None,
            branch: None,
        }
    }

    fn record(folder: &Path) {
        let mut record = Record::create(&folder.join("record.sqlite")).unwrap();
        let at = When::parse("2026-11-25T09:14:03+01:00").unwrap();
        let stamp = Stamp::new(at, "R. Oakes", "skimgauge 0.1.0").unwrap();
        record
            .open_job(
                skimgauge_record::JobId([1; 16]),
                "practice wall",
                skimgauge_jobfile::demo_job(),
                &stamp,
            )
            .unwrap();
    }

    #[test]
    fn the_page_is_written_and_written_again() {
        let folder = tempfile::tempdir().unwrap();
        record(folder.path());
        let again =
            |replace| run(Args { replace, ..args(folder.path(), "practice wall") }, Units::Mm);
        assert_eq!(again(false).unwrap(), Ended::Well);
        let said = again(false).unwrap_err().to_string();
        assert!(said.contains("is there already") && said.contains("--replace"), "{said}");
        assert_eq!(again(true).unwrap(), Ended::Well);
        let page = std::fs::read_to_string(folder.path().join("page.html")).unwrap();
        assert!(page.contains("Larch Lane Library"));
        assert_eq!(
            std::fs::read_dir(folder.path()).unwrap().count(),
            2,
            "nothing is left beside page and record"
        );
    }

    #[test]
    fn photos_are_on_the_page_and_other_files_are_named() {
        let folder = tempfile::tempdir().unwrap();
        record(folder.path());
        let mut record = Record::open(&folder.path().join("record.sqlite")).unwrap();
        let stamp = crate::keeping::stamp("R. Oakes").unwrap();
        // RFC 4648, 10: "foobar" is Zm9vYmFy.
        for (name, media_type) in [("after.png", "image/png"), ("sheet.pdf", "application/pdf")] {
            let photo = skimgauge_record::photo::Photo {
                name,
                media_type,
                bytes: b"foobar",
                caption: Some("the emitter"),
            };
            record.attach("practice wall", &stamp, photo).unwrap();
        }
        assert_eq!(run(args(folder.path(), "practice wall"), Units::Mm).unwrap(), Ended::Well);
        let page = std::fs::read_to_string(folder.path().join("page.html")).unwrap();
        assert_eq!(page.matches("src=\"data:image/png;base64,Zm9vYmFy\"").count(), 1);
        assert!(page.contains("alt=\"Photo: the emitter\"") && page.contains("sheet.pdf"));
        assert!(!page.contains("data:application/pdf"));
    }

    #[test]
    fn a_job_file_stands_for_its_job() {
        let folder = tempfile::tempdir().unwrap();
        record(folder.path());
        let file = folder.path().join("wall.toml");
        std::fs::write(&file, skimgauge_jobfile::demo_job()).unwrap();
        assert_eq!(
            run(args(folder.path(), &file.to_string_lossy()), Units::Mm).unwrap(),
            Ended::Well
        );
        // Another client's board of the same name is another job: this page is not theirs.
        let other =
            skimgauge_jobfile::demo_job().replace("Larch Lane Library", "Quay Street School");
        std::fs::write(&file, other).unwrap();
        let said = format!(
            "{:#}",
            run(args(folder.path(), &file.to_string_lossy()), Units::Mm).unwrap_err()
        );
        assert!(said.contains("Quay Street School") && said.contains("No page was made"), "{said}");
    }

    #[test]
    fn what_is_not_there_is_said() {
        let folder = tempfile::tempdir().unwrap();
        let missing = run(args(folder.path(), "practice wall"), Units::Mm).unwrap_err().to_string();
        assert!(missing.contains("There is no record"), "{missing}");
        record(folder.path());
        let near = run(args(folder.path(), "practice"), Units::Mm).unwrap_err().to_string();
        assert!(near.contains("practice wall"), "{near}");
        let onto =
            Args { out: Some(folder.path().to_owned()), ..args(folder.path(), "practice wall") };
        assert!(run(onto, Units::Mm).unwrap_err().to_string().contains("is a folder"));
    }

    #[test]
    fn a_page_is_not_named_as_a_pdf_nor_a_pdf_as_a_page() {
        let folder = tempfile::tempdir().unwrap();
        record(folder.path());
        for (name, pdf, way) in [("p.PDF", false, "Add --pdf"), ("p.html", true, "Leave --pdf out")]
        {
            let out = Some(folder.path().join(name));
            let args = Args { out, pdf, ..args(folder.path(), "practice wall") };
            let said = run(args, Units::Mm).unwrap_err().to_string();
            assert!(said.contains("Nothing was written") && said.contains(way), "{said}");
            assert!(!folder.path().join(name).exists());
        }
    }

    #[test]
    fn the_record_is_named_and_a_job_that_is_not_closed_makes_a_draft() {
        let folder = tempfile::tempdir().unwrap();
        record(folder.path());
        let path = folder.path().join("record.sqlite");
        let told = || {
            let history = Record::open_read_only(&path).unwrap().job("practice wall").unwrap();
            told_from(Some(&path), &history)
        };
        assert!(told().starts_with("A DRAFT: practice wall in "), "{}", told());
        assert!(told().contains(&path.display().to_string()), "{}", told());
        let stamp = crate::keeping::stamp("R. Oakes").unwrap();
        Record::open(&path).unwrap().close("practice wall", &stamp, &[], None).unwrap();
        assert!(told().contains("closed.") && !told().contains("DRAFT"), "{}", told());
    }

    #[test]
    fn names_become_file_names() {
        assert_eq!(file_name("practice wall", false), "practice wall handover.html");
        assert_eq!(file_name("../../etc/passwd", true), "etc-passwd handover.pdf");
        assert_eq!(file_name("...", false), "job handover.html");
    }
}
