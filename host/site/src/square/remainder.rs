//! What no adjuster takes out of an image.

use serde::Serialize;
use skimgauge_model::{Image, Verdict};
use skimgauge_quantity::{Mm, Sentence, say};

use super::SideBow;
use super::may_remain::{MayRemain, half};
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

impl Remainder {
    pub(super) fn says_stretch(&self) -> Sentence {
        say!(
            "the image is {} too {} for its height",
            Mm(self.stretch_mm.value.abs()).tape(),
            if self.stretch_mm.value > 0.0 { "wide" } else { "narrow" }
        )
    }

    pub(super) fn says_skew(&self) -> Sentence {
        say!(
            "its top leans {} to the {} of square",
            Mm(self.skew_mm.value.abs()).tape(),
            if self.skew_mm.value > 0.0 { "right" } else { "left" }
        )
    }

    fn says(&self, may_remain: MayRemain) -> Sentence {
        let mut said = Vec::new();
        if self.stretch_mm.is_clear() {
            said.push(self.says_stretch());
        }
        if self.skew_mm.is_clear() {
            said.push(self.says_skew());
        }
        if let Some(worst) =
            self.bows.iter().max_by(|a, b| a.outward_mm.abs().total_cmp(&b.outward_mm.abs()))
            && worst.outward_mm != 0.0
        {
            said.push(say!(
                "the {} bows {}: look at the board's shape",
                worst.side.name(),
                Mm(worst.outward_mm.abs()).tape()
            ));
        }
        if !said.is_empty() {
            return say!("{}; no adjuster takes this out", Sentence::joined(said, ", "));
        }
        let small = [self.stretch_mm, self.skew_mm]
            .into_iter()
            .all(|found| may_remain.verdict(half(found)) == Verdict::Within);
        if small {
            "width for height and the top's lean are no more than may remain".into()
        } else {
            "whether width fits height and the top stands upright this measure cannot tell".into()
        }
    }
}

pub(super) fn remainder(
    parts: Parts,
    image: Image,
    [stretch_mm, skew_mm]: [Found; 2],
    bows: &[SideBow],
    may_remain: MayRemain,
) -> Remainder {
    let left = Parts { stretch_mm: parts.stretch_mm, skew_mm: parts.skew_mm, ..Parts::default() };
    let (quad, wanted) =
        (left.corners(image), Quadrilateral::rectangle(image.width.0, image.height.0));
    let worst_corner_mm = (0..4).map(|i| quad.0[i].distance_mm(wanted.0[i])).fold(0.0, f64::max);
    let (bows, says) = (bows.to_vec(), Sentence::new());
    let mut remainder = Remainder { stretch_mm, skew_mm, worst_corner_mm, bows, says };
    remainder.says = remainder.says(may_remain);
    remainder
}
