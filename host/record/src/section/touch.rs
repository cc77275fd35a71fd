//! The touch proof: what taps and strokes on the display showed, with every report that it was
//! judged from.

use serde::{Deserialize, Serialize};
use serde_json::Value;
use skimgauge_model::{Image, Verdict};
use skimgauge_quantity::{Mm, MmPerM};

use super::{Found, Said};

/// A proof. Touch right of, or above, what was touched is positive.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Touch {
    /// The verdict.
    pub verdict: Verdict,
    /// Why.
    pub because: Said,
    /// What would settle it, where it is too close to call.
    pub settle: Option<Said>,
    /// Where it comes from and what to do, where it is not within.
    pub cause: Option<Said>,
    /// The image touched.
    pub image: Image,
    /// `finger` or `rod`.
    pub tool: String,
    /// How far touch may stand off with it.
    #[serde(rename = "limit_mm")]
    pub limit: Mm,
    /// Offset, scale, turn and shear, with their standard uncertainties; absent of too few taps.
    pub map: Option<TouchMap>,
    /// Corners, centre, and marks that bend the map.
    pub places: Vec<TouchPlace>,
    /// Every mark that was tapped.
    pub marks: Vec<TouchMark>,
    /// Every line as drawn: pieces of it, each places right and up, mm.
    pub strokes: Vec<Vec<[f64; 2]>>,
    /// What was looked at, one by one.
    pub parts: Vec<TouchPart>,
    /// What to know, and what could not be measured.
    pub told: Vec<Said>,
    /// The proof as it was made, to be judged again: `prove --from` reads it.
    pub made: Value,
}

/// The fitted map.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TouchMap {
    /// Offset in the image's middle, right.
    #[serde(rename = "right_mm")]
    pub right: Found<Mm>,
    /// And up.
    #[serde(rename = "up_mm")]
    pub up: Found<Mm>,
    /// Scale across, less one.
    #[serde(rename = "scale_across_mm_per_m")]
    pub scale_across: Found<MmPerM>,
    /// Scale up and down, less one.
    #[serde(rename = "scale_down_mm_per_m")]
    pub scale_down: Found<MmPerM>,
    /// Turn, anticlockwise.
    #[serde(rename = "turn_mm_per_m")]
    pub turn: Found<MmPerM>,
    /// Shear.
    #[serde(rename = "shear_mm_per_m")]
    pub shear: Found<MmPerM>,
    /// Scatter of one tap.
    #[serde(rename = "scatter_mm")]
    pub scatter: Mm,
}

/// A place judged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TouchPlace {
    /// Its name.
    pub name: String,
    /// Right of the image's middle.
    #[serde(rename = "x_mm")]
    pub x: Mm,
    /// Above its top edge.
    #[serde(rename = "y_mm")]
    pub y: Mm,
    /// Touch stands so far right of it.
    #[serde(rename = "right_mm")]
    pub right: Mm,
    /// And so far above.
    #[serde(rename = "up_mm")]
    pub up: Mm,
    /// Half width of the 95 % interval.
    #[serde(rename = "expanded_mm")]
    pub expanded: Mm,
    /// The verdict there.
    pub verdict: Verdict,
}

/// A mark that was tapped.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TouchMark {
    /// Its name.
    pub name: String,
    /// Right of the image's middle.
    #[serde(rename = "x_mm")]
    pub x: Mm,
    /// Above its top edge.
    #[serde(rename = "y_mm")]
    pub y: Mm,
    /// Taps that count.
    pub taps: usize,
    /// Taps that were not seen.
    pub missed: usize,
    /// Mean of the taps: right of the mark.
    #[serde(rename = "right_mm")]
    pub right: Mm,
    /// And above it.
    #[serde(rename = "up_mm")]
    pub up: Mm,
    /// It does not follow the other marks.
    pub bent: bool,
}

/// One part of the verdict.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TouchPart {
    /// What was looked at: `map`, `misses`, `ghosts`.
    pub what: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// In words.
    pub says: Said,
}
