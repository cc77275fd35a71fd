//! The job's events, for how its steps stand.

use crate::jobs;
use crate::keeping::{SameJob, is_of};
use crate::shape;
use crate::tables;
use anyhow::bail;
use skimgauge_jobfile::JobFile;
use skimgauge_record::event::Body;
use skimgauge_record::{Event, JobHistory, Record, RecordError};
use skimgauge_steps::{Standing, State, Table, standings, standings_by, table_is};
use skimgauge_steps::{Typed, typed};
use std::path::{Path, PathBuf};

/// Whose steps, as it is named on a command line.
#[derive(Debug, Clone)]
pub struct Whose {
    /// The job file.
    pub file: PathBuf,
    /// The record, where it is not in its usual place.
    pub named: Option<PathBuf>,
    /// The record.
    pub record: PathBuf,
}

/// How a job was named on the command line: so it is named in every command that is shown.
#[derive(Debug, Clone)]
pub struct Named {
    file: String,
    name: String,
    record: Option<String>,
}

impl Named {
    /// By this file and name, in the record that was named, if one was.
    pub fn new(file: &Path, name: &str, record: Option<&Path>) -> Self {
        let shown = |path: &Path| path.display().to_string();
        Self { file: shown(file), name: name.to_owned(), record: record.map(shown) }
    }

    /// As commands are made of it.
    pub fn typed(&self) -> Typed<'_> {
        Typed { file: &self.file, name: &self.name, record: self.record.as_deref() }
    }
}

impl Whose {
    /// How each step stands now, and what comes next as it is typed for this job.
    ///
    /// # Errors
    /// Job file or record cannot be read, or the record's job of that name is another.
    pub fn steps<T>(&self, told: impl FnOnce(&Typed<'_>, &[Standing]) -> T) -> anyhow::Result<T> {
        let (job, text) = jobs::read_early(&self.file)?;
        let events = events(&self.record, &job, &text, &SameJob::default())?;
        let standings = standings_now(&self.file, &job, &text, &events);
        let named = Named::new(&self.file, &job.about.name, self.named.as_deref());
        Ok(told(&named.typed(), &standings))
    }
}

/// How each step stands, the job file and the table that it names being what they are now.
pub fn standings_now(file: &Path, job: &JobFile, text: &str, events: &[Event]) -> Vec<Standing> {
    // What a file says later changes nothing of how a job was closed.
    if events.iter().any(|event| matches!(event.body, Body::Closed(_))) {
        return standings(events);
    }
    let mut standings = standings_by(events, text);
    if job.survey.is_none() {
        shape::wants_its_name(&mut standings, events);
    }
    if let Some(survey) = &job.survey {
        let path = jobs::beside(file, &survey.file);
        let now = match tables::survey(&path, job, String::new) {
            Ok(points) => Table::Is(tables::fingerprint(&points)),
            Err(_) if path.exists() => Table::Unread,
            Err(_) => Table::Gone,
        };
        table_is(&mut standings, events, now);
    }
    standings
}

/// By their words the steps that only the job file as it is now undoes: the record does not know of it.
pub fn undone_by_file(
    file: &Path,
    job: &JobFile,
    text: &str,
    events: &[Event],
) -> Vec<&'static str> {
    let (now, mut kept) = (standings_now(file, job, text, events), standings(events));
    if job.survey.is_none() {
        shape::wants_its_name(&mut kept, events);
    }
    let is_stale = |standing: &Standing| matches!(standing.state, State::Stale { .. });
    let stale = now.iter().zip(&kept).filter(|(now, kept)| is_stale(now) && !is_stale(kept));
    stale.map(|(now, _)| now.step.word()).collect()
}

/// The job's events, none where the record has no such job yet. Where the person says that the
/// record's job of that name is this one, it is taken for it.
///
/// # Errors
/// The record cannot be read or is damaged, or its job of that name is another.
pub fn events(
    path: &Path,
    job: &JobFile,
    text: &str,
    said: &SameJob,
) -> anyhow::Result<Vec<Event>> {
    if !path.exists() {
        return Ok(Vec::new());
    }
    let record = Record::open_read_only(path)?;
    let Some(history) = named(&record, &job.about.name, said)? else { return Ok(Vec::new()) };
    if said.same_job.is_none() {
        is_of(&history, job, text)?;
    }
    if let Some(broken) = &history.broken {
        bail!(
            "The record of this job is damaged from event {} on: how it stands cannot be told. `skimgauge jobs verify {}` tells more.",
            broken.seq,
            typed::path(&path.display().to_string())
        );
    }
    Ok(history.events)
}

/// Whether the person says here, and nothing in the record does yet, that its job of that name is
/// this one. To a closed job nothing is added.
///
/// # Errors
/// The record cannot be read, or has no job of the identity that was said.
pub fn is_said_anew(
    path: &Path,
    job: &JobFile,
    text: &str,
    said: &SameJob,
) -> anyhow::Result<bool> {
    if said.same_job.is_none() || !path.exists() {
        return Ok(false);
    }
    let history = named(&Record::open_read_only(path)?, &job.about.name, said)?;
    Ok(history.is_some_and(|history| {
        !history.summary.closed && history.broken.is_none() && is_of(&history, job, text).is_err()
    }))
}

/// The job of that name; where the person said which of several it is, that one. `None` where the
/// record has none of the name.
fn named(record: &Record, name: &str, said: &SameJob) -> anyhow::Result<Option<JobHistory>> {
    let id = said.same_job.as_deref().unwrap_or_default().to_lowercase();
    if id.is_empty() {
        return match record.job(name) {
            Err(RecordError::NoSuchJob { .. }) => Ok(None),
            other => Ok(Some(other?)),
        };
    }
    let mut known = record.jobs()?;
    known.retain(|summary| summary.name == name);
    let mut meant = known.iter().map(|summary| summary.id.to_string());
    match meant.find(|known| known.starts_with(&id)) {
        _ if known.is_empty() => Ok(None),
        Some(meant) => Ok(Some(record.job(&meant)?)),
        None => bail!(
            "The record has no job named \"{name}\" whose identity begins with {id}. `skimgauge jobs list --json` has them."
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keeping::Keeping;
    use skimgauge_record::section::{SaidHow, Section, StepSaid};

    /// Only what the file of today undoes, and not what the record itself has as undone.
    #[test]
    fn steps_that_only_the_job_file_undoes_are_named() {
        let folder = tempfile::tempdir().unwrap();
        let (record, file) = (folder.path().join("r.sqlite"), folder.path().join("job.toml"));
        let kept = skimgauge_jobfile::demo_job();
        let job = JobFile::read("job.toml", kept).unwrap();
        let says = |step: &str| {
            let mut keeping =
                Keeping::open(&record, &job, kept, None, &SameJob::default()).unwrap();
            let (step, how) = (step.to_owned(), SaidHow::Done);
            let said = StepSaid { step, how, why: None, checked: Vec::new() };
            keeping.append(Section::from(said)).unwrap();
        };
        let undone_by = |from: &str, to: &str| {
            let now = kept.replace(from, to);
            assert!(from == to || now != kept, "{from}");
            let job = JobFile::read("job.toml", &now).unwrap();
            let events =
                Record::open_read_only(&record).unwrap().job("practice wall").unwrap().events;
            undone_by_file(&file, &job, &now, &events)
        };
        ["services", "focus", "emitter"].into_iter().for_each(says);
        assert_eq!(undone_by("", ""), Vec::<&str>::new());
        assert_eq!(undone_by("R. Oakes", "R. Elm"), Vec::<&str>::new(), "no step stands by it");
        assert_eq!(undone_by("practice emitter", "another"), ["emitter"]);
        assert_eq!(undone_by("94 in", "88 in"), ["focus", "emitter"]);
        // By what was hung the record has the focus as undone, whatever the file says.
        says("hanging");
        assert_eq!(undone_by("94 in", "88 in"), ["emitter"]);
        assert_eq!(undone_by("practice emitter", "another"), ["emitter"]);
        // A closed job stands as it was closed.
        let at = skimgauge_record::When::parse("2026-11-25T08:00:00+01:00").unwrap();
        let stamp = skimgauge_record::Stamp::new(at, "A. Fitter", "skimgauge 0.1.0").unwrap();
        let mut open = Record::open(&record).unwrap();
        open.close("practice wall", &stamp, &[], None).unwrap();
        assert_eq!(undone_by("94 in", "88 in"), Vec::<&str>::new());
    }
}
