//! What a watch stores, and into what.

use crate::keeping::Keeping;
use skimgauge_metrology::measure::Came;
use skimgauge_procedure::{Entry, Touched};
use skimgauge_record::chain::Hash;
use skimgauge_record::event::{self, Sayer, Struck, TurnAdvised, TurnFlag, TurnObserved, Unasked};
use skimgauge_record::photo::Photo;

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
    /// Stores an entry for good; where, if it is an event of its own. `by` said the word that it
    /// follows from, where it follows from one.
    ///
    /// # Errors
    /// It is not stored, and why.
    fn store(&mut self, entry: &Entry, by: Option<&Sayer>) -> anyhow::Result<Option<Stored>>;
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

    fn write(&mut self, entry: &Entry, by: Option<&Sayer>) -> anyhow::Result<Option<Hash>> {
        let keeping = &mut self.keeping;
        Ok(match entry {
            Entry::Take { station, kept, told, supersedes, head, .. } => {
                let Some(take) = kept.seats.last() else { return Ok(None) };
                keeping.head_is(head)?;
                Some(keeping.take(
                    station,
                    take,
                    *told,
                    supersedes.map(|event| Hash(event.0)),
                    Some(came(&kept.came)),
                    by,
                )?)
            }
            Entry::Tilt { tilt, head, .. } => {
                keeping.head_is(head)?;
                Some(keeping.tilt(*tilt, by)?)
            }
            Entry::EmitterOff { saw, head } => {
                keeping.head_is(head)?;
                Some(keeping.emitter_off(*saw)?)
            }
            Entry::Advised { adjuster, turns, station, target_gap } => {
                let advised = TurnAdvised {
                    adjuster: adjuster.clone(),
                    turns: *turns,
                    station: station.clone(),
                    target_gap: *target_gap,
                    round: keeping.round(),
                };
                self.advice = Some(keeping.append(advised)?);
                self.advice
            }
            Entry::Observed { adjuster, turns, station, before, after, predicted, noticed } => {
                let observed = TurnObserved {
                    adjuster: adjuster.clone(),
                    advice: self.advice,
                    turns: *turns,
                    station: station.clone(),
                    gap_before: *before,
                    gap_after: *after,
                    gap_predicted: *predicted,
                    flags: noticed.iter().copied().map(TurnFlag::from).collect(),
                    by: by.cloned(),
                };
                let event = keeping.append(observed)?;
                self.advice = None;
                Some(event)
            }
            Entry::Levelled { found, head } => {
                keeping.head_is(head)?;
                keeping.levelled(found)?
            }
            Entry::Judged(whole) => {
                keeping.judged(whole)?;
                None
            }
            Entry::GoneOn => {
                keeping.go_on()?;
                None
            }
            Entry::Phase(phase) => {
                keeping.set_phase(*phase);
                None
            }
            Entry::Round(phase) => {
                keeping.start_round(*phase)?;
                None
            }
            // A head's constants are not of a job: they have a store of their own.
            Entry::Zeroing(_) | Entry::Zeroed(_) | Entry::ZeroChecked(_) => None,
            Entry::Note(text) => {
                Some(keeping.append(event::Note { text: text.clone(), about: None })?)
            }
            Entry::Photo { name, media_type, caption, bytes } => {
                let caption = Some(caption.as_str());
                Some(keeping.attach(Photo { name, media_type, bytes, caption })?)
            }
            Entry::AsLeft => {
                let (takes, tilt) = keeping.standing();
                // Where nothing was read, nothing stands as left.
                let any = !takes.is_empty() || tilt.is_some();
                any.then(|| keeping.as_left(takes, tilt)).transpose()?
            }
            Entry::StruckOut { station } => keeping.strike_out(station, Struck::LightLeaves, by)?,
            Entry::Touched(how) => {
                let why = match how {
                    Touched::SaidSo => Unasked::SaidSo,
                    Touched::ReadsOtherwise => Unasked::ReadsOtherwise,
                };
                Some(keeping.append(event::Touched { why, by: by.cloned() })?)
            }
        })
    }
}

impl Store for Book {
    fn store(&mut self, entry: &Entry, by: Option<&Sayer>) -> anyhow::Result<Option<Stored>> {
        let event = self.write(entry, by)?;
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
