//! The error of touch, place by place.

use crate::map::{Error, Map};
use crate::marks::{MARKS, name};
use crate::raw::Proof;
use crate::taps::{Tap, Taps};
use serde::Serialize;
use skimgauge_metrology::coverage::LEVEL;
use skimgauge_model::{Image, Point, Verdict};
use skimgauge_quantity::Mm;

/// A place judged.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Place {
    /// Its name.
    pub name: &'static str,
    /// Where.
    #[serde(flatten)]
    pub at: Point,
    /// Touch is seen so far right of it.
    #[serde(rename = "right_mm")]
    pub right: Mm,
    /// And so far above.
    #[serde(rename = "up_mm")]
    pub up: Mm,
    /// How far off in all.
    #[serde(rename = "off_mm")]
    pub off: Mm,
    /// Half width of its 95 % interval.
    #[serde(rename = "expanded_mm")]
    pub expanded: Mm,
    /// Of that, what the taps leave uncertain (standard); the rest is the aim.
    #[serde(rename = "u_taps_mm")]
    pub u_taps: Mm,
    /// The verdict there.
    pub verdict: Verdict,
    /// Beyond the limit with 99 % confidence over all places.
    pub surely_outside: bool,
    /// A mark by its own taps, not a place by the map.
    pub by_taps: bool,
}

/// A mark that was tapped.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mark {
    /// Its name.
    pub name: &'static str,
    /// Where.
    #[serde(flatten)]
    pub at: Point,
    /// Taps that count.
    pub taps: usize,
    /// Taps the display did not react to.
    pub missed: usize,
    /// Taps left out as strays.
    pub strays: usize,
    /// Mean of the taps: right of the mark.
    #[serde(rename = "right_mm")]
    pub right: Mm,
    /// And above it.
    #[serde(rename = "up_mm")]
    pub up: Mm,
    /// What the map leaves of that, right.
    #[serde(rename = "left_right_mm")]
    pub left_right: Option<Mm>,
    /// And up.
    #[serde(rename = "left_up_mm")]
    pub left_up: Option<Mm>,
    /// That over what it should scatter.
    pub studentised: Option<f64>,
    /// It bends the map.
    pub bent: bool,
}

/// The five places of the map; marks that bend it by their own taps, all of them where the map is
/// not straight.
pub(super) fn places(image: Image, map: &Map, taps: &[Tap], limit: Mm) -> Vec<Place> {
    let named = |called: &'static str| image.place(called).map(|at| (called, at));
    let by_map = ["top left", "top right", "centre", "bottom left", "bottom right"]
        .into_iter()
        .filter_map(named)
        .map(|(name, at)| (name, at, map.error(at), false));
    let own = (0..MARKS as u8)
        .filter(|mark| map.uneven || map.bent.iter().any(|bent| bent.mark == *mark))
        .filter_map(|mark| {
            let at = taps.iter().find(|tap| tap.mark == mark)?.at;
            Some((name(mark), at, map.error_by_taps(mark, taps)?, true))
        });
    let all: Vec<(&'static str, Point, Error, bool)> = by_map.chain(own).collect();
    let looks = all.len().max(1) as f64;
    all.into_iter()
        .map(|(name, at, error, by_taps)| {
            let (off, expanded) = (error.size_mm(), error.expanded_mm(LEVEL));
            // One-sided at 99 % over all looks, as the two-sided level that has that half width.
            let sure = error.expanded_mm(1.0 - 0.02 / looks);
            Place {
                name,
                at,
                right: Mm(error.right_mm),
                up: Mm(error.up_mm),
                off: Mm(off),
                expanded: Mm(expanded),
                u_taps: Mm(error.u_taps_mm()),
                verdict: decided(off, expanded, limit.0),
                surely_outside: off - sure > limit.0,
                by_taps,
            }
        })
        .collect()
}

fn decided(off: f64, expanded: f64, limit: f64) -> Verdict {
    if !off.is_finite() || !expanded.is_finite() {
        Verdict::Unsure
    } else if off + expanded <= limit {
        Verdict::Within
    } else if off - expanded > limit {
        Verdict::Outside
    } else {
        Verdict::Unsure
    }
}

pub(super) fn marks(
    proof: &Proof,
    map: Option<&Map>,
    taps: &[Tap],
    all: &Taps,
    strays: &[u8],
) -> Vec<Mark> {
    let of = |mark: u8| {
        let own: Vec<&Tap> = taps.iter().filter(|tap| tap.mark == mark).collect();
        let missed = all.missed.iter().filter(|missed| **missed == mark).count();
        if own.is_empty() && missed == 0 {
            return None;
        }
        let at = crate::marks::at(proof.image, proof.limits.inset, mark)?;
        let n = own.len().max(1) as f64;
        let mean = |axis: usize| Mm(own.iter().map(|tap| tap.off[axis]).sum::<f64>() / n);
        let left = map.and_then(|map| map.residual(mark, taps));
        Some(Mark {
            name: name(mark),
            at,
            taps: own.len(),
            missed,
            strays: strays.iter().filter(|stray| **stray == mark).count(),
            right: mean(0),
            up: mean(1),
            left_right: left.map(|(left, _)| Mm(left[0])),
            left_up: left.map(|(left, _)| Mm(left[1])),
            studentised: left.map(|(_, studentised)| studentised),
            bent: map.is_some_and(|map| map.bent.iter().any(|bent| bent.mark == mark)),
        })
    };
    (0..MARKS as u8).filter_map(of).collect()
}
