//! One name, one job: whether a job file is of the job that the record has under its name.

use skimgauge_jobfile::{Job, JobFile};
use skimgauge_model::Image;
use skimgauge_quantity::Mm;
use skimgauge_record::event::Difference;
use skimgauge_record::{JobHistory, Record, RecordError};

/// How far two images may differ and still be one, mm: sizes that were written in other units.
const SAME_MM: f64 = 0.5;

// What the person says of a job file whose name the record has already. No documentation: it would
// stand in the place of the command's own on the screen.
#[allow(missing_docs, reason = "it would be shown as the command's own")]
#[derive(Debug, Clone, Default, PartialEq, Eq, clap::Args)]
pub struct SameJob {
    /// This is the job of that name in the record, though its client, place or image is another
    /// there. It is written down that you said so. Where several jobs have the name: =ID says
    /// which.
    #[arg(long, value_name = "ID", num_args = 0..=1, require_equals = true, default_missing_value = "")]
    pub same_job: Option<String>,
}

/// The record has a job of that name, and it is another, as far as can be told.
#[derive(Debug)]
pub struct Another {
    name: String,
    differs: Vec<Difference>,
    /// Identities of the jobs that have the name, where several have.
    several: Vec<String>,
}

impl std::error::Error for Another {}

impl std::fmt::Display for Another {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.several.len() > 1 {
            write!(f, "The record has {} jobs named \"{}\".", self.several.len(), self.name)?;
        } else {
            write!(
                f,
                "The record has a job named \"{}\" already, and this job file is another's:",
                self.name
            )?;
        }
        for (at, Difference { what, was, is }) in self.differs.iter().enumerate() {
            let said = |text: &Option<String>| {
                text.as_deref().map_or("not said".to_owned(), |text| format!("\"{text}\""))
            };
            write!(
                f,
                "{} {what} {} there, {} here",
                if at == 0 { "" } else { ";" },
                said(was),
                said(is)
            )?;
        }
        if !self.differs.is_empty() {
            f.write_str(".")?;
        }
        f.write_str(" Nothing was kept. Give this job a name of its own in its job file; or, if it is the same job, ")?;
        if self.several.len() > 1 {
            write!(f, "say which with --same-job=ID: {}.", self.several.join(", "))
        } else {
            f.write_str("say so with --same-job, which is written down.")
        }
    }
}

/// The job in the record that this job file is of, with what the person said is the same all the
/// same; `None` where the record has no job of that name.
///
/// # Errors
/// [`Another`], and what reading the record can meet.
pub(super) fn find<B>(
    record: &Record,
    job: &Job<B>,
    text: &str,
    said: &SameJob,
) -> anyhow::Result<Option<(JobHistory, Vec<Difference>)>> {
    let name = &job.about.name;
    let mut known = Vec::new();
    for summary in record.jobs()?.into_iter().filter(|summary| summary.name == *name) {
        let history = record.job(&summary.id.to_string())?;
        let differs = differences(&history, job, text);
        known.push((history, differs));
    }
    if known.is_empty() {
        return Ok(None);
    }
    let meant =
        |at: &usize, id: &str| known[*at].0.summary.id.to_string().starts_with(&id.to_lowercase());
    let picked: Vec<usize> = match said.same_job.as_deref() {
        Some(id) => (0..known.len()).filter(|at| meant(at, id)).collect(),
        None => (0..known.len()).filter(|at| known[*at].1.is_empty()).collect(),
    };
    if let [only] = picked.as_slice() {
        let (history, differs) = known.swap_remove(*only);
        // Said before anything is measured, not at the first take.
        return match &history.broken {
            None if history.summary.closed => Err(RecordError::Closed(name.clone()).into()),
            None if history.unknown() > 0 => Err(RecordError::NewerEvents(name.clone()).into()),
            None => Ok(Some((history, differs))),
            Some(broken) => Err(RecordError::Broken {
                path: record.path().to_owned(),
                job: name.clone(),
                seq: broken.seq,
                why: broken.why.clone(),
            }
            .into()),
        };
    }
    let several = known.iter().map(|(history, _)| history.summary.id.to_string()).collect();
    let differs = if known.len() == 1 { known.swap_remove(0).1 } else { Vec::new() };
    Err(Another { name: name.clone(), differs, several }.into())
}

/// Whether this job file is of the job that was found under its name.
///
/// # Errors
/// [`Another`] where client, place or image differ.
pub fn is_of<B>(history: &JobHistory, job: &Job<B>, text: &str) -> Result<(), Another> {
    let differs = differences(history, job, text);
    if differs.is_empty() {
        return Ok(());
    }
    Err(Another { name: job.about.name.clone(), differs, several: Vec::new() })
}

/// In what the job file differs from the one kept, of that which tells one job from another.
fn differences<B>(history: &JobHistory, job: &Job<B>, text: &str) -> Vec<Difference> {
    let Some(kept) = history.job_file().filter(|kept| *kept != text) else { return Vec::new() };
    let Ok(kept) = JobFile::read("job file", kept) else {
        return vec![Difference {
            what: "job file".to_owned(),
            was: Some("one that this version cannot read".to_owned()),
            is: Some(job.about.name.clone()),
        }];
    };
    let mut differs = Vec::new();
    let mut note = |what: &str, was: Option<String>, is: Option<String>| {
        differs.push(Difference { what: what.to_owned(), was, is });
    };
    for (what, was, is) in [
        ("client", &kept.about.client, &job.about.client),
        ("place", &kept.about.place, &job.about.place),
    ] {
        if was != is {
            note(what, was.clone(), is.clone());
        }
    }
    if !same_image(kept.image, job.image) {
        note("image", Some(size(kept.image)), Some(size(job.image)));
    }
    differs
}

/// Whether two sizes are one image's.
pub fn same_image(a: Image, b: Image) -> bool {
    let apart = |a: Mm, b: Mm| (a.0 - b.0).abs();
    apart(a.width, b.width).max(apart(a.height, b.height)) <= SAME_MM
}

/// An image's size, as it is named.
pub fn size(image: Image) -> String {
    format!("{:.0} by {:.0} mm", image.width.0, image.height.0)
}
