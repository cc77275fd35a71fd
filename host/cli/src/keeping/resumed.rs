//! What the record has of a job, to go on from.

use super::Keeping;
use skimgauge_metrology::measure::Material;
use skimgauge_metrology::plane::observation::{GapObservation, Observations};
use skimgauge_metrology::trim::replay::{EarlierRound, EarlierTurn, ReadTurn};
use skimgauge_model::{Adjuster, Phase, Station};
use skimgauge_procedure::EventId;
use skimgauge_procedure::emitter_off::Saw;
use skimgauge_procedure::takes::{Begin, EarlierTake, EmitterTilt, Resumed, ZeroedHere};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{Body, CalibrationUsed, Take, TurnFlag, TurnObserved, Unasked};
use skimgauge_record::{Event, RecordError};
use skimgauge_shared::calibration::Calibration;

/// An expanded uncertainty of 95 % is so many standard ones (JCGM 100, G.1.3).
const EXPANDED_BY: f64 = 1.96;

/// What was done in one round.
#[derive(Default)]
struct Round {
    number: u32,
    phase: Option<Phase>,
    takes: Vec<(Hash, Take)>,
    tilt: Option<(Hash, EmitterTilt)>,
    turns: Vec<EarlierTurn>,
    /// A turn was told, and none observed after it.
    told: Option<String>,
    left: bool,
    /// Something was moved after it that no turn tells of.
    touched: bool,
    /// ... and nothing in the takes after it shows what.
    lost: bool,
    /// The constants that its last take was made with.
    used: Option<CalibrationUsed>,
    /// Takes made when every station had one.
    again: u32,
    complete: bool,
}

/// Constants that were found, or found to hold, on the board of these events' job.
pub fn zeroed_here(events: &[Event]) -> Vec<ZeroedHere> {
    let here = |constants: &serde_json::Value, material, seats_mm| {
        // Those of an older program's heads are none of today's.
        let constants = serde_json::from_value::<Calibration>(constants.clone()).ok()?;
        Some(ZeroedHere { constants, material, seats_mm })
    };
    let found = events.iter().filter_map(|event| match &event.body {
        Body::Calibrated(found) => {
            let seats_mm = found.seats.iter().map(|seat| seat.0).collect();
            here(found.after.as_ref()?, Material::default(), seats_mm)
        }
        Body::ZeroChecked(checked) => {
            let u_mm = checked.expanded_u.0 / EXPANDED_BY;
            here(&checked.constants, Material::checked(checked.error.0, u_mm), Vec::new())
        }
        _ => None,
    });
    found.collect()
}

impl Keeping {
    /// What the record has of the job, and whether anything was ever turned in it.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn resumed(
        &self,
        adjusters: &[Adjuster],
        stations: &[Station],
    ) -> Result<(Resumed, bool), RecordError> {
        let history = self.history()?;
        let stand = history.standing_turns();
        let mut rounds: Vec<Round> = Vec::new();
        let mut told = Told { stand: &stand, adjusters, stations, used: None };
        for event in &history.events {
            follow(&mut rounds, event, &mut told);
        }
        let looked = looked(&rounds);
        let turned = rounds.iter().any(|round| !round.turns.is_empty() || round.told.is_some());
        let Some(last) = rounds.pop() else { return Ok((Resumed::default(), false)) };
        let mut earlier: Vec<EarlierRound> = rounds.iter().map(Round::earlier).collect();
        let stands = !last.is_turned() && !last.left;
        let mut resumed =
            Resumed { round: last.number, phase: last.phase, looked, ..Resumed::default() };
        if stands {
            resumed.takes = last.standing();
            resumed.tilt = last.tilt.map(|(_, tilt)| tilt);
            resumed.constants = last
                .used
                .and_then(|used| serde_json::from_value::<Calibration>(used.constants).ok());
        } else {
            earlier.push(last.earlier());
            resumed.round += 1;
            resumed.unfinished = last.told;
            resumed.phase = None;
        }
        resumed.rounds = earlier;
        Ok((resumed, turned))
    }

    /// The same to begin a trim with: it goes on from the record, as found until something was
    /// turned, whatever was taken before.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn goes_on(&mut self, begin: Begin) -> Result<Begin, RecordError> {
        let (resumed, turned) = self.resumed(&begin.job.adjusters, &begin.job.stations)?;
        self.set_phase(if turned { Phase::Between } else { Phase::AsFound });
        let (stood, zeroed_here) = (self.stood_at()?, self.zeroed_here()?);
        let line_stays = self.saw_with_emitter_off()?.is_some_and(Saw::is_line);
        Ok(Begin { resumed: Some(resumed), stood, zeroed_here, line_stays, ..begin })
    }

    /// Constants that were found, or found to hold, on this job's board.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn zeroed_here(&self) -> Result<Vec<ZeroedHere>, RecordError> {
        Ok(zeroed_here(&self.history()?.events))
    }

    /// The round that the last takes were made in goes on: with what stands of it.
    ///
    /// # Errors
    /// What the record can meet.
    pub fn go_on(&mut self) -> Result<(), RecordError> {
        let history = self.history()?;
        let stand = history.standing_turns();
        let mut rounds: Vec<Round> = Vec::new();
        let mut told = Told { stand: &stand, adjusters: &[], stations: &[], used: None };
        for event in &history.events {
            follow(&mut rounds, event, &mut told);
        }
        if let Some(last) = rounds.pop() {
            self.round = last.number;
            self.phase = last.phase.unwrap_or(self.phase);
            self.stands.takes = last.with_its_constants().map(|(hash, _)| *hash).collect();
            self.stands.tilt = last.tilt.map(|(hash, _)| hash);
        }
        Ok(())
    }
}

/// What an event is held against.
struct Told<'a> {
    /// The turns that stand.
    stand: &'a [&'a TurnObserved],
    adjusters: &'a [Adjuster],
    stations: &'a [Station],
    /// The constants that takes are made with at this place of the record.
    used: Option<&'a CalibrationUsed>,
}

/// How often the setting that the last round found was judged with every station taken, so far:
/// a round after which nothing was moved looked at the same setting as the next. The look that the
/// last round is still at, if it is, is not counted.
fn looked(rounds: &[Round]) -> u32 {
    let Some((last, before)) = rounds.split_last() else { return 0 };
    if last.is_turned() {
        return 0;
    }
    let whole = |round: &Round| u32::from(round.complete) + round.again;
    let same = before.iter().rev().take_while(|round| !round.is_turned());
    same.map(whole).sum::<u32>() + last.again + u32::from(last.left && last.complete)
}

/// One event after the other.
fn follow<'a>(rounds: &mut Vec<Round>, event: &'a Event, of: &mut Told<'a>) {
    match &event.body {
        Body::CalibrationUsed(calibration) => of.used = Some(calibration),
        Body::Take(take) if event.copy_of.is_none() => {
            let round = numbered(rounds, take.round, take.phase);
            round.takes.retain(|(hash, _)| Some(*hash) != take.supersedes);
            round.takes.push((event.hash, take.clone()));
            round.left = false;
            round.is_looked_at(of);
        }
        Body::StruckOut(struck) => {
            for round in rounds {
                round.takes.retain(|(hash, _)| !struck.takes.contains(hash));
            }
        }
        Body::Touched(touched) => {
            if let Some(round) = rounds.last_mut() {
                round.touched = true;
                // The next takes tell what made a light stand elsewhere; what somebody moved
                // nobody can tell.
                round.lost |= touched.why != Unasked::ReadsOtherwise;
            }
        }
        Body::EmitterTilt(tilt) if event.copy_of.is_none() => {
            let kept = EmitterTilt {
                level_deg: tilt.level.0,
                lean_deg: tilt.lean.0,
                u_deg: tilt.u.0,
                own_u_deg: tilt.u.0,
            };
            numbered(rounds, tilt.round, tilt.phase).tilt = Some((event.hash, kept));
        }
        Body::TurnAdvised(advised) => {
            if let Some(round) = rounds.last_mut() {
                round.told = Some(advised.adjuster.clone());
            }
        }
        Body::TurnObserved(turn) => {
            if let Some(round) = rounds.last_mut() {
                round.turned(turn, of);
            }
        }
        Body::AsLeft(_) => {
            if let Some(round) = rounds.last_mut() {
                round.left = true;
            }
        }
        _ => (),
    }
}

/// The round of this number, begun where it is a new one.
fn numbered(rounds: &mut Vec<Round>, number: u32, phase: Phase) -> &mut Round {
    if rounds.last().is_none_or(|last| last.number != number) {
        rounds.push(Round { number, phase: Some(phase), ..Round::default() });
    }
    let at = rounds.len() - 1;
    &mut rounds[at]
}

impl Round {
    /// Whether anything was moved after its takes, or may have been.
    fn is_turned(&self) -> bool {
        !self.turns.is_empty() || self.told.is_some() || self.touched
    }

    /// A take was made.
    fn is_looked_at(&mut self, of: &Told<'_>) {
        self.used = of.used.cloned();
        self.again += u32::from(self.complete);
        let taken = |station: &Station| self.takes.iter().any(|(_, t)| t.station == station.name);
        self.complete = !of.stations.is_empty() && of.stations.iter().all(taken);
    }

    /// Its takes that were made with the constants of the last of them: of what was made with
    /// others nobody knows what it would read.
    fn with_its_constants(&self) -> impl Iterator<Item = &(Hash, Take)> {
        let made_with = |take: &Take| take.head.calibration_sha256;
        let last = self.takes.last().map(|(_, take)| made_with(take));
        self.takes.iter().filter(move |(_, take)| Some(made_with(take)) == last)
    }

    fn turned(&mut self, turn: &TurnObserved, of: &Told<'_>) {
        // One that was taken back is to be made still.
        let back = turn.flags.contains(&TurnFlag::TakenBack);
        self.told = back.then(|| turn.adjuster.clone());
        if !of.stand.iter().any(|one| std::ptr::eq(*one, turn)) {
            return;
        }
        let (adjusters, stations) = (of.adjusters, of.stations);
        let adjuster = adjusters.iter().position(|one| one.name == turn.adjuster).unwrap_or(0);
        let station = turn.station.as_ref();
        let station = station.and_then(|name| stations.iter().find(|one| one.name == *name));
        // What moved the head or the emitter tells nothing of the turn.
        let station = station.filter(|_| !turn.flags.contains(&TurnFlag::Moved));
        let read = station.zip(turn.gap_before).zip(turn.gap_after).map(|((at, from), to)| {
            ReadTurn { x_mm: at.at.x.0, y_mm: at.at.y.0, before_mm: from.0, after_mm: to.0 }
        });
        self.turns.push(EarlierTurn {
            adjuster,
            turns: turn.turns.map(|turns| turns.0),
            read,
            reversed: turn.flags.contains(&TurnFlag::OtherWay),
            noticed: !turn.flags.is_empty(),
        });
    }

    fn earlier(&self) -> EarlierRound {
        let gap = |(_, take): &(Hash, Take)| GapObservation {
            station: Some(take.station.clone()),
            dof: take.dof.unwrap_or(f64::INFINITY),
            ..GapObservation::bare(take.x.0, take.y.0, take.gap.0, take.u_gap.0.max(1e-3))
        };
        let gaps = self.takes.iter().map(gap).collect();
        let observations = Observations { gaps, lean: None, shared: Vec::new() };
        // An unfinished turn that the next round followed all the same.
        let lost = self.lost || self.told.is_some();
        EarlierRound { observations, turns: self.turns.clone(), lost }
    }

    fn standing(&self) -> Vec<EarlierTake> {
        let zero_u_mm = self.used.as_ref().map_or(0.0, |used| used.u_zero.0);
        let mut seen: Vec<&str> = Vec::new();
        let mut standing = Vec::with_capacity(self.takes.len());
        for (hash, take) in self.with_its_constants() {
            let beside = seen.contains(&take.station.as_str());
            seen.push(&take.station);
            standing.push(EarlierTake {
                station: take.station.clone(),
                gap_mm: take.gap.0,
                own_u_mm: take.u_gap.0,
                zero_u_mm,
                dof: take.dof,
                readings: take.readings,
                window_s: take.window_s,
                tilt_deg: take.level.zip(take.lean).map(|(level, lean)| (level.0, lean.0)),
                temperature_c: take.temperature.map(|temperature| temperature.0),
                event: EventId(hash.0),
                beside,
            });
        }
        standing
    }
}
