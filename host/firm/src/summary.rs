//! What a job's events sum up to, so that it is found again without reading them. Pure.
//!
//! It is told by whoever sends a job, from its events alone, and told again by whoever checks.

use skimgauge_jobfile::JobFile;
use skimgauge_record::JobHistory;
use skimgauge_record::event::Body;

/// A branch of a job in a few words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Summary {
    /// Its name.
    pub name: String,
    /// For whom, as the job file last recorded says.
    pub client: Option<String>,
    /// Where the board hangs.
    pub place: Option<String>,
    /// The emitter's model.
    pub emitter: Option<String>,
    /// Serial numbers of the heads that measured, in ascending order.
    pub heads: Vec<String>,
    /// When it was opened, RFC 3339.
    pub opened: String,
    /// When its last event was written.
    pub last: String,
    /// How many events it has.
    pub events: i64,
    /// How many takes.
    pub takes: i64,
    /// The last verdict on the whole.
    pub verdict: Option<String>,
    /// What that speaks of, as JSON.
    pub judged_at: Option<String>,
    /// Whether it is closed.
    pub closed: bool,
    /// Events that a newer program wrote.
    pub unknown: i64,
}

/// A text as the database can hold it.
fn text(text: &str) -> String {
    text.replace('\0', "\u{fffd}")
}

impl Summary {
    /// Of this history, which holds to its end.
    pub fn of(history: &JobHistory) -> Self {
        let about = &history.summary;
        let file = history.job_file().and_then(|text| JobFile::read("job file", text).ok());
        let said = |field: Option<&String>| field.map(|said| text(said.trim()));
        let mut heads: Vec<String> = history
            .events
            .iter()
            .filter_map(|event| match &event.body {
                Body::Take(take) => Some(&take.head),
                Body::EmitterTilt(tilt) => Some(&tilt.head),
                Body::CalibrationUsed(used) => Some(&used.head),
                Body::Calibrated(calibrated) => Some(&calibrated.head),
                Body::ZeroChecked(checked) => Some(&checked.head),
                _ => None,
            })
            .map(|head| text(&head.serial))
            .collect();
        heads.sort();
        heads.dedup();
        let judged_at = history.last_judged().and_then(|judged| judged.judged_at.as_ref());
        Self {
            name: text(&about.name),
            client: said(file.as_ref().and_then(|file| file.about.client.as_ref())),
            place: said(file.as_ref().and_then(|file| file.about.place.as_ref())),
            emitter: said(file.as_ref().and_then(|file| file.emitter.model.as_ref())),
            heads,
            opened: about.opened.to_string(),
            last: about.last.to_string(),
            events: i64::from(about.events),
            takes: i64::from(about.takes),
            verdict: about.verdict.map(|verdict| verdict.word().to_owned()),
            judged_at: judged_at.and_then(|at| serde_json::to_string(at).ok()).map(|at| text(&at)),
            closed: about.closed,
            unknown: i64::try_from(history.unknown()).unwrap_or(i64::MAX),
        }
    }
}
