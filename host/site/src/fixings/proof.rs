//! Proof loads: an anchor pulled before it is trusted, and what was seen.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Name, Sentence, force, say, short};

use super::input::FixedPlate;
use super::interaction::Allowable;
use super::practice::Wall;
use crate::entry::{EntryError, within};

/// A pull beyond this many times the load asked for is not the test that was asked for, and may have
/// harmed the anchor or the wall about it: common practice, no source.
const FAR_BEYOND_ASKED: f64 = 1.25;

/// So may one beyond this many times the tension allowed, where the job does not ask for as much:
/// common practice, no source.
const FAR_BEYOND_ALLOWED: f64 = 1.5;

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

impl ProofWanted {
    /// The most that a pull may be to count, N.
    pub fn most_n(self, allowed: Option<&Allowable>) -> f64 {
        let by_allowed = allowed.map_or(f64::INFINITY, |a| FAR_BEYOND_ALLOWED * a.tension_n);
        (FAR_BEYOND_ASKED * self.load_n).min(by_allowed.max(self.load_n))
    }
}

/// What one pull showed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProofFound {
    /// Load reached, time held, slip within what is allowed.
    Held,
    /// It moved more than allowed.
    Slipped,
    /// Pulled so far beyond the load asked for that it may be harmed.
    TooMuchLoad,
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

impl ProofFound {
    /// Whether no later pull on the same anchor makes it good.
    fn is_for_good(self) -> bool {
        matches!(self, Self::Slipped | Self::TooMuchLoad)
    }
}

/// Judges one pull on an anchor that may carry what is allowed by its approval.
///
/// # Errors
/// [`EntryError`] for a figure that is not a number or below zero.
pub fn judge(
    pull: &ProofLoad,
    wanted: ProofWanted,
    allowed: Option<&Allowable>,
) -> Result<ProofResult, EntryError> {
    check(pull, wanted)?;
    let most_n = wanted.most_n(allowed);
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
    } else if pull.load_n > most_n {
        (
            ProofFound::TooMuchLoad,
            say!(
                "anchor {name} was pulled with {}, far beyond the {} asked for (up to {} counts; common practice, no source): it may be harmed, and this proves nothing. Replace it and enter the new one's pull in its place, or ask its maker whether it may stay",
                force(pull.load_n),
                force(wanted.load_n),
                force(most_n)
            ),
        )
    } else if pull.load_n < wanted.load_n {
        (
            ProofFound::TooLittleLoad,
            say!(
                "anchor {name} was pulled with {} of {}: shows nothing, pull again",
                force(pull.load_n),
                force(wanted.load_n)
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
                "anchor {name} held {} for {} s; this speaks of this anchor on this day only",
                force(pull.load_n),
                short(pull.held_s)
            ),
        )
    };
    Ok(ProofResult { pull: pull.clone(), found, says })
}

fn check(pull: &ProofLoad, wanted: ProofWanted) -> Result<(), EntryError> {
    let of = |what: &str| say!("{what} of the proof load on anchor {}", Name(&pull.anchor));
    within(of("load"), pull.load_n, 0.0, 1e6, "N")?;
    within(of("time"), pull.held_s, 0.0, 1e6, "s")?;
    within(of("slip"), pull.slip_mm, 0.0, 1e3, "mm")?;
    within("proof load wanted", wanted.load_n, 1.0, 1e6, "N")?;
    within("proof time wanted", wanted.hold_s, 0.0, 1e6, "s")?;
    within("slip allowed", wanted.slip_mm, 0.0, 1e3, "mm")?;
    Ok(())
}

/// Whether the wall is one of which only a pull tells what an anchor in it holds, and none is asked
/// for on this plate: common practice, no source.
pub fn is_unasked(plate: &FixedPlate, wall: Wall) -> bool {
    wall.is_weak() && plate.proof_wanted.is_none()
}

/// The anchors of a plate for which a proof load is asked and none has held yet, each with why: by
/// its last pull, since one that shows nothing is pulled again; by an earlier one that no other makes
/// good.
///
/// # Errors
/// As [`judge`].
pub fn lacking(plate: &FixedPlate) -> Result<Vec<Lacking>, EntryError> {
    let Some(wanted) = plate.proof_wanted else { return Ok(Vec::new()) };
    let mut lacking = Vec::new();
    for anchor in &plate.anchors {
        let pulls = plate.proof.iter().filter(|pull| pull.anchor == anchor.name);
        let mut results = pulls
            .map(|pull| judge(pull, wanted, plate.allowable.as_ref()))
            .collect::<Result<Vec<_>, _>>()?;
        let counts = results.iter().position(|result| result.found.is_for_good());
        let result = match counts {
            Some(at) => Some(results.swap_remove(at)),
            None => results.pop(),
        };
        if result.as_ref().is_some_and(|result| result.found == ProofFound::Held) {
            continue;
        }
        let name = Name(&anchor.name);
        let was_pulled = result.is_some();
        let says = match result {
            Some(result) => result.says,
            None => say!(
                "anchor {name} was not pulled: {} for {} s are asked for",
                force(wanted.load_n),
                short(wanted.hold_s)
            ),
        };
        lacking.push(Lacking { anchor: anchor.name.clone(), was_pulled, says });
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
        judge(&pull(load_n, held_s, slip_mm), WANTED, None).unwrap().found
    }

    fn pull(load_n: f64, held_s: f64, slip_mm: f64) -> ProofLoad {
        ProofLoad { anchor: "A".to_owned(), load_n, held_s, slip_mm }
    }

    fn allowed(tension_n: f64) -> Allowable {
        Allowable {
            approval: "sheet".to_owned(),
            tension_n,
            shear_n: 1500.0,
            meant_for: crate::fixings::interaction::MeantFor::LoadsAsTheyAre,
            steel_governs: false,
            straight_rule: false,
            spacing_mm: 90.0,
        }
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
        assert!(judge(&pull(f64::NAN, 60.0, 0.0), WANTED, None).is_err());
    }

    /// By the load asked for, and by what is allowed where the job does not ask for as much.
    #[test]
    fn a_pull_far_beyond_the_load_asked_for_shows_nothing() {
        assert_eq!(found(1875.0, 60.0, 0.1), ProofFound::Held);
        assert_eq!(found(1876.0, 60.0, 0.1), ProofFound::TooMuchLoad);
        assert_eq!(found(27.0 * 1500.0, 60.0, 0.0), ProofFound::TooMuchLoad);
        assert_eq!(found(27.0 * 1500.0, 60.0, 3.0), ProofFound::Slipped);
        let by = |tension_n: f64| WANTED.most_n(Some(&allowed(tension_n)));
        assert_eq!((by(5000.0), by(1100.0), by(500.0)), (1875.0, 1650.0, 1500.0));
        let harmed = judge(&pull(1700.0, 60.0, 0.1), WANTED, Some(&allowed(1100.0))).unwrap();
        assert_eq!(harmed.found, ProofFound::TooMuchLoad);
        let says = harmed.says.text(skimgauge_quantity::Style::default());
        assert!(says.contains("1700 N, far beyond the 1500 N asked for (up to 1650 N"), "{says}");
        assert!(says.contains("Replace it") && says.contains("ask its maker"), "{says}");
    }
}
