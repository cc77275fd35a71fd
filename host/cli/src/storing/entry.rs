//! What a watch stores, and into what.

use crate::keeping::Keeping;
use crate::watch::stations::{EmitterTilt, Kept, Whole};
use skimgauge_metrology::measure::Came;
use skimgauge_model::{Station, Verdict};
use skimgauge_quantity::{Mm, Turns};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{self, Phase, TurnAdvised, TurnFlag, TurnObserved};
use skimgauge_session::HeadIs;

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
        /// What may be said of it beside the other takes.
        told: Verdict,
        /// The event that it replaces.
        supersedes: Option<Hash>,
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
    /// The installation is left as the takes of this round that stand found it.
    AsLeft,
}

impl Entry {
    /// As the user knows it.
    pub fn what(&self) -> String {
        match self {
            Self::Take { station, .. } => station.name.clone(),
            Self::Tilt { .. } => "the emitter's tilt".to_owned(),
            Self::Advised { adjuster, .. } | Self::Observed { adjuster, .. } => {
                format!("the turn of {adjuster}")
            }
            Self::Judged(_) => "the verdict".to_owned(),
            Self::Round(_) => "the new round".to_owned(),
            Self::AsLeft => "what stands as left".to_owned(),
        }
    }

    /// Whether the user makes it again if it could not be stored. Everything else is tried again.
    pub fn is_take(&self) -> bool {
        matches!(self, Self::Take { .. } | Self::Tilt { .. })
    }
}

/// Where an entry went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stored {
    /// Its event's hash.
    pub event: Hash,
    /// Its event's place in the job, from 1.
    pub place: u32,
}

/// Where entries go.
pub trait Store: Send {
    /// Stores an entry for good; where, if it is an event of its own.
    ///
    /// # Errors
    /// It is not stored, and why.
    fn store(&mut self, entry: &Entry) -> anyhow::Result<Option<Stored>>;
}

/// A job in its record, as a store.
pub struct Book {
    keeping: Keeping,
    /// The advice that the next turn follows.
    advice: Option<Hash>,
}

impl Book {
    /// Of this job.
    pub fn new(keeping: Keeping) -> Self {
        Self { keeping, advice: None }
    }

    fn write(&mut self, entry: &Entry) -> anyhow::Result<Option<Hash>> {
        let keeping = &mut self.keeping;
        Ok(match entry {
            Entry::Take { station, kept, told, supersedes, head, .. } => {
                let Some(take) = kept.seats.last() else { return Ok(None) };
                keeping.head_is(head)?;
                Some(keeping.take(station, take, *told, *supersedes, Some(came(&kept.came)))?)
            }
            Entry::Tilt { tilt, head, .. } => {
                keeping.head_is(head)?;
                Some(keeping.tilt(*tilt)?)
            }
            Entry::Advised { adjuster, turns, station, target_gap_mm } => {
                let advised = TurnAdvised {
                    adjuster: adjuster.clone(),
                    turns: Turns(*turns),
                    station: station.clone(),
                    target_gap: Mm(*target_gap_mm),
                    round: keeping.round(),
                };
                self.advice = Some(keeping.append(advised)?);
                self.advice
            }
            Entry::Observed {
                adjuster,
                turns,
                station,
                before_mm,
                after_mm,
                predicted_mm,
                flags,
            } => {
                let observed = TurnObserved {
                    adjuster: adjuster.clone(),
                    advice: self.advice,
                    turns: turns.map(Turns),
                    station: station.clone(),
                    gap_before: Mm(*before_mm),
                    gap_after: Mm(*after_mm),
                    gap_predicted: Some(Mm(*predicted_mm)),
                    flags: flags.iter().map(|flag| TurnFlag::from(flag.as_str())).collect(),
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
                keeping.start_round(*phase)?;
                None
            }
            Entry::AsLeft => {
                let (takes, tilt) = keeping.standing();
                Some(keeping.as_left(takes, tilt)?)
            }
        })
    }
}

impl Store for Book {
    fn store(&mut self, entry: &Entry) -> anyhow::Result<Option<Stored>> {
        let event = self.write(entry)?;
        Ok(event.map(|event| Stored { event, place: self.keeping.place() }))
    }
}

/// How the head had come to a station, as the record says it.
fn came(came: &Came) -> event::Came {
    match came {
        Came::First => event::Came::First,
        Came::Same => event::Came::Same,
        Came::Seen => event::Came::Seen,
        Came::Said { from } => event::Came::Said { last_at: Some(from.name().to_owned()) },
    }
}
