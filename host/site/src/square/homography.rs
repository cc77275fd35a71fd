//! The projective map from a rectangle to four corners.

use nalgebra::{SMatrix, SVector};
use serde::Serialize;

/// A projective map of the plane, row by row, last element 1. `(x, y)` goes to
/// `((h11 x + h12 y + h13) / w, (h21 x + h22 y + h23) / w)` with `w = h31 x + h32 y + 1`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Homography(pub [[f64; 3]; 3]);

impl Homography {
    /// The map that takes the rectangle `(0,0) (width,0) (width,height) (0,height)` to `corners`,
    /// in that order; `None` if three of the corners lie in a line.
    pub fn of_rectangle(width: f64, height: f64, corners: [(f64, f64); 4]) -> Option<Self> {
        // Solved from the unit square about the corners' middle, so that no term outweighs the
        // others.
        let middle =
            corners.iter().fold((0.0, 0.0), |sum, c| (sum.0 + c.0 / 4.0, sum.1 + c.1 / 4.0));
        let scale =
            corners.iter().map(|c| (c.0 - middle.0).hypot(c.1 - middle.1)).sum::<f64>() / 4.0;
        // A triangle of three corners that is a billionth of its size in area counts as a line.
        let flat = (0..4).any(|skip| {
            let [a, b, c] = [1, 2, 3].map(|step| corners[(skip + step) % 4]);
            let doubled_area = (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0);
            doubled_area.abs() <= 2e-9 * scale * scale
        });
        if flat || !(scale.is_finite() && scale > 0.0 && width > 0.0 && height > 0.0) {
            return None;
        }
        let unit = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
        let mut matrix = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        for (i, ((u, v), (x, y))) in unit.into_iter().zip(corners).enumerate() {
            let (x, y) = ((x - middle.0) / scale, (y - middle.1) / scale);
            let rows = [
                [u, v, 1.0, 0.0, 0.0, 0.0, -u * x, -v * x],
                [0.0, 0.0, 0.0, u, v, 1.0, -u * y, -v * y],
            ];
            for (k, row) in rows.into_iter().enumerate() {
                matrix.set_row(2 * i + k, &SVector::from(row).transpose());
            }
            right[2 * i] = x;
            right[2 * i + 1] = y;
        }
        let h = matrix.full_piv_lu().solve(&right)?;
        let (g, k) = (h[6], h[7]);
        let row = |a: f64, b: f64, c: f64, m: f64| {
            [(a * scale + m * g) / width, (b * scale + m * k) / height, c * scale + m]
        };
        Some(Self([
            row(h[0], h[1], h[2], middle.0),
            row(h[3], h[4], h[5], middle.1),
            [g / width, k / height, 1.0],
        ]))
    }

    /// Where a point goes; `None` if it goes to infinity.
    pub fn apply(&self, x: f64, y: f64) -> Option<(f64, f64)> {
        let at = |row: [f64; 3]| row[0] * x + row[1] * y + row[2];
        let w = at(self.0[2]);
        (w.abs() > 1e-12).then(|| (at(self.0[0]) / w, at(self.0[1]) / w))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn three_corners_in_a_line_have_no_map() {
        assert!(
            Homography::of_rectangle(
                10.0,
                10.0,
                [(0.0, 0.0), (5.0, 0.0), (10.0, 0.0), (0.0, 10.0)]
            )
            .is_none()
        );
        assert!(Homography::of_rectangle(10.0, 10.0, [(0.0, 0.0); 4]).is_none());
    }

    proptest! {
        /// The middle of the rectangle always goes to where the diagonals cross: a projective invariant.
        #[test]
        fn corners_and_middle_go_where_they_must(d in prop::array::uniform8(-150.0..150.0_f64)) {
            let corners = [(d[0], d[1]), (1600.0 + d[2], d[3]), (1600.0 + d[4], 900.0 + d[5]), (d[6], 900.0 + d[7])];
            let map = Homography::of_rectangle(1600.0, 900.0, corners).unwrap();
            for ((u, v), (x, y)) in [(0.0, 0.0), (1600.0, 0.0), (1600.0, 900.0), (0.0, 900.0)].into_iter().zip(corners) {
                let (px, py) = map.apply(u, v).unwrap();
                prop_assert!((px - x).hypot(py - y) < 1e-8);
            }
            let (a, b, c, e) = (corners[0], corners[2], corners[1], corners[3]);
            let (rx, ry, sx, sy) = (b.0 - a.0, b.1 - a.1, e.0 - c.0, e.1 - c.1);
            let t = ((c.0 - a.0) * sy - (c.1 - a.1) * sx) / (rx * sy - ry * sx);
            let (mx, my) = map.apply(800.0, 450.0).unwrap();
            prop_assert!((mx - a.0 - t * rx).hypot(my - a.1 - t * ry) < 1e-8);
        }
    }
}
