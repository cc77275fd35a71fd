//! What one fault may leave at a corner, one end of a side, and how each fault stands to that.

use skimgauge_model::{Image, Verdict};
use skimgauge_quantity::{Mm, Sentence, say, short};

use super::correct::Adjust;
use super::split::Found;
use super::{Remainder, Turnable};

/// What one fault may leave at one end of a side where a job does not say it, as a share of the image's
/// width: common practice, no source.
pub const MAY_REMAIN: f64 = 0.0025;

/// What one fault may leave at one end of a side.
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
/// is turned.
pub(super) fn too_close(
    faults: &[Fault],
    remainder: &Remainder,
    may_remain: MayRemain,
) -> Option<Sentence> {
    let turnable = faults
        .iter()
        .filter_map(|fault| Some((fault.name, fault.at_corner?)))
        .filter(|(_, found)| !may_remain.is_to_turn(*found));
    let stays = [
        ("width for height", half(remainder.stretch_mm)),
        ("the top's lean", half(remainder.skew_mm)),
    ];
    let open: Vec<(&str, Found)> = turnable
        .chain(stays)
        .filter(|(_, found)| may_remain.verdict(*found) == Verdict::Unsure)
        .collect();
    let most_mm = open.iter().map(|(_, found)| most_mm(*found)).reduce(f64::max)?;
    let names = Sentence::joined(open.iter().map(|(name, _)| Sentence::from(*name)), ", ");
    Some(say!(
        "too close to call by this measure: {names}: up to {} at one end, and {}: measure finer, or each length once more",
        Mm(most_mm).tape(),
        may_remain.says()
    ))
}

/// What no adjuster takes out and is more than may remain.
pub(super) fn beyond(remainder: &Remainder, may_remain: MayRemain) -> Option<Sentence> {
    let beyond = |found| may_remain.verdict(half(found)) == Verdict::Outside;
    let mut said: Vec<Sentence> = [
        (remainder.stretch_mm, remainder.says_stretch()),
        (remainder.skew_mm, remainder.says_skew()),
    ]
    .into_iter()
    .filter(|(found, _)| beyond(*found))
    .map(|(found, says)| say!("{says}, {} at each end", Mm(half(found).value.abs()).tape()))
    .collect();
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

/// Why a fault that is told from nothing is left.
pub(super) fn small_enough(at_corner: impl Iterator<Item = Found>) -> Sentence {
    let most_mm = at_corner.map(most_mm).fold(0.0, f64::max);
    say!("leave it, at most {} at one end, which may remain", Mm(most_mm).tape())
}
