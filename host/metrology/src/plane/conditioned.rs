//! What readings leave of the board's local form.

use super::board::ControlPoint;
use super::fit::PlaneFit;
use super::refusal::SAME_PLACE_MM;
use super::strays::Strays;
use nalgebra::DMatrix;

/// Standard uncertainty of a reading beside which the local form is looked for, mm.
pub(super) const READING_U_MM: f64 = 0.06;

/// A reading that is less sure than so many usual ones tells less of the board, and as much less as
/// it is unsure.
const UNSURE: f64 = 2.0;

/// Standard uncertainty of the reading at each of these places, mm, where one of them is much less
/// sure than usual.
pub(super) fn unsure(fit: &PlaneFit, read: &[(f64, f64)]) -> Option<Vec<f64>> {
    let u_mm = |&(x_mm, y_mm): &(f64, f64)| {
        let mut places = fit.consistency.places.iter();
        let near = places.find(|p| (p.x_mm - x_mm).hypot(p.y_mm - y_mm) <= SAME_PLACE_MM);
        near.map_or(READING_U_MM, |place| of_reading_mm(place.u_mm))
    };
    let all: Vec<f64> = read.iter().map(u_mm).collect();
    all.iter().any(|u_mm| *u_mm > READING_U_MM).then_some(all)
}

/// What is reckoned with of a reading of this standard uncertainty, mm.
pub(super) fn of_reading_mm(u_mm: f64) -> f64 {
    if u_mm > UNSURE * READING_U_MM { u_mm } else { READING_U_MM }
}

/// What the local form leaves at the points when it is read at some places, each with its standard
/// uncertainty, and how it answers.
pub(super) fn conditioned(
    points: &[ControlPoint],
    read: &[(f64, f64)],
    strays: &Strays,
    u_mm: impl Fn(usize) -> f64,
) -> (Vec<f64>, DMatrix<f64>) {
    let own = DMatrix::from_fn(read.len(), read.len(), |a, b| {
        let noise = if a == b { u_mm(a).powi(2) } else { 0.0 };
        strays.covariance(read[a], read[b]) + noise
    });
    let to = DMatrix::from_fn(points.len(), read.len(), |p, r| {
        strays.covariance((points[p].x_mm, points[p].y_mm), read[r])
    });
    let variance = |p: &ControlPoint| strays.variance((p.x_mm, p.y_mm));
    let Some(inverse) = own.cholesky().map(|factor| factor.inverse()) else {
        let left = points.iter().map(|p| variance(p).sqrt().hypot(p.u_shape_mm)).collect();
        return (left, DMatrix::zeros(points.len(), 0));
    };
    let answers = &to * inverse;
    let left = points
        .iter()
        .enumerate()
        .map(|(p, point)| {
            let known = answers.row(p).dot(&to.row(p));
            (variance(point) - known).max(0.0).sqrt().hypot(point.u_shape_mm)
        })
        .collect();
    (left, answers)
}
