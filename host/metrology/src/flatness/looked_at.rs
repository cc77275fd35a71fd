//! How much of the image a survey looked at.

use super::HeightAt;
use super::hull::{Place, hull, sides, turn};
use skimgauge_model::Image;
use skimgauge_quantity::Mm;

/// A place of the image that lies outside of all that was surveyed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unlooked {
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// To the nearest place between surveyed ones, mm.
    pub beyond_mm: f64,
}

/// A survey speaks of a place that lies so far beyond its points, and of none farther: a tenth of the
/// image's diagonal, since feet and inset keep points off the edge. Common practice, no source.
pub fn speaks_beyond(image: Image) -> Mm {
    Mm(0.1 * image.width.0.hypot(image.height.0))
}

/// The image's fine grid has so many places across and down.
const GRID: u32 = 24;

/// The place of the image that lies farthest beyond what was surveyed; `None` where the survey speaks
/// of all of it.
pub fn unlooked(points: &[HeightAt], image: Image) -> Option<Unlooked> {
    let (width, height) = (image.width.0, image.height.0);
    let hull = hull(points.iter().map(|&[x, y, _]| [x, y]).collect());
    let share = |nth: u32| f64::from(nth) / f64::from(GRID);
    let places = (0..=GRID).flat_map(|row| (0..=GRID).map(move |column| (column, row)));
    let of = |(column, row): (u32, u32)| {
        let (x_mm, y_mm) = ((share(column) - 0.5) * width, -share(row) * height);
        Unlooked { x_mm, y_mm, beyond_mm: beyond(&hull, [x_mm, y_mm]) }
    };
    places
        .map(of)
        .max_by(|a, b| a.beyond_mm.total_cmp(&b.beyond_mm))
        .filter(|place| place.beyond_mm > speaks_beyond(image).0)
}

/// How far a place lies outside of a hull; 0 inside.
fn beyond(hull: &[Place], at: Place) -> f64 {
    if hull.len() > 2 && sides(hull).all(|(a, b)| turn(a, b, at) >= 0.0) {
        return 0.0;
    }
    let to_side = |(a, b): (Place, Place)| {
        let (along, off) = ([b[0] - a[0], b[1] - a[1]], [at[0] - a[0], at[1] - a[1]]);
        let length2 = along[0] * along[0] + along[1] * along[1];
        let share = match length2 > 0.0 {
            true => ((along[0] * off[0] + along[1] * off[1]) / length2).clamp(0.0, 1.0),
            false => 0.0,
        };
        (off[0] - share * along[0]).hypot(off[1] - share * along[1])
    };
    sides(hull).map(to_side).fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    const IMAGE: Image = Image { width: Mm(2000.0), height: Mm(1200.0) };

    fn surveyed(places: &[(f64, f64)]) -> Vec<HeightAt> {
        places.iter().map(|&(x, y)| [x, y, 0.0]).collect()
    }

    #[test]
    fn corners_with_an_inset_speak_of_the_whole_image() {
        let inset =
            surveyed(&[(-900.0, -80.0), (900.0, -80.0), (-900.0, -1120.0), (900.0, -1120.0)]);
        assert_eq!(unlooked(&inset, IMAGE), None);
    }

    #[test]
    fn what_nobody_looked_at_is_named() {
        let top: Vec<(f64, f64)> = (0..9)
            .map(|n| (f64::from(n) * 230.0 - 920.0, -40.0 - 120.0 * f64::from(n % 2)))
            .collect();
        let below = unlooked(&surveyed(&top), IMAGE).unwrap();
        assert!(below.y_mm == -1200.0 && below.beyond_mm > 1000.0, "{below:?}");
        let triangle = surveyed(&[(-960.0, -40.0), (960.0, -40.0), (-960.0, -1160.0)]);
        let corner = unlooked(&triangle, IMAGE).unwrap();
        assert_eq!((corner.x_mm, corner.y_mm), (1000.0, -1200.0));
        // In a line, on one place, or nowhere.
        let line = surveyed(&[(-960.0, -600.0), (0.0, -600.0), (960.0, -600.0)]);
        assert!((unlooked(&line, IMAGE).unwrap().beyond_mm - 600.0).abs() < 50.0);
        assert!(unlooked(&surveyed(&[(0.0, -600.0)]), IMAGE).unwrap().beyond_mm > 1000.0);
        assert!(unlooked(&[], IMAGE).unwrap().beyond_mm.is_infinite());
    }
}
