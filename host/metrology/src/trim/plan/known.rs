//! How well the plane is known while turns are made, in four unknowns: its height and slopes, and
//! the seat's error where the head is clipped on. A turn that is counted adds what a hand misses; one
//! that is ended by a reading takes away whatever was unknown of the gap there and leaves the seat's
//! and the reading's errors, with the leverage that the adjuster has elsewhere. What the tracker
//! keeps besides, the board's heights and the influence, changes little in a round.

use crate::plane::Plane;
use nalgebra::{Matrix3, Matrix4, Vector3, Vector4};

/// First of the seat's entries.
const SEAT: usize = 3;

/// One turn, as far as it bears on what is known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turned {
    /// What one turn does to height and slopes.
    pub(super) effect: [f64; 3],
    /// Covariance of what the whole turn does, from pitch and position of the adjuster.
    pub(super) unknown: Matrix3<f64>,
}

/// What is known between two turns.
#[derive(Debug, Clone, Copy)]
pub(super) struct Known(Matrix4<f64>);

impl Known {
    /// Before any turn, with the head off.
    pub(super) fn of(plane: &Matrix3<f64>) -> Self {
        let mut all = Matrix4::zeros();
        all.fixed_view_mut::<3, 3>(0, 0).copy_from(plane);
        Self(all)
    }

    /// The head is clipped on anew: its seat's error, and that of the gap forecast there besides the
    /// plane's, has this variance, mm^2.
    pub(super) fn clip(&mut self, variance: f64) {
        self.0.row_mut(SEAT).fill(0.0);
        self.0.column_mut(SEAT).fill(0.0);
        self.0[(SEAT, SEAT)] = variance;
    }

    /// A reading there, of this variance, mm^2.
    pub(super) fn read(&mut self, at: (f64, f64), variance: f64) {
        let row = seated(at);
        let spread = self.0 * row;
        self.0 -= spread * spread.transpose() / (row.dot(&spread) + variance);
    }

    /// A turn by count; `variance` of the turns made, turns^2.
    pub(super) fn count(&mut self, turned: &Turned, variance: f64) {
        self.turn(turned);
        let effect = along(turned);
        self.0 += effect * effect.transpose() * variance;
    }

    /// A turn that goes on until the reading there is what was told, give or take this variance,
    /// mm^2.
    pub(super) fn until(&mut self, turned: &Turned, at: (f64, f64), variance: f64) {
        self.turn(turned);
        let (effect, row) = (along(turned), seated(at));
        let made = effect / row.dot(&effect);
        let keeps = Matrix4::identity() - made * row.transpose();
        self.0 = keeps * self.0 * keeps.transpose() + made * made.transpose() * variance;
    }

    /// Variance of the gap at a place, of the plane alone, mm^2.
    pub(super) fn variance(&self, (x_mm, y_mm): (f64, f64)) -> f64 {
        let row = Vector3::from(Plane::bearing(x_mm, y_mm));
        row.dot(&(self.0.fixed_view::<3, 3>(0, 0) * row)).max(0.0)
    }

    fn turn(&mut self, turned: &Turned) {
        let mut plane = self.0.fixed_view_mut::<3, 3>(0, 0);
        plane += turned.unknown;
    }
}

fn along(turned: &Turned) -> Vector4<f64> {
    let [c, p, q] = turned.effect;
    Vector4::new(c, p, q, 0.0)
}

fn seated((x_mm, y_mm): (f64, f64)) -> Vector4<f64> {
    let [c, p, q] = Plane::bearing(x_mm, y_mm);
    Vector4::new(c, p, q, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turned(effect: [f64; 3]) -> Turned {
        Turned { effect, unknown: Matrix3::zeros() }
    }

    /// Three turns that each end by a reading at one station leave that station as sure as seat and
    /// reading are, and the far edge unsure by the leverage of each.
    #[test]
    fn what_is_read_is_known_and_what_is_far_is_not() {
        let wide = Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, 1.0));
        let mut known = Known::of(&wide);
        known.clip(0.05 * 0.05);
        for effect in [[0.3, -2.0, 4.0], [0.3, 2.0, 4.0], [-0.6, 0.0, -8.0]] {
            known.until(&turned(effect), (0.0, 0.0), 0.02 * 0.02);
        }
        let here = known.variance((0.0, 0.0)).sqrt();
        assert!((here - 0.05f64.hypot(0.02)).abs() < 1e-9, "{here}");
        assert!(known.variance((0.0, -1200.0)).sqrt() > 0.2);
    }

    /// A reading at the far edge makes good what was counted by the hinge.
    #[test]
    fn a_later_reading_makes_good_what_an_earlier_turn_missed() {
        let sure = Matrix3::from_diagonal(&Vector3::new(1e-6, 1e-6, 1e-6));
        let far = (0.0, -1200.0);
        let mut known = Known::of(&sure);
        known.count(&turned([0.1, 0.0, -8.0]), 0.1 * 0.1);
        assert!(known.variance(far).sqrt() > 0.9);
        known.clip(0.05 * 0.05);
        known.until(&turned([0.2, 0.0, -8.0]), far, 0.02 * 0.02);
        assert!(known.variance(far).sqrt() < 0.06);
    }

    /// What is read before the turn no longer depends on the seat after it.
    #[test]
    fn a_seat_that_was_read_before_its_turn_falls_out() {
        let sure = Matrix3::from_diagonal(&Vector3::new(1e-8, 1e-8, 1e-8));
        let (at, far, effect) = ((0.0, 0.0), (0.0, -1200.0), turned([0.5, 0.0, -8.0]));
        let after = |reads: bool| {
            let mut known = Known::of(&sure);
            known.clip(0.06 * 0.06);
            if reads {
                known.read(at, 0.02 * 0.02);
            }
            known.until(&effect, at, 0.02 * 0.02);
            known.variance(far).sqrt()
        };
        assert!(after(true) < 0.6 * after(false), "{} {}", after(true), after(false));
    }
}
