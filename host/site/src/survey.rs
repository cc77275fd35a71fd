//! Where to survey the board's shape: the fewest points that find bow and twist, then where to look
//! next.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Sentence, say};

use crate::entry::{EntryError, length_mm, number};
use skimgauge_model::Image;

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
    pub why: Sentence,
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

/// Where the board was surveyed, and how far it is off a smooth shape there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// What plane, bow and twist leave of the height there, mm.
    pub residual_mm: f64,
}

/// With so many places a survey begins: they show bow, twist and bulge.
pub const FIRST: usize = 9;

/// So far inside the image, mm, the head's feet stand on the board.
pub const INSET_MM: f64 = 40.0;

/// How well one surveyed height is known, standard uncertainty, mm.
pub const HEIGHT_U_MM: f64 = 0.05;

/// So many points of a board that nobody surveyed: the first nine, then those that are farthest from
/// the others.
///
/// # Errors
/// As [`first_points`].
pub fn to_begin(image: Image, inset_mm: f64, count: usize) -> Result<Vec<Proposed>, EntryError> {
    let mut at = first_points(image, inset_mm)?;
    let known: Vec<Known> = at
        .iter()
        .map(|point| Known { x_mm: point.x_mm, y_mm: point.y_mm, residual_mm: 0.0 })
        .collect();
    let more = next_points(image, inset_mm, &known, count.saturating_sub(at.len()))?;
    let first = at.len();
    at.extend(more.into_iter().map(|point| Proposed { order: point.order + first, ..point }));
    Ok(at)
}

/// Points to start with. A plane with bow in both directions and twist has six unknowns: the first
/// six points find them all, the other three check them. `inset_mm` keeps the head's feet on the
/// board.
///
/// # Errors
/// [`EntryError`] if the inset leaves nothing of the image.
pub fn first_points(image: Image, inset_mm: f64) -> Result<Vec<Proposed>, EntryError> {
    let image = image.checked()?;
    let most_mm = image.width.0.min(image.height.0) / 4.0;
    length_mm("inset of the survey", inset_mm, 0.0, most_mm)?;
    let (x, top, bottom) = (image.width.0 / 2.0 - inset_mm, -inset_mm, inset_mm - image.height.0);
    let middle = -image.height.0 / 2.0;
    let points: [_; FIRST] = [
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
        .map(|(index, (x_mm, y_mm, why))| Proposed {
            order: index + 1,
            x_mm,
            y_mm,
            why: why.into(),
        })
        .collect())
}

/// Where to look next: up to `count` places where the points so far say least about the board. A
/// place counts for more the farther it is from every point, and the worse a smooth shape (plane,
/// bow, twist) fits the points near it.
///
/// # Errors
/// [`EntryError`] for numbers that cannot be right, or if the inset leaves nothing of the image.
pub fn next_points(
    image: Image,
    inset_mm: f64,
    so_far: &[Known],
    count: usize,
) -> Result<Vec<Proposed>, EntryError> {
    first_points(image, inset_mm)?;
    for point in so_far {
        number("x of a surveyed point", point.x_mm)?;
        number("y of a surveyed point", point.y_mm)?;
        length_mm(
            "height of a surveyed point off a smooth shape",
            point.residual_mm,
            -1000.0,
            1000.0,
        )?;
    }
    if so_far.is_empty() {
        return Ok(first_points(image, inset_mm)?.into_iter().take(count).collect());
    }
    let typical_mm =
        so_far.iter().map(|point| point.residual_mm.abs()).sum::<f64>() / so_far.len() as f64;
    let mut candidates: Vec<Candidate> =
        candidates(image, inset_mm).map(|(x, y)| Candidate::new(x, y)).collect();
    candidates
        .iter_mut()
        .for_each(|candidate| so_far.iter().for_each(|point| candidate.see(point)));
    let mut proposed = Vec::new();
    for order in 1..=count {
        let best =
            candidates.iter().max_by(|a, b| a.worth(typical_mm).total_cmp(&b.worth(typical_mm)));
        let Some(best) = best.filter(|best| best.distance_mm() > 1.0) else { break };
        let (x_mm, y_mm, residual_mm) = (best.x_mm, best.y_mm, best.residual_mm());
        let why = if residual_mm > 2.0 * typical_mm && residual_mm > 0.01 {
            say!("the points near here are {} off a smooth shape", Mm(residual_mm).gap())
        } else {
            say!("nothing measured within {}", Mm(best.distance_mm()).wall())
        };
        proposed.push(Proposed { order, x_mm, y_mm, why });
        // Assumed to be as smooth as its surroundings, so that the next one looks elsewhere.
        let assumed = Known { x_mm, y_mm, residual_mm: residual_mm / 2.0 };
        candidates.iter_mut().for_each(|candidate| candidate.see(&assumed));
    }
    Ok(proposed)
}

/// A place that may be proposed, with what the points so far say of it. Squares of distances, since
/// ten thousand points are seen by each.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    x_mm: f64,
    y_mm: f64,
    nearest_mm2: f64,
    weighted_mm: f64,
    weights: f64,
}

impl Candidate {
    fn new(x_mm: f64, y_mm: f64) -> Self {
        Self { x_mm, y_mm, nearest_mm2: f64::INFINITY, weighted_mm: 0.0, weights: 0.0 }
    }

    fn see(&mut self, point: &Known) {
        let (across_mm, up_mm) = (point.x_mm - self.x_mm, point.y_mm - self.y_mm);
        let apart_mm2 = across_mm * across_mm + up_mm * up_mm;
        self.nearest_mm2 = self.nearest_mm2.min(apart_mm2);
        let far_mm2 = apart_mm2.max(1.0);
        let weight = 1.0 / (far_mm2 * far_mm2);
        self.weighted_mm += weight * point.residual_mm.abs();
        self.weights += weight;
    }

    /// To the nearest point, mm.
    fn distance_mm(&self) -> f64 {
        self.nearest_mm2.sqrt()
    }

    /// How far the points near by are off a smooth shape, mm.
    fn residual_mm(&self) -> f64 {
        self.weighted_mm / self.weights
    }

    fn worth(&self, typical_mm: f64) -> f64 {
        // Some tenth of a millimetre of shape is expected even where the fit is perfect.
        self.distance_mm() * (self.residual_mm() + typical_mm + 0.05)
    }
}

/// A fine even grid over the image, inset kept.
fn candidates(image: Image, inset_mm: f64) -> impl Iterator<Item = (f64, f64)> {
    const ACROSS: usize = 32;
    const DOWN: usize = 20;
    let (wide_mm, high_mm) = (image.width.0 - 2.0 * inset_mm, image.height.0 - 2.0 * inset_mm);
    (0..=DOWN).flat_map(move |row| {
        (0..=ACROSS).map(move |column| {
            (
                wide_mm * (column as f64 / ACROSS as f64 - 0.5),
                -inset_mm - high_mm * row as f64 / DOWN as f64,
            )
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As many as a verdict asks for, each once, the first nine among them.
    #[test]
    fn a_board_is_surveyed_at_as_many_points_as_are_asked_for() {
        let image = Image::mm(1660.0, 934.0);
        for (asked, points) in [(0, 9), (4, 9), (17, 17), (30, 30)] {
            let at = to_begin(image, 40.0, asked).unwrap();
            assert_eq!(at.len(), points, "{asked}");
            assert!(at.iter().enumerate().all(|(place, point)| point.order == place + 1));
            let apart = |a: &Proposed, b: &Proposed| (a.x_mm - b.x_mm).hypot(a.y_mm - b.y_mm);
            let twice =
                at.iter().any(|a| at.iter().any(|b| a.order != b.order && apart(a, b) < 60.0));
            assert!(!twice, "{at:?}");
        }
    }
    use skimgauge_quantity::Style;

    const IMAGE: Image = Image::mm(2000.0, 1250.0);

    fn known(points: &[Proposed], residual_mm: f64) -> Vec<Known> {
        points.iter().map(|p| Known { x_mm: p.x_mm, y_mm: p.y_mm, residual_mm }).collect()
    }

    #[test]
    fn a_smooth_board_is_looked_at_where_nothing_was_measured() {
        let points = known(&first_points(IMAGE, 30.0).unwrap(), 0.0);
        let next = next_points(IMAGE, 30.0, &points, 4).unwrap();
        assert_eq!(next.len(), 4);
        for proposed in &next {
            let why = proposed.why.text(Style::default());
            assert!(why.starts_with("nothing measured"), "{why}");
            // The widest holes of a three by three grid are the middles of its four fields.
            assert!(
                (proposed.x_mm.abs() - 485.0).abs() < 40.0 && (proposed.y_mm + 625.0).abs() > 250.0,
                "{proposed:?}"
            );
        }
    }

    #[test]
    fn a_bump_draws_the_next_point_to_it() {
        let grid: Vec<Known> = (0..7)
            .flat_map(|column| {
                (0..5).map(move |row| {
                    (-960.0 + 320.0 * f64::from(column), -30.0 - 297.5 * f64::from(row))
                })
            })
            .map(|(x_mm, y_mm)| {
                let residual_mm = 1.5
                    * (-((x_mm - 640.0) / 150.0).powi(2) - ((y_mm + 325.0) / 150.0).powi(2)).exp();
                Known { x_mm, y_mm, residual_mm }
            })
            .collect();
        let first = &next_points(IMAGE, 30.0, &grid, 1).unwrap()[0];
        assert!((first.x_mm - 640.0).hypot(first.y_mm + 325.0) < 330.0, "{first:?}");
        assert!(first.why.text(Style::default()).contains("off a smooth shape"));
    }

    #[test]
    fn bad_numbers_are_refused() {
        assert!(first_points(IMAGE, 900.0).is_err());
        let points = known(&first_points(IMAGE, 30.0).unwrap(), f64::NAN);
        assert!(next_points(IMAGE, 30.0, &points, 2).is_err());
    }

    #[test]
    fn with_nothing_known_one_begins_at_the_beginning() {
        assert_eq!(
            next_points(IMAGE, 30.0, &[], 2).unwrap(),
            first_points(IMAGE, 30.0).unwrap()[..2]
        );
    }
}
