//! The two parallel planes nearest together that hold every place.
//!
//! Two ways of measuring "near": along z (the vertical zone, a linear programme), or square to the
//! planes (the minimum zone of ISO 12781-1 and ISO 1101). Each touches the places in four: three on
//! one side and one on the other, inside their triangle, or two on each side whose joining lines
//! cross. That pattern is the proof that no zone near it is thinner, and it is checked on its own
//! after the search.

use super::proof::{Proof, is_wide, thinnest};
use super::{FlatnessError, HeightAt, LeastSquares, check, least_squares};
use crate::minimax::{Limit, Value, largest_margin};
use nalgebra::{Matrix3, Rotation3, Vector3};

/// Turns of the frame into the zone's own after which something is wrong; boards take two.
const MOST_TURNS: usize = 60;

/// How four touching places prove a zone.
#[derive(Debug, Clone, PartialEq)]
pub enum Contact {
    /// Three on one plane, and one on the other that lies over their triangle.
    ThreeAndOne {
        /// On the one plane.
        three: [usize; 3],
        /// On the other.
        one: usize,
    },
    /// Two on each plane, the joining lines crossing as seen square to the planes.
    TwoAndTwo {
        /// On the upper plane.
        upper: [usize; 2],
        /// On the lower plane.
        lower: [usize; 2],
    },
    /// Fewer than four hold it: places that lie in one plane, or stand one above another.
    Fewer,
}

/// A zone, measured along z.
#[derive(Debug, Clone, PartialEq)]
pub struct VerticalZone {
    /// Height of its middle plane at the origin.
    pub a: f64,
    /// Slope along x.
    pub b: f64,
    /// Slope along y.
    pub c: f64,
    /// From the lower plane to the upper, along z.
    pub width: f64,
    /// What proves it.
    pub contact: Contact,
}

/// The minimum zone, measured square to its planes.
#[derive(Debug, Clone, PartialEq)]
pub struct MinimumZone {
    /// Square to the planes, length one, z not negative.
    pub normal: [f64; 3],
    /// From one plane to the other: the flatness.
    pub width: f64,
    /// What proves it.
    pub contact: Contact,
}

/// The zone along z.
///
/// # Errors
/// As [`least_squares`].
pub fn vertical(places: &[HeightAt]) -> Result<VerticalZone, FlatnessError> {
    let start = least_squares(places)?;
    let n = places.len() as f64;
    let [x0, y0] = [0, 1].map(|axis| places.iter().map(|p| p[axis]).sum::<f64>() / n);
    let reach = |axis: usize, middle: f64| {
        places.iter().map(|p| (p[axis] - middle).abs()).fold(0.0, f64::max)
    };
    let extent = reach(0, x0).max(reach(1, y0));
    let height = start.peak_to_valley;
    if height <= 1e-12 * (extent + start.a.abs()) {
        let LeastSquares { a, b, c, .. } = start;
        return Ok(VerticalZone { a, b, c, width: height, contact: Contact::Fewer });
    }
    // In units of the survey's extent and of its height every unknown is near one.
    let values: Vec<Value> = places
        .iter()
        .map(|&[x, y, z]| Value {
            value: (z - start.a - start.b * x - start.c * y) / height,
            effect: [-1.0, -(x - x0) / extent, -(y - y0) / extent],
        })
        .collect();
    // The least-squares zone has height one, so the best plane is within one of it at every place;
    // far from a line of places it may be some way off all the same.
    let bounds = [(-1.0e3, 1.0e3); 3];
    let best = largest_margin(&values, 0.0, 0.0, bounds).ok_or(FlatnessError::Numbers)?;
    let [rise, along_x, along_y] = best.x;
    let (b, c) = (start.b + along_x * height / extent, start.c + along_y * height / extent);
    let a = start.a + (rise - along_x * x0 / extent - along_y * y0 / extent) * height;
    let (mut upper, mut lower) = (Vec::new(), Vec::new());
    for &(limit, weight) in &best.active {
        match limit {
            Limit::High(k) if weight > 1e-9 => upper.push(k),
            Limit::Low(k) if weight > 1e-9 => lower.push(k),
            _ => {}
        }
    }
    let contact = contact(places, &upper, &lower, &|p| [p[0], p[1]]);
    Ok(VerticalZone { a, b, c, width: -2.0 * best.margin * height, contact })
}

/// The minimum zone: the vertical zone of the places seen in their own zone's frame, until that
/// frame stands still.
///
/// A zone found so is proved the thinnest of all that are near it. For anything as thin as a board
/// it is the thinnest of all; places in two rows close together, all but in a line, or as thick as
/// they are wide may have a thinner one on their side. A few of those are searched whole, and
/// [`MinimumZone::proof`] says which it is.
///
/// # Errors
/// As [`least_squares`].
pub fn minimum(places: &[HeightAt]) -> Result<MinimumZone, FlatnessError> {
    check(places)?;
    let mut frame = Rotation3::<f64>::identity();
    let mut best: Option<MinimumZone> = None;
    for _ in 0..MOST_TURNS {
        let seen: Vec<HeightAt> =
            places.iter().map(|p| (frame * Vector3::from(*p)).into()).collect();
        let zone = vertical(&seen)?;
        let steep = zone.b.hypot(zone.c);
        let up = frame.inverse() * Vector3::new(-zone.b, -zone.c, 1.0).normalize();
        let width = zone.width / steep.hypot(1.0);
        if best.as_ref().is_none_or(|b| width <= b.width) {
            let normal = if up.z < 0.0 { -up } else { up };
            best = Some(MinimumZone { normal: normal.into(), width, contact: zone.contact });
        }
        if steep < 1e-14 {
            break;
        }
        frame = Rotation3::rotation_between(&up, &Vector3::z()).unwrap_or_else(Rotation3::identity);
        if steep < 1e-9 {
            break;
        }
    }
    let near = best.ok_or(FlatnessError::Numbers)?;
    if is_wide(places, Vector3::from(near.normal), near.width) {
        return Ok(near);
    }
    Ok(thinnest(places)
        .and_then(|normal| square_to(places, normal).ok())
        .filter(|other| other.width < near.width * (1.0 - 1e-12))
        .unwrap_or(near))
}

/// The zone square to a direction.
fn square_to(places: &[HeightAt], normal: Vector3<f64>) -> Result<MinimumZone, FlatnessError> {
    let up = if normal.z < 0.0 { -normal } else { normal };
    let turn = Rotation3::rotation_between(&up, &Vector3::z()).unwrap_or_else(Rotation3::identity);
    let seen: Vec<HeightAt> = places.iter().map(|p| (turn * Vector3::from(*p)).into()).collect();
    let heights = seen.iter().map(|p| p[2]);
    let width =
        heights.clone().fold(f64::NEG_INFINITY, f64::max) - heights.fold(f64::INFINITY, f64::min);
    // Seen from the side all places may be in a line; then nothing touches in four.
    let contact = vertical(&seen).map_or(Contact::Fewer, |zone| zone.contact);
    Ok(MinimumZone { normal: up.into(), width, contact })
}

impl MinimumZone {
    /// How far the zone is proved: worked out from the places again, not from the search.
    /// `tolerance` is a share of the survey's extent, for places on the edge of a triangle or the
    /// end of a line.
    pub fn proof(&self, places: &[HeightAt], tolerance: f64) -> Proof {
        let normal = Vector3::from(self.normal);
        let touches = self.touches(places, tolerance);
        if touches && is_wide(places, normal, self.width) {
            return Proof::Global;
        }
        let least = thinnest(places).and_then(|normal| square_to(places, normal).ok());
        match least {
            Some(least) if self.holds(places) && self.width <= least.width * (1.0 + 1e-9) => {
                Proof::Global
            }
            _ if touches => Proof::Local,
            _ => Proof::None,
        }
    }

    /// Whether no zone at all is thinner.
    pub fn is_proved(&self, places: &[HeightAt], tolerance: f64) -> bool {
        self.proof(places, tolerance) == Proof::Global
    }

    /// Whether it holds every place and is no thicker than that takes.
    fn holds(&self, places: &[HeightAt]) -> bool {
        let up = Vector3::from(self.normal);
        let heights = places.iter().map(|p| up.dot(&Vector3::from(*p)));
        let most = heights.clone().fold(f64::NEG_INFINITY, f64::max);
        let least = heights.fold(f64::INFINITY, f64::min);
        let size = most.abs().max(least.abs()).max(self.width);
        (most - least - self.width).abs() <= 1e-9 * size + 1e-6 * self.width
    }

    /// Whether the contact proves that no zone near this one is thinner.
    fn touches(&self, places: &[HeightAt], tolerance: f64) -> bool {
        let up = Vector3::from(self.normal);
        let height = |k: usize| up.dot(&Vector3::from(places[k]));
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for k in 0..places.len() {
            least = least.min(height(k));
            most = most.max(height(k));
        }
        let size = most.abs().max(least.abs()).max(self.width);
        let on =
            |k: usize, plane: f64| (height(k) - plane).abs() <= 1e-9 * size + 1e-6 * self.width;
        let turn =
            Rotation3::rotation_between(&up, &Vector3::z()).unwrap_or_else(Rotation3::identity);
        let flat = |k: usize| {
            let p = turn * Vector3::from(places[k]);
            [p.x, p.y]
        };
        let touches = match self.contact {
            Contact::ThreeAndOne { three, one } => {
                let (near, far) = if on(one, most) { (least, most) } else { (most, least) };
                three.iter().all(|&k| on(k, near))
                    && on(one, far)
                    && inside(three.map(flat), flat(one), tolerance)
            }
            Contact::TwoAndTwo { upper, lower } => {
                upper.iter().all(|&k| on(k, most))
                    && lower.iter().all(|&k| on(k, least))
                    && cross(upper.map(flat), lower.map(flat), tolerance)
            }
            Contact::Fewer => self.width <= 1e-9 * size,
        };
        self.holds(places) && touches
    }
}

/// The contact of four active places.
fn contact(
    places: &[HeightAt],
    upper: &[usize],
    lower: &[usize],
    flat: &dyn Fn(&HeightAt) -> [f64; 2],
) -> Contact {
    let at = |k: usize| flat(&places[k]);
    match (upper, lower) {
        (&[a, b, c], &[one]) | (&[one], &[a, b, c])
            if inside([at(a), at(b), at(c)], at(one), 1e-9) =>
        {
            Contact::ThreeAndOne { three: [a, b, c], one }
        }
        (&[a, b], &[c, d]) if cross([at(a), at(b)], [at(c), at(d)], 1e-9) => {
            Contact::TwoAndTwo { upper: [a, b], lower: [c, d] }
        }
        _ => Contact::Fewer,
    }
}

/// Whether a place lies in a triangle, its edge included.
fn inside(triangle: [[f64; 2]; 3], [x, y]: [f64; 2], tolerance: f64) -> bool {
    let [a, b, c] = triangle;
    let matrix = Matrix3::new(a[0], b[0], c[0], a[1], b[1], c[1], 1.0, 1.0, 1.0);
    matrix
        .lu()
        .solve(&Vector3::new(x, y, 1.0))
        .is_some_and(|weights| weights.iter().all(|w| *w >= -tolerance))
}

/// Whether two stretches cross, their ends included.
fn cross(one: [[f64; 2]; 2], other: [[f64; 2]; 2], tolerance: f64) -> bool {
    let along = |s: [[f64; 2]; 2]| [s[1][0] - s[0][0], s[1][1] - s[0][1]];
    let (d, e) = (along(one), along(other));
    let determinant = d[1] * e[0] - d[0] * e[1];
    let length = d[0].hypot(d[1]) * e[0].hypot(e[1]);
    if determinant.abs() <= 1e-12 * length {
        return false;
    }
    let to = [other[0][0] - one[0][0], other[0][1] - one[0][1]];
    let s = (to[1] * e[0] - to[0] * e[1]) / determinant;
    let t = (d[0] * to[1] - d[1] * to[0]) / determinant;
    let fits = |v: f64| (-tolerance..=1.0 + tolerance).contains(&v);
    fits(s) && fits(t)
}
