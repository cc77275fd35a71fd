//! What readings at single places cannot show: a dent or a bump that lies between them.
//!
//! A reading shows a dent only where it lies in it. A dent 60 mm across is met by 45 places on a
//! 94 inch board once in twenty times, and no reckoning makes up for it: a prior that expects one
//! such dent on every tenth board leaves no setting of a 1.5 mm band of which `within` could be
//! said. A person finds it in a minute, with a straightedge, the flat of the hand, or a light held
//! along the board (common practice, no source). So it is asked whether anybody did; until then
//! every verdict says how wide a dent may be that nobody would have seen, and from which height on
//! it would matter.

use super::between::Between;
use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Band, Mm};

/// What was found by whoever went over the board with a straightedge, the flat of the hand or a
/// light held along it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LookedOver {
    /// Nobody did.
    #[default]
    NotYet,
    /// No dent and no bump.
    Nothing,
    /// Dents or bumps, and nobody has surveyed them yet.
    Found,
    /// Dents or bumps, and the middle of each was surveyed.
    Surveyed,
}

/// A dent or bump that nobody would have seen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Unseen {
    /// None narrower than this, mm, would have shown: the widest circle on the board, round a place
    /// where it would matter, that holds no place read.
    pub width_mm: f64,
    /// From this height or depth on it would take the gap out of the band somewhere, mm. Zero where
    /// the gap is out, or on the limit, without it.
    pub from_mm: f64,
    /// The middle of that circle, right of the image's middle, mm.
    pub x_mm: f64,
    /// ... and above its top edge, mm.
    pub y_mm: f64,
}

/// A dent narrower than this is not reckoned with, mm: the head's own laser and the feet of a touch
/// hardly meet it.
const NARROWEST_MM: f64 = 20.0;

/// Where nobody reads over a circle as wide as the image is high, a board may stand off by so many
/// times as much as a single lift does: its whole middle may bulge. Common practice, no source.
const WIDE_TIMES: f64 = 5.0 / 3.0;

impl Unseen {
    /// Over the fine grid of `between`, whose places lie so far (mm) from the nearest place read;
    /// none is higher or deeper than `most_mm`, but for one as wide as the image is high (`high_mm`).
    /// `None` where none such would matter.
    pub(crate) fn of(
        between: &Between,
        apart_mm: &[f64],
        band: Band<Mm>,
        most_mm: f64,
        high_mm: f64,
    ) -> Option<Self> {
        let inside = |gap_mm: f64| band.inside(Mm(gap_mm)).0;
        let matter = between.places.iter().zip(apart_mm).filter(|(place, apart)| {
            let width_mm = 2.0 * **apart;
            let times = if width_mm >= high_mm { WIDE_TIMES } else { 1.0 };
            width_mm >= NARROWEST_MM && inside(place.gap_mm) < times * most_mm
        });
        let from_mm = matter.clone().map(|(place, _)| inside(place.gap_mm));
        let from_mm = from_mm.fold(f64::INFINITY, f64::min).max(0.0);
        let (widest, apart_mm) = matter.max_by(|a, b| a.1.total_cmp(b.1))?;
        Some(Self { width_mm: 2.0 * apart_mm, from_mm, x_mm: widest.x_mm, y_mm: widest.y_mm })
    }
}
