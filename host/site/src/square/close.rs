//! What the measure is too coarse to call square.

use skimgauge_model::Image;
use skimgauge_quantity::{Mm, Sentence, say};

use super::split::Found;
use super::{Remainder, Turnable};

/// What one fault may leave a corner off by, as a share of the image's width: common practice, no source.
const MAY_REMAIN: f64 = 0.0025;

/// The faults of which the measure tells neither that they are there nor that they are small
/// enough: their interval holds nothing and reaches beyond what may remain.
pub(super) fn too_close(
    image: Image,
    turnable: &Turnable,
    remainder: &Remainder,
) -> Option<Sentence> {
    let limit_mm = MAY_REMAIN * image.width.0;
    let rotation = turnable.rotation_deg.map(|found| {
        let mm = |deg: f64| deg.to_radians() * image.width.0;
        Found { value: mm(found.value), u: mm(found.u) }
    });
    // What is between two sides or corners is half at each.
    let half = |found: Found| Found { value: found.value / 2.0, u: found.u / 2.0 };
    let faults = [
        ("rotation", rotation),
        ("the vertical trapezoid", Some(half(turnable.vertical_trapezoid_mm))),
        ("the horizontal trapezoid", Some(half(turnable.horizontal_trapezoid_mm))),
        ("size", Some(half(turnable.size_mm))),
        ("the shift to the right", turnable.shift_right_mm),
        ("the shift upward", turnable.shift_up_mm),
        ("width for height", Some(half(remainder.stretch_mm))),
        ("the top's lean", Some(half(remainder.skew_mm))),
    ];
    let beyond = |found: &Found| found.value.abs() + found.expanded() > limit_mm;
    let open: Vec<(&'static str, Found)> = faults
        .into_iter()
        .filter_map(|(name, found)| Some((name, found?)))
        .filter(|(_, found)| !found.is_clear() && beyond(found))
        .collect();
    let most_mm = open.iter().map(|(_, f)| f.value.abs() + f.expanded()).reduce(f64::max)?;
    let names = Sentence::joined(open.iter().map(|(name, _)| Sentence::from(*name)), ", ");
    Some(say!(
        "too close to call by this measure: {names}: up to {} off at a corner, and {} may remain (0.25 % of the width; common practice, no source): measure finer, or each length once more",
        Mm(most_mm).tape(),
        Mm(limit_mm).tape()
    ))
}
