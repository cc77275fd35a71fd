//! The record as a watch uses it: a job opened or gone on with, and each take on disk before anyone
//! is told.

mod head;
mod kept;
mod record;
mod resumed;
pub mod same_job;
pub mod section;
mod verdict;

use crate::jobs::KnownFrom;
pub use head::hash_of;
pub use record::{open_record, record_path, say_moved_on, stamp, who};
pub use resumed::zeroed_here;
pub use same_job::{SameJob, is_of};
use skimgauge_jobfile::Job;
use skimgauge_metrology::measure::At;
use skimgauge_model::{Bands, Image};
use skimgauge_procedure::emitter_off::Saw;
use skimgauge_quantity::{Band, Mm};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{self, Body, Head, Phase};
use skimgauge_record::limits::LAST_ROUND;
use skimgauge_record::photo::Photo;
use skimgauge_record::{Event, JobHistory, JobId, Record, RecordError};
use std::path::Path;

/// A job being kept.
pub struct Keeping {
    record: Record,
    job: String,
    /// By this the record knows the job, whatever other has its name.
    id: String,
    who: String,
    phase: Phase,
    round: u32,
    head: Option<Head>,
    /// The job was only practised before a real head came: nothing is kept until the work begins anew.
    was_practice: bool,
    /// The survey that the board is known from.
    survey: Option<KnownFrom>,
    /// What was kept in this round and stands.
    stands: Standing,
    /// Place in the job of the event that was kept last.
    place: u32,
    /// None where the job does not say it yet: then there is nothing to judge.
    gap_band: Option<Band<Mm>>,
    image: Image,
}

impl Keeping {
    /// Opens the record and the job in it; a job that is new to it is begun. Without a phase: as
    /// found the first time, as left afterwards, unless the user then says that nothing was touched
    /// since ([`Self::go_on`]). With `same_job` the person says that this is
    /// the job of that name in the record, though client, place or image are others; that is
    /// written down.
    ///
    /// # Errors
    /// What the record can meet; [`same_job::Another`] where the job of that name has another
    /// client, place or image.
    pub fn open<B: Copy + Into<Option<Bands>>>(
        path: &Path,
        job: &Job<B>,
        text: &str,
        phase: Option<Phase>,
        same_job: &SameJob,
    ) -> anyhow::Result<Self> {
        let mut record = open_record(path)?;
        let (name, who) = (job.about.name.clone(), who(job));
        let known = same_job::find(&record, job, text, same_job)?;
        let id = match &known {
            None => {
                let id = JobId::random()?;
                record.open_job(id, &name, text, &stamp(&who)?)?;
                id
            }
            Some((history, said_same)) => {
                let id = history.summary.id;
                record.revise_job(&id.to_string(), text, said_same.clone(), &stamp(&who)?)?;
                id
            }
        };
        let takes = known.iter().flat_map(|(history, _)| history.takes());
        let last = takes.map(|current| current.take.round).max();
        let history = known.map(|(history, _)| history.without_practice());
        let any = history.is_some_and(|history| history.takes().next().is_some());
        let phase = phase.unwrap_or(if any { Phase::AsLeft } else { Phase::AsFound });
        Ok(Self {
            record,
            job: name,
            id: id.to_string(),
            who,
            phase,
            round: next_round(last.unwrap_or(0))?,
            head: None,
            was_practice: false,
            survey: None,
            stands: Standing::default(),
            place: 0,
            gap_band: job.gap_band(),
            image: job.image,
        })
    }

    /// What is kept from here on is said by this person.
    pub fn set_who(&mut self, who: &str) {
        who.clone_into(&mut self.who);
    }

    /// Where the record is.
    pub fn path(&self) -> &Path {
        self.record.path()
    }

    /// The job's name.
    pub fn job(&self) -> &str {
        &self.job
    }

    /// Which pass is being kept.
    pub fn round(&self) -> u32 {
        self.round
    }

    /// A new round begins.
    ///
    /// # Errors
    /// There have been more rounds than any job has.
    pub fn start_round(&mut self, phase: Phase) -> Result<(), RecordError> {
        self.round = next_round(self.round)?;
        self.phase = phase;
        self.stands = Standing::default();
        Ok(())
    }

    /// Takes from here on are of this state.
    pub fn set_phase(&mut self, phase: Phase) {
        self.phase = phase;
    }

    /// Appends any event.
    ///
    /// # Errors
    /// What the record can meet; then nothing was kept.
    pub fn append(&mut self, body: impl Into<Body>) -> Result<Hash, RecordError> {
        let appended = self.record.append(&self.id, &stamp(&self.who)?, body)?;
        self.place = appended.seq;
        Ok(appended.hash)
    }

    /// Attaches a photograph.
    ///
    /// # Errors
    /// What the record can meet; then nothing was kept.
    pub fn attach(&mut self, photo: Photo<'_>) -> Result<Hash, RecordError> {
        let appended = self.record.attach(&self.id, &stamp(&self.who)?, photo)?;
        self.place = appended.seq;
        Ok(appended.hash)
    }

    /// Place in the job of the event that was kept last, from 1; people know events by it.
    pub fn place(&self) -> u32 {
        self.place
    }

    /// What `pick` finds in the job's last event that has it.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn last<T>(&self, pick: impl Fn(&Body) -> Option<T>) -> Result<Option<T>, RecordError> {
        Ok(self.history()?.events.iter().rev().find_map(|event| pick(&event.body)))
    }

    /// The job as far as it counts.
    pub(super) fn history(&self) -> Result<JobHistory, RecordError> {
        Ok(self.record.job(&self.id)?.without_practice())
    }

    /// All events of the job, those of a practice among them.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn events(&self) -> Result<Vec<Event>, RecordError> {
        Ok(self.record.job(&self.id)?.events)
    }

    /// Where the head was last known to stand: where something was taken last, or a turn watched.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn stood_at(&self) -> Result<Option<At>, RecordError> {
        self.last(|body| match body {
            Body::Take(take) => Some(At::Station(take.station.clone())),
            Body::EmitterTilt(_) => Some(At::Emitter),
            Body::TurnAdvised(advised) => advised.station.clone().map(At::Station),
            Body::TurnObserved(turn) => turn.station.clone().map(At::Station),
            _ => None,
        })
    }

    /// What was seen when the job was last looked at with the emitter switched off, or that it was
    /// left out; `None` where nobody was asked yet.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn saw_with_emitter_off(&self) -> Result<Option<Saw>, RecordError> {
        let last = self.last(|body| match body {
            Body::EmitterOff(off) => Some(match &off.saw {
                event::Looked::Line => Some(Saw::Line { gap: off.gap.unwrap_or(Mm(0.0)) }),
                event::Looked::Nothing => Some(Saw::Nothing),
                event::Looked::LeftOut => Some(Saw::LeftOut),
                // A newer program's word: asked anew.
                event::Looked::Other(_) => None,
            }),
            _ => None,
        })?;
        Ok(last.flatten())
    }

    /// What was kept in this round and stands: the takes that no later one replaced, and the last
    /// tilt.
    pub fn standing(&self) -> (Vec<Hash>, Option<Hash>) {
        (self.stands.takes.clone(), self.stands.tilt)
    }
}

/// What was kept in one round and stands.
#[derive(Debug, Default)]
struct Standing {
    takes: Vec<Hash>,
    tilt: Option<Hash>,
}

/// The round after this one.
fn next_round(round: u32) -> Result<u32, RecordError> {
    let next = round.checked_add(1).filter(|round| *round <= LAST_ROUND);
    next.ok_or_else(|| RecordError::BadEvent(format!("no job has more than {LAST_ROUND} rounds")))
}

#[cfg(test)]
mod tests;
