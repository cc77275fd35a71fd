//! The record as a watch uses it: a job opened or gone on with, and each take on disk before anyone
//! is told.

mod head;
mod resumed;
pub mod same_job;
pub mod section;
mod verdict;

use crate::jobs::KnownFrom;
use crate::written;
use anyhow::Context;
pub use head::hash_of;
use jiff::Timestamp;
use jiff::tz::TimeZone;
pub use resumed::zeroed_here;
pub use same_job::{SameJob, is_of};
use skimgauge_jobfile::Job;
use skimgauge_metrology::measure::{At, Take};
use skimgauge_model::Image;
use skimgauge_model::{Bands, Station, Verdict};
use skimgauge_procedure::emitter_off::Saw;
use skimgauge_procedure::takes::{EmitterTilt, Whole};
use skimgauge_procedure::view::level::{self, LevelFound};
use skimgauge_quantity::{Band, Celsius, Deg, Mm};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{self, Body, Came, Head, Phase, Sayer, Struck, TakeFlag};
use skimgauge_record::limits::LAST_ROUND;
use skimgauge_record::photo::Photo;
use skimgauge_record::practice::Heads;
use skimgauge_record::section::{Known, Levelled, Line, Section, Tool};
use skimgauge_record::{Event, JobHistory, JobId, Record, RecordError, Stamp, When};
use skimgauge_system::access::{account, goes_by_its_folder};
use skimgauge_system::output;
use std::path::{Path, PathBuf};

/// Name and version, as the record says which software wrote.
pub const SOFTWARE: &str = concat!("skimgauge ", env!("CARGO_PKG_VERSION"));

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

/// The record's path: the one named, or the platform's place.
///
/// # Errors
/// The account has no home folder.
pub fn record_path(named: Option<&Path>) -> anyhow::Result<PathBuf> {
    match named {
        Some(path) => Ok(path.to_owned()),
        None => skimgauge_record::place::default_path().context(
            "This account has no home folder to keep the record in. Say where with --record FILE.",
        ),
    }
}

/// Now, who and with what.
///
/// # Errors
/// `who` is blank.
pub fn stamp(who: &str) -> Result<Stamp, RecordError> {
    let now = Timestamp::now();
    Stamp::new(When::new(now, TimeZone::system().to_offset(now)), who, SOFTWARE)
}

/// Who is at work: as the job says, or the account.
pub fn who<B>(job: &Job<B>) -> String {
    job.about
        .by
        .clone()
        .or_else(account)
        .filter(|name| !name.trim().is_empty())
        .unwrap_or_else(|| "not named".to_owned())
}

/// Opens the record at this path, made if there is none, and says on the standard error where the
/// file is kept as it was, if it had to be brought up to date.
///
/// # Errors
/// What the record can meet.
pub fn open_record(path: &Path) -> Result<Record, RecordError> {
    let is_new = !path.exists();
    let record = Record::open_or_create(path).inspect_err(|error| {
        // A name with nothing behind it would be no record to whoever looks later.
        if is_new && matches!(error, RecordError::DiskFull(_)) {
            let _ = output::remove(path, written::NOTHING);
        }
    })?;
    if is_new && goes_by_its_folder(path) {
        eprintln!(
            "The new record {} may be read by others who have an account on this computer, as its folder may. Without --record \
             it lies where they may not.",
            path.display()
        );
    }
    say_moved_on(&record);
    Ok(record)
}

/// Says where the file is kept as it was, if the record was brought up to date.
pub fn say_moved_on(record: &Record) {
    if let Some(moved_on) = record.moved_on() {
        eprintln!(
            "The record {} was in an older format ({}) and is brought up to date. As it was it is kept as {}.",
            record.path().display(),
            moved_on.from,
            moved_on.copy.display()
        );
    }
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

    /// Keeps a take from one seat; `verdict` is that of its station with all seats so far, `came`
    /// how it is known that the head has come to it, `by` who said the word for it.
    ///
    /// # Errors
    /// What the record can meet; then it is not kept.
    pub fn take(
        &mut self,
        station: &Station,
        take: &Take,
        verdict: Verdict,
        supersedes: Option<Hash>,
        came: Option<Came>,
        by: Option<&Sayer>,
    ) -> Result<Hash, RecordError> {
        let head = self.head()?;
        let kept = self.append(event::Take {
            station: station.name.clone(),
            x: station.at.x,
            y: station.at.y,
            phase: self.phase,
            round: self.round,
            gap: Mm(take.gap_mm),
            u_gap: Mm(take.own_u_mm()),
            dof: take.dof,
            readings: take.readings,
            window_s: take.window_s,
            tilt: None,
            level: Some(Deg(take.level_deg)),
            lean: Some(Deg(take.lean_deg)),
            temperature: take.temperature_c.map(Celsius),
            verdict: Some(verdict),
            head,
            flags: take.notices.iter().map(|notice| TakeFlag::from(notice.name())).collect(),
            supersedes,
            came,
            by: by.cloned(),
        })?;
        self.stands.takes.retain(|take| Some(*take) != supersedes);
        self.stands.takes.push(kept);
        Ok(kept)
    }

    /// Keeps the emitter's tilt; `by` who said the word for it.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn tilt(&mut self, tilt: EmitterTilt, by: Option<&Sayer>) -> Result<Hash, RecordError> {
        let EmitterTilt { level_deg, lean_deg, u_deg, .. } = tilt;
        let head = self.head()?;
        let tilt = event::EmitterTilt {
            phase: self.phase,
            round: self.round,
            level: Deg(level_deg),
            lean: Deg(lean_deg),
            u: Deg(u_deg),
            head,
            by: by.cloned(),
        };
        let kept = self.append(tilt)?;
        self.stands.tilt = Some(kept);
        Ok(kept)
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

    /// Keeps what was seen with the emitter switched off.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn emitter_off(&mut self, saw: Saw) -> Result<Hash, RecordError> {
        let head = self.head()?;
        let (saw, gap) = match saw {
            Saw::Nothing => (event::Looked::Nothing, None),
            Saw::Line { gap } => (event::Looked::Line, Some(gap)),
            Saw::LeftOut => (event::Looked::LeftOut, None),
        };
        self.append(event::EmitterOff { saw, gap, head })
    }

    /// Keeps what was set level or plumb, where it was judged.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn levelled(&mut self, found: &LevelFound) -> Result<Option<Hash>, RecordError> {
        let axis = found.axis();
        let Some((target, verdict)) = found.target.zip(axis.verdict) else { return Ok(None) };
        let levelled = Levelled {
            of: found.thing.clone(),
            line: match found.line {
                level::Line::Level => Line::Level,
                level::Line::Plumb => Line::Plumb,
            },
            value: axis.tilt,
            known: Known::Expanded(axis.expanded),
            target,
            verdict,
            tool: Tool::Head(self.head()?),
        };
        self.append(Section::from(levelled)).map(Some)
    }

    /// What was kept in this round and stands: the takes that no later one replaced, and the last
    /// tilt.
    pub fn standing(&self) -> (Vec<Hash>, Option<Hash>) {
        (self.stands.takes.clone(), self.stands.tilt)
    }

    /// Keeps that the installation is left as these takes found it, and the emitter as this tilt;
    /// what follows is of that state. The takes themselves are not written again.
    ///
    /// # Errors
    /// What the record can meet; one of them is no take that stands.
    pub fn as_left(&mut self, takes: Vec<Hash>, tilt: Option<Hash>) -> Result<Hash, RecordError> {
        let kept = self.append(event::AsLeft { takes, tilt })?;
        self.phase = Phase::AsLeft;
        Ok(kept)
    }

    /// Keeps that what was taken at a station in this round was wrong, and counts no more; where
    /// nothing stands there, nothing.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn strike_out(
        &mut self,
        station: &str,
        why: Struck,
        by: Option<&Sayer>,
    ) -> Result<Option<Hash>, RecordError> {
        let history = self.record.job(&self.id)?;
        let there = |hash: &Hash| {
            let event = history.event(*hash).map(|event| &event.body);
            matches!(event, Some(Body::Take(take)) if take.station == station)
        };
        let takes: Vec<Hash> = self.stands.takes.iter().copied().filter(there).collect();
        if takes.is_empty() {
            return Ok(None);
        }
        let kept = self.append(event::StruckOut { takes: takes.clone(), why, by: by.cloned() })?;
        self.stands.takes.retain(|take| !takes.contains(take));
        Ok(Some(kept))
    }

    /// Keeps the verdict over everything, with what it rests on. A verdict that is the last one
    /// again is not kept twice.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn judged(&mut self, whole: &Whole) -> Result<(), RecordError> {
        let band = self
            .gap_band
            .ok_or_else(|| RecordError::BadEvent("the job has no band to judge by".to_owned()))?;
        let simulated = self.record.job(&self.id)?.heads() == Heads::Simulated;
        let survey = self.survey.map(|survey| survey.table);
        let judged = verdict::judged(whole, self.phase, (band, self.image), simulated, survey);
        // What came since may have undone it: then the same verdict is news.
        let known = self.last(|body| match body {
            Body::Judged(known) => Some(Some(known.clone())),
            Body::JobRevised(_) | Body::TurnObserved(_) | Body::Touched(_) | Body::Section(_) => {
                Some(None)
            }
            _ => None,
        })?;
        if known.flatten().as_ref() != Some(&judged) {
            self.append(judged)?;
        }
        Ok(())
    }

    fn head(&self) -> Result<Head, RecordError> {
        self.head.clone().ok_or_else(|| RecordError::BadEvent("no head is known yet".to_owned()))
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
