//! The verdict: within, outside or too close to call, why, what would settle it, and the cause.
//!
//! The rule is the gap's (ISO 14253-1): within where the whole 95 % interval lies inside the limit,
//! outside where all of it lies beyond. That the display must be set anew is said only of an error
//! that is beyond the limit with 99 % confidence over all places looked at.

mod cause;
mod counted;
mod parts;
mod places;
mod told;

use crate::leaf::{Leaf, leaf};
use crate::limits::Tool;
use crate::map::Map;
use crate::plan::Ask;
use crate::quiet::Quiet;
use crate::rates::{LEVEL, share_above, share_below};
use crate::raw::{Came, Gap, Proof};
use crate::steady::{Hold, holds};
use crate::strays::drop_strays;
use crate::strokes::{Dashes, Stroke, dashes, strokes};
use crate::taps::{Tap, Taps};
use serde::Serialize;
use skimgauge_model::{Image, Verdict};
use skimgauge_quantity::{Mm, Sentence};

pub use cause::{Cause, CauseIs};
pub use parts::{Part, What};
pub use places::{Mark, Place};

/// Everything that a proof says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// The verdict.
    pub verdict: Verdict,
    /// Why.
    pub because: Sentence,
    /// What would settle it, where it is too close to call.
    pub settle: Option<Sentence>,
    /// Where it comes from and what to do, where it is not within.
    pub cause: Option<Cause>,
    /// What was looked at, one by one.
    pub parts: Vec<Part>,
    /// The image touched.
    pub image: Image,
    /// With what.
    pub tool: Tool,
    /// How far touch may stand off with it.
    #[serde(rename = "limit_mm")]
    pub limit: Mm,
    /// How the gap stood.
    pub gap: Gap,
    /// Whether a simulated finger made it: practice, which proves nothing.
    pub simulated: bool,
    /// Offset, scale, turn, shear; `None` of too few taps.
    pub map: Option<Map>,
    /// Corners, centre, and marks that bend the map.
    pub places: Vec<Place>,
    /// Every mark that was tapped.
    pub marks: Vec<Mark>,
    /// Touch seen and not seen.
    pub seen: Seen,
    /// Contacts held still.
    pub holds: Vec<Hold>,
    /// Lines.
    pub strokes: Vec<Stroke>,
    /// Quick dashes.
    pub dashes: Vec<Dashes>,
    /// Contacts nobody made.
    pub quiet: Quiet,
    /// Leaves.
    pub leaf: Option<Leaf>,
    /// How many touches at once were seen.
    pub touches_at_once: usize,
    /// What to know, and what could not be measured here.
    pub told: Vec<Sentence>,
}

/// Touches that were asked for, and those that the display did not react to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Seen {
    /// Touches asked for and made.
    pub asked: usize,
    /// Not reacted to.
    pub missed: usize,
    /// With 95 % confidence the share of those is below this.
    pub below: Option<f64>,
    /// And above this.
    pub above: Option<f64>,
    /// Taps that belong to nothing and were left out of the map.
    pub strays: usize,
    /// Sides of hands, and contacts beside a tap.
    pub palms: usize,
}

/// What the judging works with.
struct Sums<'a> {
    proof: &'a Proof,
    limit: Mm,
    taps: Vec<Tap>,
    all: Taps,
    strays: Vec<u8>,
    map: Option<Map>,
    places: Vec<Place>,
    seen: Seen,
    holds: Vec<Hold>,
    strokes: Vec<Stroke>,
    dashes: Vec<Dashes>,
    quiet: Quiet,
    leaf: Option<Leaf>,
    /// Why pixels are not places, if they are not.
    doubt: Option<Sentence>,
}

/// Judges a proof.
///
/// # Errors
/// What in it cannot be, as a clause.
pub fn judge(proof: &Proof) -> Result<Judged, Sentence> {
    match proof.wrong() {
        Some(why) => Err(why),
        None => Ok(Sums::of(proof).judged()),
    }
}

impl<'a> Sums<'a> {
    fn of(proof: &'a Proof) -> Self {
        let mut all = Taps::of(proof);
        let mut taps = std::mem::take(&mut all.taps);
        let strays = drop_strays(&mut taps);
        let allowed = proof.limits.of(proof.tool);
        let map = Map::of(proof.image, &taps, allowed.aim);
        let places = map.as_ref().map(|map| places::places(proof.image, map, &taps, allowed.limit));
        Self {
            proof,
            limit: allowed.limit,
            seen: seen(proof, &all, strays.len()),
            places: places.unwrap_or_default(),
            holds: holds(proof),
            strokes: strokes(proof),
            dashes: dashes(proof),
            quiet: Quiet::of(proof, all.away),
            leaf: leaf(proof),
            doubt: doubt(proof),
            taps,
            all,
            strays,
            map,
        }
    }

    fn judged(self) -> Judged {
        let parts = self.parts();
        let verdict = Verdict::of_all(parts.iter().map(|part| part.verdict));
        let deciding = parts.iter().find(|part| part.verdict == verdict);
        let because = deciding.map(|part| part.says.clone()).unwrap_or_default();
        let settle = deciding.filter(|_| verdict == Verdict::Unsure);
        let settle = settle.and_then(|part| part.settle.clone());
        let cause = (verdict != Verdict::Within).then(|| self.cause(&parts)).flatten();
        Judged {
            verdict,
            because: if verdict == Verdict::Within { self.within() } else { because },
            settle,
            cause,
            marks: places::marks(
                self.proof,
                self.map.as_ref(),
                &self.taps,
                &self.all,
                &self.strays,
            ),
            told: self.told(),
            parts,
            image: self.proof.image,
            tool: self.proof.tool,
            limit: self.limit,
            gap: self.proof.gap,
            simulated: self.proof.simulated,
            map: self.map,
            places: self.places,
            seen: self.seen,
            holds: self.holds,
            strokes: self.strokes,
            dashes: self.dashes,
            quiet: self.quiet,
            leaf: self.leaf,
            touches_at_once: self.all.at_once,
        }
    }
}

fn seen(proof: &Proof, all: &Taps, strays: usize) -> Seen {
    let is_touch =
        |ask: &Ask| matches!(ask, Ask::Mark { .. } | Ask::Stroke { .. } | Ask::Hold { .. });
    let asked = proof.standing().filter(|asked| is_touch(&asked.ask)).count();
    let not_marks = proof.standing().filter(|asked| {
        matches!(asked.ask, Ask::Stroke { .. } | Ask::Hold { .. }) && asked.came == Came::NoReaction
    });
    let missed = all.missed.len() + not_marks.count();
    Seen {
        asked,
        missed,
        below: share_below(missed, asked, LEVEL),
        above: share_above(missed, asked, LEVEL),
        strays,
        palms: all.palms,
    }
}

/// The first doubt about the window while something was asked.
fn doubt(proof: &Proof) -> Option<Sentence> {
    let at_times = proof.standing().flat_map(|asked| {
        let began = proof.window_at(asked.from_ms);
        let meanwhile = proof
            .windows
            .iter()
            .filter(move |window| window.from_ms > asked.from_ms && window.from_ms < asked.to_ms);
        std::iter::once(began).chain(meanwhile.copied())
    });
    let mut at_times = at_times.filter_map(|window| window.doubt(proof.image));
    at_times.next()
}
