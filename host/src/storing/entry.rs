//! What a watch stores, and into what.

use crate::keeping::Keeping;
use crate::port::session::HeadIs;
use crate::watch::stations::{EmitterTilt, Kept, Whole};
use skimgauge_metrology::measure::Came;
use skimgauge_metrology::station::Station;
use skimgauge_record::event::{Phase, TurnAdvised, TurnObserved};

/// One thing to be stored, whole or not at all.
#[derive(Debug, Clone)]
pub enum Entry {
    /// A take, the last of the seats in `kept`.
    Take {
        /// The station's index in the watch.
        at: usize,
        /// The station.
        station: Station,
        /// What then stands there.
        kept: Box<Kept>,
        /// The event that it replaces.
        supersedes: Option<u32>,
        /// What measured.
        head: Box<HeadIs>,
    },
    /// The emitter's tilt.
    Tilt {
        /// The tilt.
        tilt: EmitterTilt,
        /// How the head had come to the emitter.
        came: Came,
        /// What measured.
        head: Box<HeadIs>,
    },
    /// A turn was advised.
    Advised {
        /// The adjuster's name.
        adjuster: String,
        /// Clockwise turns.
        turns: f64,
        /// The station where the gap is watched.
        station: String,
        /// The gap to come to, mm.
        target_gap_mm: f64,
    },
    /// A turn was made: the one advised last.
    Observed {
        /// The adjuster's name.
        adjuster: String,
        /// Clockwise turns, if anyone counted.
        turns: Option<f64>,
        /// The station where the gap was watched.
        station: String,
        /// The gap before, mm.
        before_mm: f64,
        /// The gap after, mm.
        after_mm: f64,
        /// The gap advised, mm.
        predicted_mm: f64,
        /// What was noticed.
        flags: Vec<String>,
    },
    /// The verdict over everything.
    Judged(Box<Whole>),
    /// A new round begins.
    Round(Phase),
    /// The installation is left as these takes found it.
    AsLeft {
        /// The takes that stand.
        takes: Vec<(Station, Kept)>,
        /// The emitter's tilt that stands, if it was asked for.
        tilt: Option<EmitterTilt>,
        /// The verdict.
        whole: Box<Whole>,
    },
}

impl Entry {
    /// As the user knows it.
    pub fn what(&self) -> String {
        match self {
            Self::Take { station, .. } => station.name.clone(),
            Self::Tilt { .. } => "the emitter's tilt".to_owned(),
            Self::Advised { adjuster, .. } | Self::Observed { adjuster, .. } => format!("the turn of {adjuster}"),
            Self::Judged(_) => "the verdict".to_owned(),
            Self::Round(_) => "the new round".to_owned(),
            Self::AsLeft { .. } => "what stands as left".to_owned(),
        }
    }

    /// Whether the user makes it again if it could not be stored. Everything else is tried again.
    pub fn is_take(&self) -> bool {
        matches!(self, Self::Take { .. } | Self::Tilt { .. })
    }
}

/// Where entries go.
pub trait Store: Send {
    /// Stores an entry for good; its place, if it has one.
    ///
    /// # Errors
    /// It is not stored, and why.
    fn store(&mut self, entry: &Entry) -> anyhow::Result<Option<u32>>;
}

/// A job in its record, as a store.
pub struct Book {
    keeping: Keeping,
    /// The advice that the next turn follows.
    advice: Option<u32>,
}

impl Book {
    /// Of this job.
    pub fn new(keeping: Keeping) -> Self {
        Self { keeping, advice: None }
    }
}

impl Store for Book {
    fn store(&mut self, entry: &Entry) -> anyhow::Result<Option<u32>> {
        let keeping = &mut self.keeping;
        Ok(match entry {
            Entry::Take { station, kept, supersedes, head, .. } => {
                let Some(take) = kept.seats.last() else { return Ok(None) };
                keeping.head_is(head)?;
                Some(keeping.take(station, take, kept.verdict, *supersedes)?)
            }
            Entry::Tilt { tilt, head, .. } => {
                keeping.head_is(head)?;
                Some(keeping.tilt(*tilt)?)
            }
            Entry::Advised { adjuster, turns, station, target_gap_mm } => {
                let advised = TurnAdvised {
                    adjuster: adjuster.clone(),
                    turns: *turns,
                    station: station.clone(),
                    target_gap_mm: *target_gap_mm,
                    round: keeping.round(),
                };
                self.advice = Some(keeping.append(advised)?);
                self.advice
            }
            Entry::Observed { adjuster, turns, station, before_mm, after_mm, predicted_mm, flags } => {
                let observed = TurnObserved {
                    adjuster: adjuster.clone(),
                    advice: self.advice,
                    turns: *turns,
                    station: station.clone(),
                    gap_before_mm: *before_mm,
                    gap_after_mm: *after_mm,
                    gap_predicted_mm: Some(*predicted_mm),
                    flags: flags.clone(),
                };
                let event = keeping.append(observed)?;
                self.advice = None;
                Some(event)
            }
            Entry::Judged(whole) => {
                keeping.judged(whole)?;
                None
            }
            Entry::Round(phase) => {
                keeping.start_round(*phase);
                None
            }
            Entry::AsLeft { takes, tilt, whole } => {
                keeping.set_phase(Phase::AsLeft);
                for (station, kept) in takes {
                    for seat in &kept.seats {
                        keeping.take(station, seat, kept.verdict, None)?;
                    }
                }
                if let Some(tilt) = tilt {
                    keeping.tilt(*tilt)?;
                }
                keeping.judged(whole)?;
                None
            }
        })
    }
}
