//! How far a corner, one end of a side, may be off, by one fault or by all together, and how each
//! stands to that.

use skimgauge_model::{Image, Verdict};
use skimgauge_quantity::{Mm, Sentence, say, short};

use super::correct::Adjust;
use super::quadrilateral::CORNERS;
use super::split::Found;
use super::{Remainder, Turnable};

/// How far a corner may be off where a job does not say it, as a share of the image's width: common
/// practice, no source.
pub const MAY_REMAIN: f64 = 0.0025;

/// How far a corner may be off.
#[derive(Debug, Clone, Copy)]
pub(super) struct MayRemain {
    share: f64,
    limit_mm: f64,
}

/// A fault that an adjuster takes out, by what it does at a corner.
pub(super) struct Fault {
    pub name: &'static str,
    pub adjust: Adjust,
    /// Absent where it was not measured.
    pub at_corner: Option<Found>,
}

impl MayRemain {
    pub(super) fn of(share: f64, image: Image) -> Self {
        Self { share, limit_mm: share * image.width.0 }
    }

    /// By the whole interval of what was found at a corner.
    pub(super) fn verdict(self, at_corner: Found) -> Verdict {
        let (off_mm, expanded_mm) = (at_corner.value.abs(), at_corner.expanded());
        if off_mm + expanded_mm <= self.limit_mm {
            Verdict::Within
        } else if off_mm - expanded_mm > self.limit_mm {
            Verdict::Outside
        } else {
            Verdict::Unsure
        }
    }

    /// Whether somebody turns it: it is told from nothing, and is not known to be small enough.
    pub(super) fn is_to_turn(self, at_corner: Found) -> bool {
        at_corner.is_clear() && self.verdict(at_corner) != Verdict::Within
    }

    fn says(self) -> Sentence {
        let from =
            if self.share == MAY_REMAIN { "; common practice, no source" } else { " by the job" };
        say!(
            "{} may remain ({} % of the width{from})",
            Mm(self.limit_mm).tape(),
            short(100.0 * self.share)
        )
    }
}

/// Of what is between two sides or corners half is at each end.
pub(super) fn half(found: Found) -> Found {
    Found { value: found.value / 2.0, u: found.u / 2.0 }
}

pub(super) fn faults(image: Image, turnable: &Turnable) -> [Fault; 6] {
    let rotation = turnable.rotation_deg.map(|found| {
        let mm = |deg: f64| deg.to_radians() * image.width.0;
        Found { value: mm(found.value), u: mm(found.u) }
    });
    let fault = |name, adjust, at_corner| Fault { name, adjust, at_corner };
    let (vertical, horizontal) = (turnable.vertical_trapezoid_mm, turnable.horizontal_trapezoid_mm);
    [
        fault("rotation", Adjust::Rotation, rotation),
        fault("the vertical trapezoid", Adjust::VerticalTrapezoid, Some(half(vertical))),
        fault("the horizontal trapezoid", Adjust::HorizontalTrapezoid, Some(half(horizontal))),
        fault("size", Adjust::Size, Some(half(turnable.size_mm))),
        fault("the shift to the right", Adjust::Shift, turnable.shift_right_mm),
        fault("the shift upward", Adjust::Shift, turnable.shift_up_mm),
    ]
}

fn most_mm(found: Found) -> f64 {
    found.value.abs() + found.expanded()
}

/// The faults of which the measure does not tell that they are small enough, and by which nothing
/// is turned; or that all of them together are.
pub(super) fn too_close(
    faults: &[Fault],
    turned: &[Adjust],
    remainder: &Remainder,
    corners: &[Found; 4],
    may_remain: MayRemain,
) -> Option<Sentence> {
    let turnable = faults
        .iter()
        .filter(|fault| !turned.contains(&fault.adjust))
        .filter_map(|fault| Some((fault.name, fault.at_corner?)));
    let stays = [
        ("width for height", half(remainder.stretch_mm)),
        ("the top's lean", half(remainder.skew_mm)),
    ];
    let is_open = |found: Found| may_remain.verdict(found) == Verdict::Unsure;
    let mut open: Vec<(&str, Found)> =
        turnable.chain(stays).filter(|(_, found)| is_open(*found)).collect();
    // Where one of them is named, the sum of all says nothing more.
    let none_beyond = corners.iter().all(|off| may_remain.verdict(*off) != Verdict::Outside);
    if open.is_empty() && none_beyond {
        let together = corners.iter().filter(|off| is_open(**off));
        open.extend(together.map(|off| ("all faults together", *off)).take(1));
    }
    let most_mm = open.iter().map(|(_, found)| most_mm(*found)).reduce(f64::max)?;
    let names = Sentence::joined(open.iter().map(|(name, _)| Sentence::from(*name)), ", ");
    Some(say!(
        "too close to call by this measure: {names}: up to {} at one end, and {}: measure finer, or each length once more",
        Mm(most_mm).tape(),
        may_remain.says()
    ))
}

/// What no adjuster takes out and is more than may remain.
pub(super) fn beyond(
    remainder: &Remainder,
    corners: &[Found; 4],
    may_remain: MayRemain,
) -> Option<Sentence> {
    let beyond = |found| may_remain.verdict(half(found)) == Verdict::Outside;
    let mut said: Vec<Sentence> = [
        (remainder.stretch_mm, remainder.says_stretch()),
        (remainder.skew_mm, remainder.says_skew()),
    ]
    .into_iter()
    .filter(|(found, _)| beyond(*found))
    .map(|(found, says)| say!("{says}, {} at each end", Mm(half(found).value.abs()).tape()))
    .collect();
    let too_far = |(_, off): &(&str, Found)| may_remain.verdict(*off) == Verdict::Outside;
    if said.is_empty()
        && let Some((corner, off)) = farthest(corners).filter(too_far)
    {
        said.push(say!(
            "with all that can be turned taken out, the {corner} corner stays {} off",
            Mm(off.value).tape()
        ));
    }
    // Read against a string, to the figure that is written.
    let bowed = remainder.bows.iter().filter(|bow| bow.outward_mm.abs() > may_remain.limit_mm);
    said.extend(
        bowed.map(|bow| say!("the {} bows {}", bow.side.name(), Mm(bow.outward_mm.abs()).tape())),
    );
    (!said.is_empty()).then(|| {
        say!(
            "{}; {}. No adjuster takes this out: see that every digital correction is off and that the source has the shape of the image, then measure again",
            Sentence::joined(said, ", "),
            may_remain.says()
        )
    })
}

/// The corner that is farthest off, by the least that it can be.
fn farthest(corners: &[Found; 4]) -> Option<(&'static str, Found)> {
    let named = CORNERS.into_iter().zip(corners.iter().copied());
    let least_mm = |found: Found| found.value - found.expanded();
    named.max_by(|(_, a), (_, b)| least_mm(*a).total_cmp(&least_mm(*b)))
}

/// Why a fault that is told from nothing is left.
pub(super) fn small_enough(at_corner: impl Iterator<Item = Found>) -> Sentence {
    let most_mm = at_corner.map(most_mm).fold(0.0, f64::max);
    say!("leave it, at most {} at one end, which may remain", Mm(most_mm).tape())
}
