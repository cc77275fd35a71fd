//! Where to survey the board's shape: the fewest points that find bow and twist, then where to look next.

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::entry::{EntryError, length_mm, number};
use crate::image::Image;

/// A point to survey, in the image's frame.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Proposed {
    /// Its turn, from 1.
    pub order: usize,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm; zero or less.
    pub y_mm: f64,
    /// What it is for.
    pub why: String,
}

/// A surveyed point.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Surveyed {
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// The board's height there, mm.
    pub z_mm: f64,
}

/// Why no points can be proposed.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SurveyError {
    /// A number that cannot be right.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// Too few or badly placed points to see a shape.
    #[error(
        "these {points} points do not show bow and twist: take the first six points of the proposed grid (corners, middle of the top edge, centre)"
    )]
    NoShape {
        /// How many there are.
        points: usize,
    },
}

/// Points to start with. A plane with bow in both directions and twist has six unknowns: the first six points find them
/// all, the other three check them. `inset_mm` keeps the head's feet on the board.
///
/// # Errors
/// [`EntryError`] if the inset leaves nothing of the image.
pub fn first_points(image: Image, inset_mm: f64) -> Result<Vec<Proposed>, EntryError> {
    let image = Image::new(image.width_mm, image.height_mm)?;
    let most_mm = image.width_mm.min(image.height_mm) / 4.0;
    length_mm("inset of the survey", inset_mm, 0.0, most_mm)?;
    let (x, top, bottom) = (image.width_mm / 2.0 - inset_mm, -inset_mm, inset_mm - image.height_mm);
    let middle = -image.height_mm / 2.0;
    let points = [
        (-x, top, "plane and twist"),
        (x, top, "plane and twist"),
        (x, bottom, "plane and twist"),
        (-x, bottom, "plane and twist"),
        (0.0, middle, "bow"),
        (0.0, top, "bow across against bow upright"),
        (0.0, bottom, "checks the bow across"),
        (-x, middle, "checks the bow upright"),
        (x, middle, "checks the bow upright"),
    ];
    Ok(points
        .into_iter()
        .enumerate()
        .map(|(index, (x_mm, y_mm, why))| Proposed { order: index + 1, x_mm, y_mm, why: why.to_owned() })
        .collect())
}

/// Where to look next: up to `count` places where the points so far say least about the board. A place counts for more
/// the farther it is from every point, and the worse a smooth shape (plane, bow, twist) fits the points near it.
///
/// # Errors
/// [`SurveyError`] for numbers that cannot be right or points that do not show a shape yet.
pub fn next_points(
    image: Image,
    inset_mm: f64,
    so_far: &[Surveyed],
    count: usize,
) -> Result<Vec<Proposed>, SurveyError> {
    first_points(image, inset_mm)?;
    for point in so_far {
        number("x of a surveyed point", point.x_mm)?;
        number("y of a surveyed point", point.y_mm)?;
        length_mm("height of a surveyed point", point.z_mm, -1000.0, 1000.0)?;
    }
    let residuals_mm = residuals_mm(image, so_far).ok_or(SurveyError::NoShape { points: so_far.len() })?;
    let mut known: Vec<(f64, f64, f64)> = so_far
        .iter()
        .zip(&residuals_mm)
        .map(|(point, residual_mm)| (point.x_mm, point.y_mm, residual_mm.abs()))
        .collect();
    let typical_mm = residuals_mm.iter().map(|r| r.abs()).sum::<f64>() / residuals_mm.len() as f64;
    let mut proposed = Vec::new();
    for order in 1..=count {
        let best = candidates(image, inset_mm)
            .map(|(x_mm, y_mm)| (x_mm, y_mm, merit(&known, x_mm, y_mm, typical_mm)))
            .max_by(|a, b| a.2.worth.total_cmp(&b.2.worth));
        let Some((x_mm, y_mm, merit)) = best.filter(|(_, _, merit)| merit.distance_mm > 1.0) else { break };
        let why = if merit.residual_mm > 2.0 * typical_mm && merit.residual_mm > 0.01 {
            format!("the points near here are {:.2} mm off a smooth shape", merit.residual_mm)
        } else {
            format!("nothing measured within {:.0} mm", merit.distance_mm)
        };
        proposed.push(Proposed { order, x_mm, y_mm, why });
        // Assumed to be as smooth as its surroundings, so that the next one looks elsewhere.
        known.push((x_mm, y_mm, merit.residual_mm / 2.0));
    }
    Ok(proposed)
}

#[derive(Debug, Clone, Copy)]
struct Merit {
    worth: f64,
    distance_mm: f64,
    residual_mm: f64,
}

fn merit(known: &[(f64, f64, f64)], x_mm: f64, y_mm: f64, typical_mm: f64) -> Merit {
    let mut distance_mm = f64::INFINITY;
    let (mut sum, mut weights) = (0.0, 0.0);
    for (px_mm, py_mm, residual_mm) in known {
        let apart_mm = (px_mm - x_mm).hypot(py_mm - y_mm);
        distance_mm = distance_mm.min(apart_mm);
        let weight = apart_mm.max(1.0).powi(-4);
        sum += weight * residual_mm;
        weights += weight;
    }
    let residual_mm = sum / weights;
    // Some tenth of a millimetre of shape is expected even where the fit is perfect.
    Merit { worth: distance_mm * (residual_mm + typical_mm + 0.05), distance_mm, residual_mm }
}

/// A fine even grid over the image, inset kept.
fn candidates(image: Image, inset_mm: f64) -> impl Iterator<Item = (f64, f64)> {
    const ACROSS: usize = 32;
    const DOWN: usize = 20;
    let (wide_mm, high_mm) = (image.width_mm - 2.0 * inset_mm, image.height_mm - 2.0 * inset_mm);
    (0..=DOWN).flat_map(move |row| {
        (0..=ACROSS).map(move |column| {
            (wide_mm * (column as f64 / ACROSS as f64 - 0.5), -inset_mm - high_mm * row as f64 / DOWN as f64)
        })
    })
}

/// Residuals of the points against plane, bow and twist by least squares; `None` if they do not determine those.
fn residuals_mm(image: Image, points: &[Surveyed]) -> Option<Vec<f64>> {
    if points.len() < 6 {
        return None;
    }
    let terms = |point: &Surveyed| {
        let (x, y) = (2.0 * point.x_mm / image.width_mm, 1.0 + 2.0 * point.y_mm / image.height_mm);
        [1.0, x, y, x * x, x * y, y * y]
    };
    let matrix = DMatrix::from_fn(points.len(), 6, |row, column| terms(&points[row])[column]);
    let heights_mm = DVector::from_iterator(points.len(), points.iter().map(|point| point.z_mm));
    let svd = matrix.clone().svd(true, true);
    let (low, high) = (svd.singular_values.min(), svd.singular_values.max());
    if low <= 1e-6 * high {
        return None;
    }
    let shape = svd.solve(&heights_mm, 0.0).ok()?;
    Some((heights_mm - matrix * shape).iter().copied().collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    const IMAGE: Image = Image { width_mm: 2000.0, height_mm: 1250.0 };

    fn surveyed(points: &[Proposed], shape: impl Fn(f64, f64) -> f64) -> Vec<Surveyed> {
        points.iter().map(|p| Surveyed { x_mm: p.x_mm, y_mm: p.y_mm, z_mm: shape(p.x_mm, p.y_mm) }).collect()
    }

    fn bowed_and_twisted(x_mm: f64, y_mm: f64) -> f64 {
        let (x, y) = (x_mm / 1000.0, y_mm / 625.0 + 1.0);
        0.3 + 0.1 * x - 0.2 * y + 1.1 * x * x - 0.4 * y * y + 0.7 * x * y
    }

    #[test]
    fn six_points_find_bow_and_twist_and_five_do_not() {
        let points = first_points(IMAGE, 30.0).unwrap();
        let all = surveyed(&points, bowed_and_twisted);
        let six = residuals_mm(IMAGE, &all[..6]).unwrap();
        assert!(six.iter().all(|r| r.abs() < 1e-9));
        assert!(residuals_mm(IMAGE, &all[..5]).is_none());
        // Without the middle of an edge, the two bows cannot be told apart: two unknowns share the centre.
        let ambiguous: Vec<Surveyed> =
            all[..5].iter().chain([&Surveyed { x_mm: 0.0, y_mm: -625.0, z_mm: 0.0 }]).copied().collect();
        assert!(residuals_mm(IMAGE, &ambiguous).is_none());
    }

    #[test]
    fn a_smooth_board_is_looked_at_where_nothing_was_measured() {
        let points = surveyed(&first_points(IMAGE, 30.0).unwrap(), bowed_and_twisted);
        let next = next_points(IMAGE, 30.0, &points, 4).unwrap();
        assert_eq!(next.len(), 4);
        for proposed in &next {
            assert!(proposed.why.starts_with("nothing measured"), "{}", proposed.why);
            // The widest holes of a three by three grid are the middles of its four fields.
            assert!(
                (proposed.x_mm.abs() - 485.0).abs() < 40.0 && (proposed.y_mm + 625.0).abs() > 250.0,
                "{proposed:?}"
            );
        }
    }

    #[test]
    fn a_bump_draws_the_next_point_to_it() {
        let grid: Vec<Surveyed> = (0..7)
            .flat_map(|column| {
                (0..5).map(move |row| (-960.0 + 320.0 * f64::from(column), -30.0 - 297.5 * f64::from(row)))
            })
            .map(|(x_mm, y_mm)| {
                let bump = 1.5 * (-((x_mm - 640.0) / 150.0).powi(2) - ((y_mm + 325.0) / 150.0).powi(2)).exp();
                Surveyed { x_mm, y_mm, z_mm: bowed_and_twisted(x_mm, y_mm) + bump }
            })
            .collect();
        let first = &next_points(IMAGE, 30.0, &grid, 1).unwrap()[0];
        assert!((first.x_mm - 640.0).hypot(first.y_mm + 325.0) < 330.0, "{first:?}");
        assert!(first.why.contains("off a smooth shape"));
    }

    #[test]
    fn bad_numbers_are_refused() {
        assert!(first_points(IMAGE, 900.0).is_err());
        let mut points = surveyed(&first_points(IMAGE, 30.0).unwrap(), bowed_and_twisted);
        points[0].z_mm = f64::NAN;
        assert!(next_points(IMAGE, 30.0, &points, 2).is_err());
        assert!(next_points(IMAGE, 30.0, &points[1..4], 2).unwrap_err().to_string().contains("first six points"));
    }
}
