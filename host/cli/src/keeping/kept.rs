//! What is kept of the work at the board: takes, the emitter, what was level, verdicts.

use super::{Keeping, verdict};
use skimgauge_metrology::measure::Take;
use skimgauge_model::{Station, Verdict};
use skimgauge_procedure::emitter_off::Saw;
use skimgauge_procedure::takes::{EmitterTilt, Whole};
use skimgauge_procedure::view::level::{self, LevelFound};
use skimgauge_quantity::{Celsius, Deg, Mm};
use skimgauge_record::RecordError;
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{self, Body, Came, Head, Phase, Sayer, Struck, TakeFlag};
use skimgauge_record::practice::Heads;
use skimgauge_record::section::{Known, Levelled, Line, Section, Tool};

impl Keeping {
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
            Body::JobRevised(_) | Body::TurnObserved(_) | Body::Touched(_) => Some(None),
            Body::Section(_) | Body::StepUndone(_) => Some(None),
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
