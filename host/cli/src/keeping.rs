//! The record as a watch uses it: a job opened or gone on with, and each take on disk before anyone
//! is told.

pub mod same_job;

use crate::trim::words::place;
use crate::watch::stations::{EmitterTilt, Whole, place_name};
use anyhow::Context;
use jiff::Timestamp;
use jiff::tz::TimeZone;
pub use same_job::{SameJob, is_of};
use skimgauge_jobfile::Job;
use skimgauge_metrology::measure::{At, Fault, Take};
use skimgauge_metrology::plane::fit::{PlaneFit, Prediction};
use skimgauge_metrology::plane::observation::{Observations, SharedError};
use skimgauge_metrology::verdict::JudgedAt;
use skimgauge_model::Image;
use skimgauge_model::{Bands, Station, Verdict};
use skimgauge_quantity::{Band, Mm};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{self, Body, Came, Head, Phase, VerdictWord};
use skimgauge_record::limits::LAST_ROUND;
use skimgauge_record::{JobId, Record, RecordError, Stamp, When};
use skimgauge_session::HeadIs;
use skimgauge_shared::calibration::Calibration;
use skimgauge_shared::message::CalibrationCheck;
use std::path::{Path, PathBuf};

/// Name and version, as the record says which software wrote.
pub const SOFTWARE: &str = concat!("skimgauge ", env!("CARGO_PKG_VERSION"));

/// The decision rule, for the record.
pub const DECISION_RULE: &str = "within: the whole 95 % interval lies in the band; outside: all of it lies beyond; else too close to call (after ISO 14253-1)";

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
    let account = || std::env::var("USER").or_else(|_| std::env::var("USERNAME")).ok();
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
    let record = Record::open_or_create(path)?;
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
    /// found the first time, as left afterwards. With `same_job` the person says that this is
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
        let phase = phase.unwrap_or(if last.is_some() { Phase::AsLeft } else { Phase::AsFound });
        Ok(Self {
            record,
            job: name,
            id: id.to_string(),
            who,
            phase,
            round: next_round(last.unwrap_or(0))?,
            head: None,
            stands: Standing::default(),
            place: 0,
            gap_band: job.gap_band(),
            image: job.image,
        })
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

    /// Place in the job of the event that was kept last, from 1; people know events by it.
    pub fn place(&self) -> u32 {
        self.place
    }

    /// What `pick` finds in the job's last event that has it.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn last<T>(&self, pick: impl Fn(&Body) -> Option<T>) -> Result<Option<T>, RecordError> {
        Ok(self.record.job(&self.id)?.events.iter().rev().find_map(|event| pick(&event.body)))
    }

    /// Where the head was last known to stand: where something was taken last.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn stood_at(&self) -> Result<Option<At>, RecordError> {
        self.last(|body| match body {
            Body::Take(take) => Some(At::Station(take.station.clone())),
            Body::EmitterTilt(_) => Some(At::Emitter),
            _ => None,
        })
    }

    /// Takes from here on are this head's.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn head_is(&mut self, head: &HeadIs) -> Result<(), RecordError> {
        let constants = serde_json::to_value(&head.calibration.calibration)
            .map_err(|error| RecordError::BadEvent(error.to_string()))?;
        let good = head.hello.calibration == CalibrationCheck::Good;
        let calibration = &head.calibration.calibration;
        let kept = Head {
            serial: head
                .hello
                .serial
                .map_or_else(|| "unknown".to_owned(), |serial| serial.to_string()),
            firmware: head.hello.firmware.to_string(),
            calibration_date: good.then(|| calibration.date.to_string()),
            calibration_sha256: Some(hash_of(&head.calibration.calibration)),
        };
        if self.head.as_ref() == Some(&kept) {
            return Ok(());
        }
        self.append(event::CalibrationUsed {
            head: kept.clone(),
            zero_mm: calibration.zero.mm(),
            u_zero_mm: calibration.zero_u.mm(),
            dof: None,
            constants,
        })?;
        self.head = Some(kept);
        Ok(())
    }

    /// Keeps a take from one seat; `verdict` is that of its station with all seats so far, `came`
    /// how it is known that the head has come to it.
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
    ) -> Result<Hash, RecordError> {
        let head = self.head()?;
        let kept = self.append(event::Take {
            station: station.name.clone(),
            x_mm: station.at.x.0,
            y_mm: station.at.y.0,
            phase: self.phase,
            round: self.round,
            gap_mm: take.gap_mm,
            u_gap_mm: take.own_u_mm(),
            dof: take.dof,
            readings: take.readings,
            window_s: take.window_s,
            tilt_deg: None,
            level_deg: Some(take.level_deg),
            lean_deg: Some(take.lean_deg),
            temperature_c: take.temperature_c,
            verdict: Some(word(verdict)),
            head,
            flags: take.notices.iter().map(|fault: &Fault| fault.name().to_owned()).collect(),
            supersedes,
            came,
        })?;
        self.stands.takes.retain(|take| Some(*take) != supersedes);
        self.stands.takes.push(kept);
        Ok(kept)
    }

    /// Keeps the emitter's tilt.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn tilt(&mut self, tilt: EmitterTilt) -> Result<Hash, RecordError> {
        let EmitterTilt { level_deg, lean_deg, u_deg } = tilt;
        let head = self.head()?;
        let tilt = event::EmitterTilt {
            phase: self.phase,
            round: self.round,
            level_deg,
            lean_deg,
            u_deg,
            head,
        };
        let kept = self.append(tilt)?;
        self.stands.tilt = Some(kept);
        Ok(kept)
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

    /// Keeps the verdict over everything, with what it rests on in `detail`: `plane`, `covariance`,
    /// `points`, `residuals` of the takes, their `agreement`, and the `budget` of the gap at
    /// the place that decided. A verdict that is the last one again is not kept twice.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn judged(&mut self, whole: &Whole) -> Result<(), RecordError> {
        let band = self
            .gap_band
            .ok_or_else(|| RecordError::BadEvent("the job has no band to judge by".to_owned()))?;
        let judged = self.verdict(whole, band);
        let known = self.last(|body| match body {
            Body::Judged(known) => Some(known.clone()),
            _ => None,
        })?;
        if known.as_ref() != Some(&judged) {
            self.append(judged)?;
        }
        Ok(())
    }

    fn verdict(&self, whole: &Whole, band: Band<Mm>) -> event::Judged {
        let limiting =
            whole.board.as_ref().ok().and_then(|(_, judged)| judged.points.get(judged.limiting?));
        let detail = serde_json::json!({
            "level": whole.level.as_ref().and_then(|level| level.as_ref().ok()),
            "lean": whole.lean.as_ref().and_then(|lean| lean.as_ref().ok()),
            "plane": whole.board.as_ref().ok().map(|(fit, _)| fit.plane),
            "covariance": whole.board.as_ref().ok().map(|(fit, _)| fit.covariance()),
            "points": whole.board.as_ref().ok().map(|(_, judged)| judged.points.iter().map(|point| serde_json::json!({
                "x_mm": point.point.x_mm, "y_mm": point.point.y_mm, "gap_mm": point.gap.gap_mm,
                "u_mm": point.gap.u_mm, "expanded_mm": point.expanded_mm, "verdict": point.said(),
            })).collect::<Vec<_>>()),
            "residuals": whole.board.as_ref().ok().map(|(fit, _)| residuals(fit, &whole.observations)),
            "agreement": whole.board.as_ref().ok().map(|(fit, _)| fit.agreement),
            "budget": limiting.map(|point| budget(&point.gap, &whole.observations.shared)),
        });
        let because = whole.because(band);
        let worst = limiting
            .map(|point| {
                let (x_mm, y_mm) = (point.point.x_mm, point.point.y_mm);
                let name = place(x_mm, y_mm, self.image);
                (
                    event::Point { name, x_mm, y_mm },
                    [point.gap.gap_mm, point.inside_mm(band), point.expanded_mm],
                )
            })
            .or_else(|| {
                // A reading that is out by itself, where no point that is worked out is.
                let read =
                    whole.board.as_ref().ok().and_then(|(_, judged)| judged.limiting_place(band));
                let read = read.filter(|place| place.verdict == Verdict::Outside)?;
                let (x_mm, y_mm) = (read.x_mm, read.y_mm);
                let at = event::Point { name: read.name.clone(), x_mm, y_mm };
                Some((at, [read.gap_mm, read.inside_mm(band), read.expanded_mm]))
            });
        event::Judged {
            verdict: word(whole.verdict),
            phase: self.phase,
            worst_gap_mm: worst.as_ref().map(|(_, [gap_mm, _, _])| *gap_mm),
            margin_mm: worst.as_ref().map(|(_, [_, margin_mm, _])| *margin_mm),
            expanded_u_mm: worst.as_ref().map(|(_, [_, _, expanded_mm])| *expanded_mm),
            worst: worst.map(|(point, _)| point),
            decision_rule: DECISION_RULE.to_owned(),
            would_settle: (whole.verdict == Verdict::Unsure).then_some(because),
            judged_at: Some(match &whole.judged_at {
                JudgedAt::Places(names) => event::JudgedAt::Places(names.clone()),
                JudgedAt::Board(_) => event::JudgedAt::Board,
            }),
            detail,
        }
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

/// What the plane leaves of each take.
fn residuals(fit: &PlaneFit, observations: &Observations) -> Vec<serde_json::Value> {
    let of =
        fit.residuals.iter().filter_map(|left| Some((left, observations.gaps.get(left.index)?)));
    of.map(|(left, gap)| {
        let station = gap.station.clone().unwrap_or_else(|| place_name(gap.x_mm, gap.y_mm));
        serde_json::json!({"station": station, "residual_mm": left.residual_mm, "normalized": left.normalized})
    })
    .collect()
}

/// Where the uncertainty of a predicted gap comes from; the lines' squares add up to its variance.
fn budget(gap: &Prediction, shared: &[SharedError]) -> Vec<event::BudgetLine> {
    let shared = shared.iter().map(|error| (format!("{}, shared by all", error.name), error.u_mm));
    let own = [
        ("the takes themselves".to_owned(), gap.u_takes_mm),
        ("board between the stations".to_owned(), gap.u_board_mm),
    ];
    own.into_iter()
        .chain(shared)
        .filter(|(_, u_mm)| *u_mm > 0.0)
        .map(|(source, u_mm)| event::BudgetLine {
            source,
            value: u_mm,
            unit: "mm".to_owned(),
            distribution: "normal".to_owned(),
            divisor: 1.0,
            sensitivity: 1.0,
            contribution: u_mm,
            dof: None,
            share: (u_mm / gap.u_mm).powi(2),
        })
        .collect()
}

/// By this the record tells one set of constants from another.
pub fn hash_of(calibration: &Calibration) -> Hash {
    Hash::of(serde_json::to_string(calibration).unwrap_or_default().as_bytes())
}

/// A verdict as the record says it.
pub fn word(verdict: Verdict) -> VerdictWord {
    match verdict {
        Verdict::Within => VerdictWord::Within,
        Verdict::Outside => VerdictWord::Outside,
        Verdict::Unsure => VerdictWord::Unsure,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::stations::Stations;
    use skimgauge_metrology::measure::{Part, Source};

    fn taken(job: &Job) -> Stations {
        let mut stations = Stations::of(job);
        for at in 0..job.stations.len() {
            let part = |source, effect_mm| Part { source, effect_mm, dof: None };
            let take = Take {
                gap_mm: 2.4 + 0.02 * (at % 3) as f64,
                u_mm: 0.05,
                dof: None,
                parts: vec![part(Source::Seating, 0.03), part(Source::Zero, 0.04)],
                readings: 100,
                window_s: 1.0,
                head_at_s: 1.0,
                stand_off_mm: 27.0,
                eye_ratio: Some(0.0),
                level_deg: 0.0,
                lean_deg: 0.0,
                tilt_u_deg: 0.01,
                temperature_c: Some(20.0),
                notices: Vec::new(),
            };
            stations.keep(at, stations.with(at, take, false, job.bands.gap).unwrap());
        }
        stations
    }

    /// What stands is said to be left, and not written again: what is counted is what was made.
    #[test]
    fn as_left_refers_to_what_stands_in_this_round() {
        let folder = tempfile::tempdir().unwrap();
        let text = skimgauge_jobfile::demo_job();
        let job = Job::parse("demo.toml", text).unwrap();
        let stations = taken(&job);
        let mut keeping =
            Keeping::open(&folder.path().join("r.sqlite"), &job, text, None, &SameJob::default())
                .unwrap();
        keeping.head = Some(Head {
            serial: "SG-1".to_owned(),
            firmware: "0.1.0".to_owned(),
            calibration_date: None,
            calibration_sha256: None,
        });
        let take = |keeping: &mut Keeping, at: usize, supersedes| {
            let (station, kept) = stations.rows().nth(at).unwrap();
            let kept = kept.unwrap();
            keeping.take(station, &kept.take, kept.verdict, supersedes, Some(Came::Seen)).unwrap()
        };
        let found: Vec<Hash> = (0..3).map(|at| take(&mut keeping, at, None)).collect();
        assert_eq!(keeping.standing(), (found, None));
        keeping.start_round(Phase::Between).unwrap();
        assert_eq!(keeping.standing(), (Vec::new(), None));
        let first = take(&mut keeping, 0, None);
        let second = take(&mut keeping, 1, None);
        let redone = take(&mut keeping, 0, Some(first));
        let tilt =
            keeping.tilt(EmitterTilt { level_deg: 0.1, lean_deg: 0.0, u_deg: 0.01 }).unwrap();
        assert_eq!(keeping.standing(), (vec![second, redone], Some(tilt)));
        let (takes, tilt) = keeping.standing();
        keeping.as_left(takes, tilt).unwrap();
        let history = keeping.record.job(&keeping.id).unwrap();
        assert_eq!((history.takes().count(), history.summary.takes), (6, 5));
        let left: Vec<Hash> =
            history.standing(Phase::AsLeft).iter().map(|current| current.event.hash).collect();
        assert_eq!(left, [second, redone]);
        assert_eq!(keeping.place(), history.events.last().unwrap().seq);
        assert_eq!(keeping.phase, Phase::AsLeft);
    }

    /// A record from elsewhere may say that the last round was the last there can be.
    #[test]
    fn rounds_do_not_run_over() {
        for last in [LAST_ROUND, u32::MAX - 1, u32::MAX] {
            assert!(next_round(last).is_err(), "{last}");
        }
        assert_eq!(next_round(0).unwrap(), 1);
        assert_eq!(next_round(LAST_ROUND - 1).unwrap(), LAST_ROUND);
    }

    #[test]
    fn a_verdict_is_kept_once_with_what_it_rests_on() {
        let folder = tempfile::tempdir().unwrap();
        let text = skimgauge_jobfile::demo_job();
        let job = Job::parse("demo.toml", text).unwrap();
        let whole = taken(&job).whole(&job, &crate::jobs::unsurveyed(&job));
        let mut keeping =
            Keeping::open(&folder.path().join("r.sqlite"), &job, text, None, &SameJob::default())
                .unwrap();
        for _ in 0..2 {
            keeping.judged(&whole).unwrap();
        }
        keeping.start_round(Phase::AsLeft).unwrap();
        keeping.judged(&whole).unwrap();
        let events = keeping.record.job(&keeping.id).unwrap().events;
        let verdicts: Vec<_> = events
            .iter()
            .filter_map(|event| match &event.body {
                Body::Judged(judged) => Some(judged),
                _ => None,
            })
            .collect();
        assert_eq!(verdicts.len(), 2, "once as found, once as left");
        let names = job.stations.iter().map(|station| station.name.clone()).collect();
        assert_eq!(verdicts[0].judged_at, Some(event::JudgedAt::Places(names)));
        let detail = &verdicts[0].detail;
        let residuals = detail["residuals"].as_array().unwrap();
        assert_eq!(residuals.len(), job.stations.len());
        assert_eq!(residuals[0]["station"], job.stations[0].name.as_str());
        assert!(
            ["agrees", "strained", "contradicts"].contains(&detail["agreement"].as_str().unwrap())
        );
        let lines: Vec<event::BudgetLine> =
            serde_json::from_value(detail["budget"].clone()).unwrap();
        assert!(lines.iter().any(|line| line.source.starts_with("zero")), "{lines:?}");
        let shares: f64 = lines.iter().map(|line| line.share).sum();
        assert!((shares - 1.0).abs() < 1e-9, "the lines are the whole: {shares}");
        let u_mm = lines.iter().map(|line| line.contribution.powi(2)).sum::<f64>().sqrt();
        assert!((1.96 * u_mm - verdicts[0].expanded_u_mm.unwrap()).abs() < 0.01 * u_mm);
    }
}
