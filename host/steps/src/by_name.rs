//! Where a name closes a step that a command closes: the fixings, where nothing is wanting but a proof
//! load that nobody made.

use crate::says::{Says, of_fixings};
use crate::stands_by::changed;
use crate::step::Step;
use skimgauge_jobfile::JobFile;
use skimgauge_record::Event;
use skimgauge_record::event::Body;
use skimgauge_record::section::Section;

/// Which proof loads are not made, where nothing else keeps the fixings open by what was worked out
/// last; `None` where something else does, or the job file is another in it since.
pub fn only_unproved(events: &[Event], now: &JobFile) -> Option<String> {
    let mut file = None;
    let mut last = None;
    for event in events {
        match &event.body {
            Body::JobOpened(opened) => file = Some(opened.job_file.as_str()),
            Body::JobRevised(revised) => file = Some(revised.job_file.as_str()),
            Body::Section(Section::Fixings(fixings)) => last = Some((fixings, file)),
            _ => {}
        }
    }
    let (fixings, file) = last?;
    let kept = JobFile::read("job file", file?).ok()?;
    if !changed(Step::Fixings, &kept, now).is_empty() {
        return None;
    }
    match of_fixings(fixings, Some(now)) {
        Says::Unproved(missing) => Some(missing),
        _ => None,
    }
}
