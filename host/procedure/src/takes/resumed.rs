//! Going on from the record after a quit, a crash, a lunch: what stands, and what is stale.
//!
//! Takes of the round that was being worked at stand only where nothing was turned since, the head
//! has the constants that it had, and the user says that nobody touched anything. Until then they
//! are asked about and count for nothing; whatever the user says instead of yes means no.

use super::kept::{EmitterTilt, Kept};
use super::stations::expanded;
use super::{Stations, Takes};
use crate::input::EventId;
use crate::output::{Entry, Touched};
use skimgauge_metrology::measure::{Came, Part, Source, Take};
use skimgauge_metrology::trim::replay::EarlierRound;
use skimgauge_metrology::verdict::decide;
use skimgauge_model::Phase;
use skimgauge_quantity::{Band, Mm, Sentence, say};
use skimgauge_session::HeadIs;
use skimgauge_shared::calibration::Calibration;
use std::time::Duration;

/// A take of an earlier run, as the record has it.
#[derive(Debug, Clone, PartialEq)]
pub struct EarlierTake {
    /// The station's name.
    pub station: String,
    /// The gap, mm.
    pub gap_mm: f64,
    /// Standard uncertainty of this take alone, mm.
    pub own_u_mm: f64,
    /// What it shares with the others of its head: the zero's, mm.
    pub zero_u_mm: f64,
    /// Degrees of freedom of it.
    pub dof: Option<f64>,
    /// Readings averaged.
    pub readings: u32,
    /// Over so long, s.
    pub window_s: f64,
    /// Level and lean of the head, degrees.
    pub tilt_deg: Option<(f64, f64)>,
    /// Its temperature, degrees Celsius.
    pub temperature_c: Option<f64>,
    /// Its event.
    pub event: EventId,
    /// It is one more seat beside the one before at its station.
    pub beside: bool,
}

/// What the record has of this job.
#[derive(Debug, Clone, Default)]
pub struct Resumed {
    /// Takes that stand in the round that was being worked at, in their order; empty where
    /// something was turned after them.
    pub takes: Vec<EarlierTake>,
    /// The emitter's tilt of that round.
    pub tilt: Option<EmitterTilt>,
    /// The constants of the head that made them.
    pub constants: Option<Calibration>,
    /// Rounds that are over, with what was turned after each.
    pub rounds: Vec<EarlierRound>,
    /// A turn was told, and nobody knows what was made of it.
    pub unfinished: Option<String>,
    /// The round that goes on or begins, from 1.
    pub round: u32,
    /// Its state of the installation.
    pub phase: Option<Phase>,
    /// How many times this same setting was judged with every station taken, before what is taken
    /// from now on: quitting and coming back makes no look a first one.
    pub looked: u32,
}

impl Resumed {
    /// Whether there are takes to go on with.
    pub fn stands(&self) -> bool {
        !self.takes.is_empty() || self.tilt.is_some()
    }
}

impl EarlierTake {
    /// As a take; `material_u_mm` is what is not known of the board's material.
    fn take(&self, material_u_mm: f64) -> Take {
        let part = |source, effect_mm| Part { source, effect_mm, dof: None };
        let (level_deg, lean_deg) = self.tilt_deg.unwrap_or_default();
        let parts = vec![
            part(Source::Seating, self.own_u_mm),
            part(Source::Zero, self.zero_u_mm),
            part(Source::Material, material_u_mm),
        ];
        Take {
            gap_mm: self.gap_mm,
            u_mm: self.own_u_mm.hypot(self.zero_u_mm).hypot(material_u_mm),
            dof: self.dof,
            parts,
            readings: self.readings,
            window_s: self.window_s,
            head_at_s: 0.0,
            stand_off_mm: 0.0,
            middle_mm: 0.0,
            sheet_mm: None,
            level_deg,
            lean_deg,
            // A head's tilt is known so well after a take, degrees; the record does not keep it.
            tilt_u_deg: 0.02,
            temperature_c: self.temperature_c,
            notices: Vec::new(),
        }
    }
}

impl Stations {
    /// Takes of an earlier run stand again.
    fn stand_again(&mut self, resumed: &Resumed, material_u_mm: f64, band: Band<Mm>) {
        for earlier in &resumed.takes {
            let Some(at) = self.rows().position(|(station, _)| station.name == earlier.station)
            else {
                continue;
            };
            let Some(kept) = self.with(at, earlier.take(material_u_mm), earlier.beside, band)
            else {
                continue;
            };
            let (take, seats, agree) = (kept.take, kept.seats, kept.agree);
            let expanded_mm = expanded(take.u_mm, take.dof);
            let verdict = decide(Mm(take.gap_mm), Mm(expanded_mm), band);
            let (event, came) = (Some(earlier.event), Came::default());
            self.keep(at, Kept { take, seats, agree, event, came, expanded_mm, verdict });
        }
        if let Some(tilt) = resumed.tilt {
            self.keep_emitter(tilt);
        }
        self.was_looked_at(resumed.looked);
        self.on_to_missing();
    }
}

impl Takes {
    /// Whether the takes of an earlier run were stale, though nobody touched the installation.
    pub(crate) fn were_stale(&self) -> bool {
        self.stale
    }

    /// Whether takes of an earlier run may stand still.
    pub(crate) fn resumes(&self) -> bool {
        self.resumed.is_some()
    }

    /// What is asked of the user before anything of an earlier run counts.
    pub(crate) fn asks_as_left(&self) -> Option<Sentence> {
        let resumed = self.resumed.as_ref().filter(|_| self.is_up())?;
        let count = resumed.takes.len();
        let takes = if count == 1 { say!("1 take stands") } else { say!("{count} takes stand") };
        Some(say!(
            "{takes} from before, round {}. Is everything as it was left: emitter, adjusters and board untouched since?",
            resumed.round
        ))
    }

    /// Whether it is as it was left: then the takes stand, else everything is taken anew.
    pub(crate) fn as_left(&mut self, now: Duration, yes: bool) {
        let Some(resumed) = self.resumed.take() else { return };
        if yes {
            let band = self.job.bands.gap;
            let material_u_mm = self.observer.limits().material.u_mm;
            self.stations.stand_again(&resumed, material_u_mm, band);
            self.out.push(crate::Output::Keep(Entry::GoneOn));
            self.judge();
            self.keeps += resumed.takes.len() as u32;
            self.say(now, false, say!("It goes on where it was left."));
        } else {
            self.stations.was_looked_at(0);
            self.judge();
            self.out.push(crate::Output::Keep(Entry::Touched(Touched::SaidSo)));
            let says = say!("Everything is taken anew; what was taken before stays in the record.");
            self.say(now, false, says);
        }
    }

    /// A head that was zeroed anew since, or another one: its earlier takes are stale.
    pub(super) fn looks_at_constants(&mut self, now: Duration, head: &HeadIs) {
        let stale = self.resumed.as_ref().is_some_and(|resumed| {
            resumed.constants.as_ref() != Some(&head.calibration.calibration)
        });
        if stale {
            let phase = self.resumed.take().and_then(|resumed| resumed.phase);
            if let Some(phase) = phase {
                // A new zero touches nothing of the installation.
                self.out.push(crate::Output::Keep(Entry::Phase(phase)));
            }
            self.stale = true;
            let says = say!(
                "The head was zeroed anew, or is another one, since the last takes: they count no more, and everything is \
                 taken anew."
            );
            self.say(now, true, says);
        }
    }
}
