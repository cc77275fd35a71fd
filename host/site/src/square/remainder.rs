//! What no adjuster takes out of an image.

use serde::Serialize;
use skimgauge_model::Image;
use skimgauge_quantity::{Mm, Sentence, say};

use super::SideBow;
use super::quadrilateral::Quadrilateral;
use super::split::{Found, Parts};

/// What no adjuster takes out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Remainder {
    /// Width beyond what height and aspect ask for, mm.
    pub stretch_mm: Found,
    /// How far the top stands right of where a right angle would put it, mm.
    pub skew_mm: Found,
    /// Farthest any corner stays out when everything else is taken out, mm.
    pub worst_corner_mm: f64,
    /// Sides against a string: the board or the lens bends them.
    pub bows: Vec<SideBow>,
    /// In a sentence.
    pub says: Sentence,
}

pub(super) fn remainder(
    parts: Parts,
    image: Image,
    stretch_mm: Found,
    skew_mm: Found,
    bows: &[SideBow],
) -> Remainder {
    let left = Parts { stretch_mm: parts.stretch_mm, skew_mm: parts.skew_mm, ..Parts::default() };
    let (quad, wanted) =
        (left.corners(image), Quadrilateral::rectangle(image.width.0, image.height.0));
    let worst_corner_mm = (0..4).map(|i| quad.0[i].distance_mm(wanted.0[i])).fold(0.0, f64::max);
    let mut said = Vec::new();
    if stretch_mm.is_clear() {
        said.push(say!(
            "the image is {} too {} for its height",
            Mm(stretch_mm.value.abs()).tape(),
            if stretch_mm.value > 0.0 { "wide" } else { "narrow" }
        ));
    }
    if skew_mm.is_clear() {
        said.push(say!(
            "its top leans {} to the {} of square",
            Mm(skew_mm.value.abs()).tape(),
            if skew_mm.value > 0.0 { "right" } else { "left" }
        ));
    }
    if let Some(worst) =
        bows.iter().max_by(|a, b| a.outward_mm.abs().total_cmp(&b.outward_mm.abs()))
        && worst.outward_mm != 0.0
    {
        said.push(say!(
            "the {} bows {}: look at the board's shape",
            worst.side.name(),
            Mm(worst.outward_mm.abs()).tape()
        ));
    }
    let says = if said.is_empty() {
        "nothing remains that the measure can tell from nothing".into()
    } else {
        say!("{}; no adjuster takes this out", Sentence::joined(said, ", "))
    };
    Remainder { stretch_mm, skew_mm, worst_corner_mm, bows: bows.to_vec(), says }
}
