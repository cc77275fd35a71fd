//! Proof loads: an anchor pulled before it is trusted, and what was seen.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Name, Sentence, say, short};

use super::input::FixedPlate;
use crate::entry::{EntryError, within};

/// One pull on one anchor, as carried out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProofLoad {
    /// Which anchor.
    pub anchor: String,
    /// Load applied, N.
    pub load_n: f64,
    /// Time it was held, s.
    pub held_s: f64,
    /// How far the anchor moved, mm.
    pub slip_mm: f64,
}

/// What the pull has to show; from the approval or whoever is responsible for the wall.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProofWanted {
    /// Load to reach, N.
    pub load_n: f64,
    /// Time to hold it, s.
    pub hold_s: f64,
    /// Most slip, mm.
    pub slip_mm: f64,
}

/// What one pull showed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProofFound {
    /// Load reached, time held, slip within what is allowed.
    Held,
    /// It moved more than allowed.
    Slipped,
    /// Not pulled hard enough to show anything.
    TooLittleLoad,
    /// Not held long enough to show anything.
    TooShort,
}

/// One pull, judged.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProofResult {
    /// The pull.
    pub pull: ProofLoad,
    /// What it showed.
    pub found: ProofFound,
    /// The same in a sentence.
    pub says: Sentence,
}

/// Judges one pull.
///
/// # Errors
/// [`EntryError`] for a figure that is not a number or below zero.
pub fn judge(pull: &ProofLoad, wanted: ProofWanted) -> Result<ProofResult, EntryError> {
    let of = |what: &str| say!("{what} of the proof load on anchor {}", Name(&pull.anchor));
    within(of("load"), pull.load_n, 0.0, 1e6, "N")?;
    within(of("time"), pull.held_s, 0.0, 1e6, "s")?;
    within(of("slip"), pull.slip_mm, 0.0, 1e3, "mm")?;
    within("proof load wanted", wanted.load_n, 1.0, 1e6, "N")?;
    within("proof time wanted", wanted.hold_s, 0.0, 1e6, "s")?;
    within("slip allowed", wanted.slip_mm, 0.0, 1e3, "mm")?;
    let name = Name(&pull.anchor);
    let (found, says) = if pull.slip_mm > wanted.slip_mm {
        (
            ProofFound::Slipped,
            say!(
                "anchor {name} slipped {}, more than the {} allowed: do not use it, and ask why before drilling another",
                Mm(pull.slip_mm).limit(),
                Mm(wanted.slip_mm).limit()
            ),
        )
    } else if pull.load_n < wanted.load_n {
        (
            ProofFound::TooLittleLoad,
            say!(
                "anchor {name} was pulled with {} N of {} N: shows nothing, pull again",
                short(pull.load_n),
                short(wanted.load_n)
            ),
        )
    } else if pull.held_s < wanted.hold_s {
        (
            ProofFound::TooShort,
            say!(
                "anchor {name} was held for {} s of {} s: shows nothing, pull again",
                short(pull.held_s),
                short(wanted.hold_s)
            ),
        )
    } else {
        (
            ProofFound::Held,
            say!(
                "anchor {name} held {} N for {} s; this speaks of this anchor on this day only",
                short(pull.load_n),
                short(pull.held_s)
            ),
        )
    };
    Ok(ProofResult { pull: pull.clone(), found, says })
}

/// The anchors of a plate for which a proof load is asked and none has held yet, each with why: by
/// its last pull, since one that shows nothing is pulled again.
///
/// # Errors
/// As [`judge`].
pub fn lacking(plate: &FixedPlate) -> Result<Vec<Lacking>, EntryError> {
    let Some(wanted) = plate.proof_wanted else { return Ok(Vec::new()) };
    let mut lacking = Vec::new();
    for anchor in &plate.anchors {
        let last = plate.proof.iter().rev().find(|pull| pull.anchor == anchor.name);
        let result = last.map(|pull| judge(pull, wanted)).transpose()?;
        if result.as_ref().is_some_and(|result| result.found == ProofFound::Held) {
            continue;
        }
        let name = Name(&anchor.name);
        let says = match result {
            Some(result) => result.says,
            None => say!(
                "anchor {name} was not pulled: {} N for {} s are asked for",
                short(wanted.load_n),
                short(wanted.hold_s)
            ),
        };
        lacking.push(Lacking { anchor: anchor.name.clone(), was_pulled: last.is_some(), says });
    }
    Ok(lacking)
}

/// An anchor for which a proof load is asked, and none has held.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lacking {
    /// The anchor.
    pub anchor: String,
    /// Whether it was pulled at all.
    pub was_pulled: bool,
    /// Why, in a sentence.
    pub says: Sentence,
}

#[cfg(test)]
mod tests {
    use super::*;

    const WANTED: ProofWanted = ProofWanted { load_n: 1500.0, hold_s: 60.0, slip_mm: 0.5 };

    fn found(load_n: f64, held_s: f64, slip_mm: f64) -> ProofFound {
        judge(&ProofLoad { anchor: "A".to_owned(), load_n, held_s, slip_mm }, WANTED).unwrap().found
    }

    #[test]
    fn slip_counts_before_everything_else() {
        assert_eq!(found(1500.0, 60.0, 0.5), ProofFound::Held);
        assert_eq!(found(900.0, 5.0, 0.6), ProofFound::Slipped);
        assert_eq!(found(1400.0, 60.0, 0.0), ProofFound::TooLittleLoad);
        assert_eq!(found(1500.0, 59.0, 0.0), ProofFound::TooShort);
    }

    #[test]
    fn a_figure_that_is_no_number_is_refused() {
        let pull =
            ProofLoad { anchor: "A".to_owned(), load_n: f64::NAN, held_s: 60.0, slip_mm: 0.0 };
        assert!(judge(&pull, WANTED).is_err());
    }
}
