//! Marks on the wall, each from two datum lines, each checked by two distances that cross.

use serde::Serialize;
use skimgauge_quantity::{Name, Sentence, say};

/// Distances shorter than this check nothing that a tape can read, mm.
const SHORTEST_CHECK_MM: f64 = 60.0;
/// Longest distance that one person holds a tape over, mm.
const LONGEST_CHECK_MM: f64 = 5000.0;

/// A mark, in the frame of the datum lines.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mark {
    /// What it marks.
    pub name: String,
    /// What it belongs to: `datum`, `image`, `emitter`, or a plate's name.
    pub of: String,
    /// Right of the plumb line, mm; below zero is left.
    pub from_plumb_mm: f64,
    /// Above the level line, mm; below zero is below.
    pub from_level_mm: f64,
    /// Above the finished floor, mm.
    pub above_floor_mm: f64,
    /// From the wall's left end, mm.
    pub from_wall_left_mm: f64,
    /// Diameter to drill, mm; absent for a mark that is not drilled.
    pub drill_mm: Option<f64>,
    /// Distances to marks that are already there.
    pub checks: Vec<Check>,
    /// Smallest slip of this mark alone, in whatever direction, that its checks show, mm; absent
    /// if they cannot.
    pub slip_shown_mm: Option<f64>,
}

/// A distance that has to come out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Check {
    /// Measured from this mark.
    pub from: Sentence,
    /// To this one.
    pub to: Sentence,
    /// What it has to be, mm.
    pub distance_mm: f64,
    /// How far off it may be, mm.
    pub tolerance_mm: f64,
}

impl Mark {
    /// Distance to another mark, mm.
    pub fn distance_mm(&self, to: &Mark) -> f64 {
        (self.from_plumb_mm - to.from_plumb_mm).hypot(self.from_level_mm - to.from_level_mm)
    }

    pub(crate) fn check_to(&self, to: &Mark, tolerance_mm: f64) -> Check {
        Check {
            from: say!("{}", Name(&self.name)),
            to: say!("{}", Name(&to.name)),
            distance_mm: self.distance_mm(to),
            tolerance_mm,
        }
    }
}

/// How far off the distance between two pencil marks may be, mm, if each is placed to `mark_u_mm`
/// (standard) in each direction: two standard deviations, rounded up to half a millimetre.
pub fn tolerance_mm(mark_u_mm: f64) -> f64 {
    (2.0 * std::f64::consts::SQRT_2 * mark_u_mm * 2.0).ceil() / 2.0
}

/// Gives every mark from `first` on the two distances, to marks of its own group or earlier ones,
/// that show a slip in any direction best. Marks before `first` are done.
pub(crate) fn add_checks(marks: &mut [Mark], first: usize, tolerance_mm: f64) {
    for index in first..marks.len() {
        let mark = &marks[index];
        let others: Vec<(&Mark, (f64, f64))> = marks
            .iter()
            .filter(|other| {
                (SHORTEST_CHECK_MM..=LONGEST_CHECK_MM).contains(&mark.distance_mm(other))
            })
            .map(|other| {
                let length_mm = mark.distance_mm(other);
                let across = (other.from_plumb_mm - mark.from_plumb_mm) / length_mm;
                let upright = (other.from_level_mm - mark.from_level_mm) / length_mm;
                (other, (across, upright))
            })
            .collect();
        let mut best: Option<(f64, f64, [&Mark; 2])> = None;
        for (i, (a, along_a)) in others.iter().enumerate() {
            for (b, along_b) in &others[i + 1..] {
                let shown = shown_share(*along_a, *along_b);
                // A distance along a datum line repeats what was just measured; a slanting one does
                // not.
                let slanting = |along: (f64, f64)| along.0.abs().min(along.1.abs()) > 0.17;
                let merit = shown
                    * if slanting(*along_a) && slanting(*along_b) { 1.0 } else { 0.8 }
                    - (mark.distance_mm(a) + mark.distance_mm(b)) / 50_000.0;
                if best.is_none_or(|(top, ..)| merit > top) {
                    best = Some((merit, shown, [a, b]));
                }
            }
        }
        let Some((_, shown, pair)) = best else { continue };
        let checks = pair.map(|other| mark.check_to(other, tolerance_mm)).to_vec();
        marks[index].checks = checks;
        marks[index].slip_shown_mm = (shown > 0.1).then(|| tolerance_mm / shown);
    }
}

/// The share of a slip that at least one of two distances shows, for the direction in which they
/// show least.
fn shown_share(a: (f64, f64), b: (f64, f64)) -> f64 {
    let cosine = (a.0 * b.0 + a.1 * b.1).abs().min(1.0);
    // The worst direction lies halfway beside both lines: each shows the sine of half the angle
    // between them.
    ((1.0 - cosine) / 2.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn mark(name: usize, from_plumb_mm: f64, from_level_mm: f64) -> Mark {
        Mark {
            name: name.to_string(),
            of: String::new(),
            from_plumb_mm,
            from_level_mm,
            above_floor_mm: 0.0,
            from_wall_left_mm: 0.0,
            drill_mm: None,
            checks: Vec::new(),
            slip_shown_mm: None,
        }
    }

    #[test]
    fn tolerance_is_rounded_up() {
        assert_eq!(tolerance_mm(0.7), 2.0);
        assert_eq!(tolerance_mm(0.5), 1.5);
    }

    proptest! {
        /// What is promised holds: a slip of the stated size, in any direction, puts some check out.
        #[test]
        fn a_slip_of_the_stated_size_shows(
            points in prop::collection::vec((-1500.0..1500.0_f64, -1200.0..1200.0_f64), 4..14),
            direction in 0.0..std::f64::consts::TAU,
        ) {
            let mut marks: Vec<Mark> = points.iter().enumerate().map(|(i, &(x, y))| mark(i, x, y)).collect();
            add_checks(&mut marks, 0, 2.0);
            for slipped in &marks {
                let Some(slip_mm) = slipped.slip_shown_mm else { continue };
                let mut moved = slipped.clone();
                // A few per cent over, because distances are not quite straight in the slip.
                moved.from_plumb_mm += 1.05 * slip_mm * direction.cos();
                moved.from_level_mm += 1.05 * slip_mm * direction.sin();
                let shown = slipped.checks.iter().any(|check| {
                    let to = marks.iter().find(|mark| say!("{}", Name(&mark.name)) == check.to).unwrap();
                    (moved.distance_mm(to) - check.distance_mm).abs() > check.tolerance_mm
                });
                prop_assert!(shown, "{} slipped by {slip_mm}", slipped.name);
            }
        }
    }
}
