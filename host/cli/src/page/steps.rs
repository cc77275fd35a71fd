//! The job's steps on the pages. A thread of its own reads them from the record, whenever that has
//! changed: no reading waits for it.

use crate::report;
use crate::steps::Whose;
use skimgauge_page::steps::{Next, Step, Steps, StepsShown};
use skimgauge_steps::state::{self, Standing, State};
use skimgauge_steps::{Typed, gate};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, SystemTime};

/// The record is looked at so often.
const EVERY: Duration = Duration::from_secs(2);

/// The pages are shown the job's steps as long as this is held.
pub(super) struct Followed {
    end: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Followed {
    /// From now on; `None` where the system gives no thread: the pages then show no steps.
    pub(super) fn new(whose: Whose, shown: StepsShown) -> Option<Self> {
        let (end, ended) = channel();
        let follow = move || {
            let mut before = None;
            loop {
                let now = seen(&whose.record);
                if before != Some(now) {
                    before = Some(now);
                    shown.show(&steps(&whose));
                }
                if ended.recv_timeout(EVERY) != Err(RecvTimeoutError::Timeout) {
                    break;
                }
            }
        };
        let thread = std::thread::Builder::new().name("steps".to_owned()).spawn(follow).ok()?;
        Some(Self { end: Some(end), thread: Some(thread) })
    }
}

impl Drop for Followed {
    fn drop(&mut self) {
        drop(self.end.take());
        if let Some(thread) = self.thread.take() {
            // What it had to show no longer matters.
            let _ = thread.join();
        }
    }
}

type Seen = [Option<(u64, SystemTime)>; 2];

/// Length and time of the record and of what is not merged into it yet: they change with every
/// event.
fn seen(record: &Path) -> Seen {
    let mut log = record.as_os_str().to_owned();
    log.push("-wal");
    [record.to_owned(), PathBuf::from(log)].map(|path| {
        let about = std::fs::metadata(path).ok()?;
        Some((about.len(), about.modified().ok()?))
    })
}

/// How the job stands now.
fn steps(whose: &Whose) -> Steps {
    whose.steps(told).unwrap_or_else(|why| Steps {
        steps: Vec::new(),
        next: None,
        trouble: Some(format!("{why:#}")),
    })
}

fn told(typed: &Typed<'_>, found: &[Standing]) -> Steps {
    let next = state::next(found).map(|standing| standing.step);
    let step = |Standing { step, state }: &Standing| Step {
        word: step.word(),
        says: step.says(),
        state: state.word(),
        shape: shape(state),
        behind: report::next::behind(state).unwrap_or_default(),
        now: Some(*step) == next,
    };
    Steps {
        steps: found.iter().map(step).collect(),
        next: next.map(|step| Next {
            word: step.word(),
            says: step.says(),
            first: step.first(),
            command: step.command(typed),
        }),
        trouble: gate::hangs_unproved(found),
    }
}

/// Beside the word: none of them is a verdict's.
fn shape(state: &State) -> char {
    match state {
        State::Open { .. } => '○',
        State::Done(_) => '✓',
        State::Said { .. } => '"',
        State::Simulated(_) => '~',
        State::Stale { .. } => '!',
        State::LeftOut { .. } => '–',
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whose(folder: &Path) -> Whose {
        let (file, record) = (folder.join("board.toml"), folder.join("record.sqlite"));
        std::fs::write(&file, skimgauge_jobfile::demo_job()).unwrap();
        Whose { file, named: Some(record.clone()), record }
    }

    #[test]
    fn without_a_record_every_step_is_open_and_the_first_comes_next() {
        let folder = tempfile::tempdir().unwrap();
        let whose = whose(folder.path());
        let steps = steps(&whose);
        assert_eq!(steps.trouble, None);
        assert!(steps.steps.iter().all(|step| step.state == "open" && step.behind.is_empty()));
        let now: Vec<&str> = steps.steps.iter().filter(|step| step.now).map(|s| s.word).collect();
        let next = steps.next.unwrap();
        assert_eq!(now, [next.word]);
        let (file, record) = (whose.file.display(), whose.record.display());
        assert_eq!(next.command, format!("skimgauge setout --job {file} --record {record}"));
        assert_eq!(seen(&whose.record), [None, None]);
    }

    #[test]
    fn a_record_that_cannot_be_read_is_said_and_its_change_is_seen() {
        let folder = tempfile::tempdir().unwrap();
        let whose = whose(folder.path());
        let before = seen(&whose.record);
        std::fs::write(&whose.record, "this is no record").unwrap();
        assert_ne!(seen(&whose.record), before);
        let steps = steps(&whose);
        assert!(steps.steps.is_empty() && steps.next.is_none());
        assert!(steps.trouble.unwrap().contains("record"), "in a sentence");
    }
}
