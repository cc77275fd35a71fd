//! Whether a minimum zone is the thinnest of all, or only of those near it.
//!
//! The touching places prove that no zone near this one is thinner. Any other zone leans from it,
//! and a zone that leans by an angle is at least as thick as the places are wide across the lean,
//! times its sine, less what this one is thick. So a thinner one can lean by so little only that
//! its thickness differs by nothing that matters, as long as the places are much wider than the
//! zone is thick: true of every survey of a board, not of places in two rows close together or all
//! but in a line. Those, if they are few, are searched whole: every minimum zone stands square to
//! two joining lines of places.

use super::HeightAt;
use super::hull::{Place, hull, sides, turn};
use nalgebra::{Rotation3, Vector3};

/// How far a zone is proved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Proof {
    /// No zone at all is thinner.
    Global,
    /// No zone near this one is.
    Local,
    /// Nothing.
    None,
}

/// A zone that may be thinner by less than this share of itself is not another one.
const NOTHING: f64 = 1e-4;

/// Up to so many places every zone is looked at.
const MOST_PLACES: usize = 36;

/// Whether the width of the places along the zone (`normal` square to it, `width` its thickness)
/// leaves no room for a thinner one.
pub(super) fn is_wide(places: &[HeightAt], normal: Vector3<f64>, width: f64) -> bool {
    let turn =
        Rotation3::rotation_between(&normal, &Vector3::z()).unwrap_or_else(Rotation3::identity);
    let flat: Vec<[f64; 2]> = places
        .iter()
        .map(|p| {
            let turned = turn * Vector3::from(*p);
            [turned.x, turned.y]
        })
        .collect();
    let across = least_width(flat);
    // Half the angle has this tangent where the bound meets the zone's own width.
    let lean = 2.0 * (width / across).atan();
    lean < 1.0 && 1.0 - lean.cos() < NOTHING
}

/// The least distance of two parallel lines that hold all places.
fn least_width(places: Vec<Place>) -> f64 {
    let hull = hull(places);
    sides(&hull)
        .map(|(a, b)| {
            let length = (b[0] - a[0]).hypot(b[1] - a[1]);
            hull.iter().map(|&p| turn(a, b, p) / length).fold(0.0, f64::max)
        })
        .filter(|width| width.is_finite())
        .fold(f64::INFINITY, f64::min)
}

/// The normal of the thinnest zone of all, where the places are few enough to look at every one.
pub(super) fn thinnest(places: &[HeightAt]) -> Option<Vector3<f64>> {
    if places.len() > MOST_PLACES {
        return None;
    }
    let at: Vec<Vector3<f64>> = places.iter().map(|p| Vector3::from(*p)).collect();
    let lines: Vec<Vector3<f64>> = (0..at.len())
        .flat_map(|a| (0..a).map(move |b| (a, b)))
        .map(|(a, b)| at[a] - at[b])
        .filter(|line| line.norm() > 0.0)
        .map(|line| line.normalize())
        .collect();
    let mut best: Option<(f64, Vector3<f64>)> = None;
    for (k, one) in lines.iter().enumerate() {
        for other in &lines[..k] {
            let square = one.cross(other);
            let length = square.norm();
            if length < 1e-9 {
                continue;
            }
            let most = best.map_or(f64::INFINITY, |(width, _)| width * length);
            let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
            for place in &at {
                let height = square.dot(place);
                (low, high) = (low.min(height), high.max(height));
                if high - low >= most {
                    break;
                }
            }
            if high - low < most {
                best = Some(((high - low) / length, square / length));
            }
        }
    }
    best.map(|(_, normal)| normal)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_width_is_that_of_the_narrow_side() {
        let along = [[0.0, 0.0], [9.0, 0.0], [9.0, 2.0], [0.0, 2.0], [4.0, 1.0]].to_vec();
        assert!((least_width(along) - 2.0).abs() < 1e-12);
        // An equilateral triangle of side 2: its height.
        let triangle = vec![[0.0, 0.0], [2.0, 0.0], [1.0, 3f64.sqrt()]];
        assert!((least_width(triangle) - 3f64.sqrt()).abs() < 1e-12);
    }
}
