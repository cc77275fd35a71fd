//! The convex hull of places.

/// A place in a plane.
pub(super) type Place = [f64; 2];

/// Twice the area to the left of the way from `a` over `b` to `c`.
pub(super) fn turn(a: Place, b: Place, c: Place) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// The convex hull, counter-clockwise (Andrew's monotone chain); of places in a line their ends, of
/// one place nothing.
pub(super) fn hull(mut places: Vec<Place>) -> Vec<Place> {
    places.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    let half = |places: &mut dyn Iterator<Item = Place>| {
        let mut hull: Vec<Place> = Vec::new();
        for place in places {
            while let [.., a, b] = hull[..]
                && turn(a, b, place) <= 0.0
            {
                hull.pop();
            }
            hull.push(place);
        }
        hull.pop();
        hull
    };
    let mut hull = half(&mut places.iter().copied());
    hull.extend(half(&mut places.iter().rev().copied()));
    hull
}

/// Its sides.
pub(super) fn sides(hull: &[Place]) -> impl Iterator<Item = (Place, Place)> {
    hull.iter().copied().zip(hull.iter().copied().cycle().skip(1))
}
