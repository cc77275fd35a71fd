//! The board's shape as `next` finds it: which table of heights the job names, and what is typed to
//! judge it anew or to survey further places.

use crate::jobs;
use crate::tables;
use skimgauge_jobfile::JobFile;
use skimgauge_record::Event;
use skimgauge_record::event::Body;
use skimgauge_record::section::Section;
use skimgauge_steps::stands_by::{Part, changed};
use skimgauge_steps::state::By;
use skimgauge_steps::{Standing, State, Step, Typed, typed};
use std::path::Path;

/// More tables beside a job than anybody writes.
const MOST_TABLES: usize = 1_000;

/// What is to be said of the shape beside its step.
#[derive(Debug, Clone, Default)]
pub struct Shape {
    /// The table that stands, where only what is judged of its heights is another now.
    judged_anew: Option<String>,
    /// The board was surveyed, and the job file names no table of it.
    unnamed: bool,
    /// A name for a table of further places that no file has.
    free: String,
}

impl Shape {
    /// Of the job in this file, its steps standing so.
    pub fn of(file: &Path, job: &JobFile, events: &[Event], standings: &[Standing]) -> Self {
        let shown = |path: &Path| path.display().to_string();
        let state = standings.iter().find(|one| one.step == Step::Survey).map(|one| &one.state);
        let named = job.survey.as_ref().map(|survey| jobs::beside(file, &survey.file));
        let judged_anew = named.filter(|table| {
            matches!(state, Some(State::Stale { .. })) && heights_stand(table, state, job, events)
        });
        let free = (1..MOST_TABLES)
            .map(|count| match count {
                1 => "survey.csv".to_owned(),
                count => format!("survey{count}.csv"),
            })
            .map(|name| jobs::beside(file, &name))
            .find(|path| !path.exists());
        Self {
            judged_anew: judged_anew.as_deref().map(shown),
            unnamed: is_unnamed(job, events, state),
            free: free.as_deref().map_or_else(|| "POINTS.csv".to_owned(), shown),
        }
    }

    /// The command of the survey's step, where it is another than to measure.
    pub fn command(&self, job: &Typed<'_>) -> Option<String> {
        if self.unnamed {
            return Some(job.next());
        }
        let table = self.judged_anew.as_deref()?;
        Some(job.filled(&format!("survey --job {{job}} --from {}", typed::path(table))))
    }

    /// What is done before that command.
    pub fn first(&self) -> Option<&'static str> {
        if self.unnamed {
            return Some(
                "Put the table that `survey` wrote into the job file, under [survey], as file = \"survey.csv\"; then:",
            );
        }
        let says = "The heights stand: the same table is judged anew, and nothing is measured.";
        self.judged_anew.is_some().then_some(says)
    }

    /// What is typed where `trim` asks for places to be surveyed.
    pub fn further(&self, job: &Typed<'_>) -> String {
        let free = typed::path(&self.free);
        job.filled(&format!("survey --job {{job}} --head PORT --next N --points {free}"))
    }
}

/// Whether nothing that the heights themselves stand by is another than when they were judged.
fn heights_stand(table: &Path, state: Option<&State>, job: &JobFile, events: &[Event]) -> bool {
    let Some(State::Stale { done, by, .. }) = state else { return false };
    let by_file = by.as_ref().is_none_or(|by| {
        let event = events.iter().find(|event| event.seq == by.event);
        event.is_some_and(|event| matches!(event.body, Body::JobRevised(_)))
    });
    let kept = events
        .iter()
        .take_while(|event| event.seq <= done.event)
        .filter_map(|event| match &event.body {
            Body::JobOpened(opened) => Some(opened.job_file.as_str()),
            Body::JobRevised(revised) => Some(revised.job_file.as_str()),
            _ => None,
        })
        .last()
        .and_then(|text| JobFile::read("job file", text).ok());
    by_file
        && kept.is_some_and(|kept| {
            let changed = changed(Step::Survey, &kept, job);
            changed.iter().all(|part| matches!(part, Part::GapBand | Part::Board))
        })
        && tables::survey(table, job, String::new).is_ok()
}

/// Whether the survey's step stands by heights that no table of the job has.
fn is_unnamed(job: &JobFile, events: &[Event], state: Option<&State>) -> bool {
    let by = match state {
        Some(State::Stale { done, by: None, .. }) => done,
        _ => return false,
    };
    job.survey.is_none() && is_of_heights(by, events)
}

/// Whether what a step stands by is a survey's result.
fn is_of_heights(by: &By, events: &[Event]) -> bool {
    let event = events.iter().find(|event| event.seq == by.event).map(|event| &event.body);
    matches!(event, Some(Body::Section(Section::Survey(_))))
}

/// Until trim is done a survey is of no use to it that the job file does not name: its step is to do.
pub fn wants_its_name(standings: &mut [Standing], events: &[Event]) {
    let trimmed = standings.iter().any(|one| one.step == Step::Trim && !one.state.is_to_do());
    let survey = standings.iter_mut().find(|one| one.step == Step::Survey);
    let Some(survey) = survey.filter(|_| !trimmed) else { return };
    let Some(done) = survey.state.closed().cloned() else { return };
    if is_of_heights(&done, events) {
        let why = "surveyed, and the job file names no table of it under [survey]".to_owned();
        survey.state = State::Stale { done, by: None, why };
    }
}
