//! What to turn first, at which corner to watch, and how far it has to move.

use serde::Serialize;
use skimgauge_quantity::{Mm, Sentence, say};

use super::may_remain::{Fault, MayRemain, small_enough};
use super::quadrilateral::{CORNERS, Quadrilateral};
use super::split::{Found, Parts};
use skimgauge_model::Image;

/// Nothing that moves a corner by less is said.
const NOWHERE: Mm = Mm(0.05);

/// What an installer can turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Adjust {
    /// Roll about the line of sight.
    Rotation,
    /// Turn left or right: left and right side differ.
    HorizontalTrapezoid,
    /// Tip up or down: top and bottom differ.
    VerticalTrapezoid,
    /// Nearer or farther.
    Size,
    /// Sideways and up or down, without turning.
    Shift,
}

impl Adjust {
    pub(super) const ALL: [Self; 5] = [
        Self::Rotation,
        Self::HorizontalTrapezoid,
        Self::VerticalTrapezoid,
        Self::Size,
        Self::Shift,
    ];

    fn name(self) -> &'static str {
        match self {
            Adjust::Rotation => "rotation",
            Adjust::HorizontalTrapezoid => "horizontal trapezoid",
            Adjust::VerticalTrapezoid => "vertical trapezoid",
            Adjust::Size => "size",
            Adjust::Shift => "shift",
        }
    }

    /// The parts once it is turned.
    pub(super) fn without(self, parts: Parts) -> Parts {
        match self {
            Adjust::Rotation => Parts { rotation_rad: 0.0, ..parts },
            Adjust::HorizontalTrapezoid => Parts { horizontal_trapezoid_mm: 0.0, ..parts },
            Adjust::VerticalTrapezoid => Parts { vertical_trapezoid_mm: 0.0, ..parts },
            Adjust::Size => Parts { size: 0.0, ..parts },
            Adjust::Shift => Parts { shift_right_mm: 0.0, shift_up_mm: 0.0, ..parts },
        }
    }
}

/// One thing to turn, with the corner to watch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Correction {
    /// What.
    pub adjust: Adjust,
    /// Which corner to watch: the one that is farthest out before this step.
    pub corner: &'static str,
    /// How far that corner has to move to the right, mm.
    pub move_right_mm: f64,
    /// How far that corner has to move up, mm.
    pub move_up_mm: f64,
    /// Farthest any corner is out after this step, mm.
    pub then_worst_corner_mm: f64,
    /// Whether it is turned: where the measure cannot tell it from nothing, or it is no more than
    /// may remain and with the others leaves no corner too far off, it is left alone.
    pub to_turn: bool,
    /// False if the measure cannot tell it from nothing.
    pub clear: bool,
    /// The same in a sentence.
    pub says: Sentence,
}

/// Corrections in the order to make them, of what was measured; these are turned.
///
/// Rotation and trapezoids come first, the largest of them at the head, because turning them
/// changes size and place; then size, then shift.
pub(super) fn corrections(
    parts: Parts,
    image: Image,
    faults: &[Fault],
    turned: &[Adjust],
    may_remain: MayRemain,
) -> Vec<Correction> {
    let wanted = Quadrilateral::rectangle(image.width.0, image.height.0);
    let farthest = |quad: &Quadrilateral| {
        (0..4)
            .map(|i| (i, quad.0[i].distance_mm(wanted.0[i])))
            .fold((0, -1.0), |best, next| if next.1 > best.1 { next } else { best })
    };
    let order = in_order(parts, image, faults);
    let mut now = parts;
    order
        .into_iter()
        .map(|(adjust, found)| {
            let clear = found.iter().any(|found| found.is_clear());
            let to_turn = turned.contains(&adjust);
            let before = now.corners(image);
            let without = adjust.without(now);
            let after = without.corners(image);
            let (corner, _) = farthest(&before);
            let (move_right_mm, move_up_mm) = before.0[corner].offset_to(after.0[corner]);
            let says = if to_turn {
                now = without;
                let by_itself = found.iter().any(|found| may_remain.is_to_turn(*found));
                let with_others = (!by_itself).then(|| {
                    let (farthest, off_mm) = farthest(&parts.corners(image));
                    say!(
                        "; by itself it might stay, and with the others it leaves the {} corner {} off",
                        CORNERS[farthest],
                        Mm(off_mm).tape()
                    )
                });
                say!(
                    "bring the {} corner {}{}",
                    CORNERS[corner],
                    direction(move_right_mm, move_up_mm),
                    with_others.unwrap_or_default()
                )
            } else if clear {
                small_enough(found.into_iter().filter(|found| found.is_clear()))
            } else {
                "leave it, the measure cannot tell it from nothing".into()
            };
            let (_, then_worst_corner_mm) = farthest(&now.corners(image));
            Correction {
                adjust,
                corner: CORNERS[corner],
                move_right_mm,
                move_up_mm,
                then_worst_corner_mm,
                to_turn,
                clear,
                says: say!("{}: {says}", adjust.name()),
            }
        })
        .collect()
}

/// What was measured, in the order in which it is turned: what changes size and place comes before
/// them, and of that what moves a corner farthest.
fn in_order(parts: Parts, image: Image, faults: &[Fault]) -> Vec<(Adjust, Vec<Found>)> {
    let reach_mm = |adjust: Adjust| {
        let (before, after) = (parts.corners(image), adjust.without(parts).corners(image));
        (0..4).map(|i| before.0[i].distance_mm(after.0[i])).fold(0.0, f64::max)
    };
    let of = |adjust: Adjust| -> Vec<Found> {
        let those = faults.iter().filter(|fault| fault.adjust == adjust);
        those.filter_map(|fault| fault.at_corner).collect()
    };
    let mut order: Vec<(Adjust, Vec<Found>)> = Adjust::ALL
        .into_iter()
        .map(|adjust| (adjust, of(adjust)))
        .filter(|(_, found)| !found.is_empty())
        .collect();
    let late = |adjust: Adjust| match adjust {
        Adjust::Size => 1,
        Adjust::Shift => 2,
        Adjust::Rotation | Adjust::HorizontalTrapezoid | Adjust::VerticalTrapezoid => 0,
    };
    order.sort_by(|(a, _), (b, _)| {
        late(*a).cmp(&late(*b)).then(reach_mm(*b).total_cmp(&reach_mm(*a)))
    });
    order
}

/// `3.2 mm right and 1 mm down`.
pub(crate) fn direction(right_mm: f64, up_mm: f64) -> Sentence {
    let part = |value_mm: f64, plus: &str, minus: &str| {
        let side = if value_mm > 0.0 { plus } else { minus };
        (value_mm.abs() >= NOWHERE.0).then(|| say!("{} {side}", Mm(value_mm.abs()).tape()))
    };
    match (part(right_mm, "right", "left"), part(up_mm, "up", "down")) {
        (Some(a), Some(b)) => say!("{a} and {b}"),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => say!("nowhere: less than the tape shows"),
    }
}
