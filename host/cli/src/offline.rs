//! What set-out, fixings, square and survey have in common: a job file in, a result shown, kept and
//! written.

use crate::command::sentence;
use crate::jobs;
use crate::keeping::{Keeping, SameJob, record_path, zeroed_here};
use crate::steps;
use crate::written;
use anyhow::Context;
use serde::Serialize;
use skimgauge_jobfile::{Job, JobFile};
use skimgauge_model::Bands;
use skimgauge_procedure::takes::ZeroedHere;
use skimgauge_record::event::{Body, Section};
use skimgauge_system::output::{Kind, Outputs, Refused, Replace};
use skimgauge_system::terminal::{shown_json, shown_lines};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Version of the JSON that is printed.
const VERSION: u32 = 1;

/// What every such command is asked.
#[derive(Debug, clap::Args)]
pub struct Asked {
    /// The job file.
    #[arg(long, value_name = "FILE")]
    pub job: PathBuf,
    /// The record; without this, the platform's place.
    #[arg(long, value_name = "FILE")]
    pub record: Option<PathBuf>,
    /// Whether the job of that name in the record is this one.
    #[command(flatten)]
    pub same_job: SameJob,
    /// Work it out only: keep nothing in the record.
    #[arg(long, conflicts_with = "record")]
    pub no_record: bool,
    /// Print one JSON object instead of text.
    #[arg(long)]
    pub json: bool,
}

impl Asked {
    /// Reads the job file: the job, and its text for the record.
    ///
    /// # Errors
    /// It cannot be read, or says something that cannot be.
    pub fn open(&self) -> anyhow::Result<(JobFile, String)> {
        jobs::read_early(&self.job)
    }

    /// The zeros that are known to hold on this job's board. What is wrong with the record is said
    /// where something is kept in it.
    pub fn zeroed_here(&self, job: &JobFile, text: &str) -> Vec<ZeroedHere> {
        let known = || {
            let record = record_path(self.record.as_deref()).ok()?;
            steps::events(&record, job, text, &SameJob::default()).ok()
        };
        zeroed_here(&if self.no_record { None } else { known() }.unwrap_or_default())
    }

    /// The files that this command writes; job file, survey and record are spared.
    pub fn outputs<B>(&self, job: &Job<B>, replace: bool) -> Outputs {
        // Spared also where nothing is kept in it.
        let record = record_path(self.record.as_deref()).ok();
        written::outputs(Replace::flag(replace), &self.job, job, record.as_deref())
    }

    /// Keeps a result, unless it is what was kept last of all or nothing is to be kept; gives the
    /// record's place. With something kept since, the same result is news: it was found again after
    /// that.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn keep<B: Copy + Into<Option<Bands>>>(
        &self,
        (job, text): &(Job<B>, String),
        found: impl Into<Section>,
    ) -> anyhow::Result<Option<PathBuf>> {
        if self.no_record {
            return Ok(None);
        }
        let found = found.into();
        let path = record_path(self.record.as_deref())?;
        let mut keeping = Keeping::open(&path, job, text, None, &self.same_job)?;
        let last = keeping.last(|body| match body {
            Body::Section(known) => Some(Some(known.clone())),
            _ => Some(None),
        })?;
        if last.flatten().as_ref() != Some(&found) {
            keeping.append(found)?;
        }
        Ok(Some(path))
    }

    /// Keeps a result and shows it, neither held up by the other: what was worked out is shown where
    /// it could not be kept, and kept where nobody reads on. Gives the record's place.
    ///
    /// # Errors
    /// What the record can meet; else that standard output is gone.
    pub fn keep_and_show<B: Copy + Into<Option<Bands>>>(
        &self,
        opened: &(Job<B>, String),
        section: impl Into<Section>,
        (schema, found): (&'static str, &impl Serialize),
        text: impl FnOnce() -> String,
    ) -> anyhow::Result<Option<PathBuf>> {
        let kept = self.keep(opened, section);
        let shown = self.show(schema, found, text);
        let kept = kept?;
        shown.map(|()| kept)
    }

    /// Prints a result, as JSON if asked for.
    ///
    /// # Errors
    /// Standard output is gone.
    pub fn show(
        &self,
        schema: &'static str,
        found: &impl Serialize,
        text: impl FnOnce() -> String,
    ) -> anyhow::Result<()> {
        let mut out = std::io::stdout().lock();
        let done = if self.json {
            let json =
                serde_json::to_string_pretty(&Versioned { schema, version: VERSION, found })?;
            writeln!(out, "{}", shown_json(&json))
        } else {
            out.write_all(shown_lines(&text()).as_bytes())
        };
        done.and_then(|()| out.flush()).context("The output cannot be written.")
    }

    /// Says where files and record are, beside the result, on standard error; then what could not be
    /// written or kept.
    ///
    /// # Errors
    /// That, in one sentence after the other.
    pub fn say_where(
        &self,
        files: Files,
        kept: anyhow::Result<Option<PathBuf>>,
    ) -> anyhow::Result<()> {
        for file in &files.written {
            eprintln!("Written: {}", file.display());
        }
        let mut failed = files.failed;
        match kept {
            Ok(None) => (),
            Ok(Some(record)) => eprintln!("Kept in {}", record.display()),
            Err(error) => failed.push(error),
        }
        let Some(last) = failed.pop() else { return Ok(()) };
        for error in &failed {
            eprintln!("{}", sentence(error));
        }
        Err(last)
    }
}

/// Files beside a result: what went wrong with one holds up neither the result nor the record, and is
/// said after them.
#[derive(Debug, Default)]
pub struct Files {
    written: Vec<PathBuf>,
    failed: Vec<anyhow::Error>,
}

impl Files {
    /// This one, as its writing ended.
    pub fn note(&mut self, path: &Path, written: anyhow::Result<()>) {
        match written {
            Ok(()) => self.written.push(path.to_owned()),
            Err(error) => self.failed.push(error),
        }
    }

    /// Writes them, none if one is refused as things are.
    ///
    /// # Errors
    /// That refusal; not that a disk is full.
    pub fn write(
        outputs: &mut Outputs,
        wanted: &[(PathBuf, Kind, Vec<u8>)],
    ) -> Result<Self, Refused> {
        let checked = outputs.check_all(wanted.iter().map(|(path, kind, _)| (&**path, *kind)));
        checked.or_else(|refused| if refused.is_full() { Ok(()) } else { Err(refused) })?;
        let mut files = Self::default();
        for (path, kind, bytes) in wanted {
            match outputs.write(path, *kind, bytes) {
                Err(refused) if !refused.is_full() => return Err(refused),
                written => files.note(path, written.map_err(Into::into)),
            }
        }
        Ok(files)
    }
}

#[derive(Serialize)]
struct Versioned<'a, T> {
    schema: &'static str,
    version: u32,
    #[serde(flatten)]
    found: &'a T,
}

/// The path with `-name` before its ending.
pub fn beside(path: &Path, name: &str) -> PathBuf {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy()).unwrap_or_default();
    let ending = path.extension().map(|ending| ending.to_string_lossy()).unwrap_or("svg".into());
    path.with_file_name(format!("{stem}-{name}.{ending}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sheets_are_named_beside_one_another() {
        assert_eq!(
            beside(Path::new("out/holes.svg"), "centre-1-2"),
            Path::new("out/holes-centre-1-2.svg")
        );
        assert_eq!(beside(Path::new("holes"), "a"), Path::new("holes-a.svg"));
    }
}
