//! A quadrilateral split into what an installer can turn, and what is left.
//!
//! Exact at the corners: eight numbers in, eight out. Rotation and size are the least-squares
//! similarity from the rectangle to the corners; the trapezoids are what makes opposite sides
//! differ; stretch and skew are the remainder.

use nalgebra::{SMatrix, SVector};
use serde::Serialize;

use super::quadrilateral::{Corner, Quadrilateral};
use skimgauge_model::Image;

/// A value and its standard uncertainty, in the unit that the field's name says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Found {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

impl Found {
    /// Half-width of the interval that covers 95 in 100 for a known standard uncertainty.
    pub fn expanded(self) -> f64 {
        1.959_964 * self.u
    }

    /// Whether the value stands clear of its uncertainty.
    pub fn is_clear(self) -> bool {
        self.value.abs() > self.expanded()
    }
}

/// The eight ways in which four corners differ from their rectangle.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Parts {
    /// Anticlockwise as the viewer sees it, rad.
    pub rotation_rad: f64,
    /// Size over the wanted size, less one.
    pub size: f64,
    /// Top side less bottom side, mm.
    pub vertical_trapezoid_mm: f64,
    /// Right side less left side, mm.
    pub horizontal_trapezoid_mm: f64,
    /// To the right, mm.
    pub shift_right_mm: f64,
    /// Upward, mm.
    pub shift_up_mm: f64,
    /// Width beyond what the height and the aspect ask for, mm.
    pub stretch_mm: f64,
    /// How far the top stands to the right of where a right angle would put it, over the height,
    /// mm.
    pub skew_mm: f64,
}

const SIGNS: [(f64, f64); 4] = [(-1.0, 1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)];

impl Parts {
    /// The parts of a quadrilateral whose wanted rectangle is `image`, centred on the origin.
    pub fn of(quad: &Quadrilateral, image: Image) -> Self {
        let (a, b) = (image.width.0 / 2.0, image.height.0 / 2.0);
        let centre = quad.centroid();
        let at = |i: usize| (quad.0[i].x_mm - centre.x_mm, quad.0[i].y_mm - centre.y_mm);
        let (mut along, mut across) = (0.0, 0.0);
        for (i, (sx, sy)) in SIGNS.into_iter().enumerate() {
            let (x, y) = at(i);
            along += sx * a * x + sy * b * y;
            across += sx * a * y - sy * b * x;
        }
        let rotation_rad = across.atan2(along);
        let scale = along.hypot(across) / (4.0 * (a * a + b * b));
        let (sin, cos) = rotation_rad.sin_cos();
        let mut sums = [0.0; 6];
        for (i, (sx, sy)) in SIGNS.into_iter().enumerate() {
            let (x, y) = at(i);
            let u = x * cos + y * sin - scale * sx * a;
            let v = y * cos - x * sin - scale * sy * b;
            for (sum, term) in
                sums.iter_mut().zip([u * sx * sy, v * sx * sy, u * sx, v * sy, u * sy, v * sx])
            {
                *sum += term;
            }
        }
        let [vertical, horizontal, wide, high, lean, climb] = sums;
        Self {
            rotation_rad,
            size: scale - 1.0,
            vertical_trapezoid_mm: vertical,
            horizontal_trapezoid_mm: horizontal,
            shift_right_mm: centre.x_mm,
            shift_up_mm: centre.y_mm,
            stretch_mm: wide / 2.0 - high / 2.0 * (a / b),
            skew_mm: (lean / 4.0 / b + climb / 4.0 / a) * 2.0 * b,
        }
    }

    /// The corners that have these parts: the inverse of [`Parts::of`].
    pub fn corners(&self, image: Image) -> Quadrilateral {
        let (a, b) = (image.width.0 / 2.0, image.height.0 / 2.0);
        // Stretch and skew are shared between both axes so that they hold neither size nor
        // rotation.
        let wide = self.stretch_mm / 2.0 * (b * b / (a * a + b * b));
        let high = -wide * a / b;
        let lean = self.skew_mm / 2.0 * (a * a / (a * a + b * b));
        let climb = lean * b / a;
        let (sin, cos) = self.rotation_rad.sin_cos();
        Quadrilateral(SIGNS.map(|(sx, sy)| {
            let x = (1.0 + self.size) * sx * a
                + self.vertical_trapezoid_mm / 4.0 * sx * sy
                + wide * sx
                + lean * sy;
            let y = (1.0 + self.size) * sy * b
                + self.horizontal_trapezoid_mm / 4.0 * sx * sy
                + high * sy
                + climb * sx;
            Corner {
                x_mm: x * cos - y * sin + self.shift_right_mm,
                y_mm: x * sin + y * cos + self.shift_up_mm,
            }
        }))
    }

    pub(crate) fn as_array(&self) -> [f64; 8] {
        [
            self.rotation_rad,
            self.size,
            self.vertical_trapezoid_mm,
            self.horizontal_trapezoid_mm,
            self.shift_right_mm,
            self.shift_up_mm,
            self.stretch_mm,
            self.skew_mm,
        ]
    }
}

/// Standard uncertainties of the parts (order of the fields of [`Parts`]) from the covariance of
/// the corners.
pub(crate) fn uncertainties(
    quad: &Quadrilateral,
    image: Image,
    covariance_mm2: &SMatrix<f64, 8, 8>,
) -> [f64; 8] {
    let jacobian = jacobian(quad, |quad| SVector::from(Parts::of(quad, image).as_array()));
    let covariance = jacobian * covariance_mm2 * jacobian.transpose();
    std::array::from_fn(|i| covariance[(i, i)].max(0.0).sqrt())
}

/// How eight figures move with the eight coordinates of the corners.
pub(super) fn jacobian(
    quad: &Quadrilateral,
    figures: impl Fn(&Quadrilateral) -> SVector<f64, 8>,
) -> SMatrix<f64, 8, 8> {
    const STEP_MM: f64 = 1e-3;
    let mut jacobian = SMatrix::<f64, 8, 8>::zeros();
    for column in 0..8 {
        let moved = |by_mm: f64| {
            let mut quad = *quad;
            let corner = &mut quad.0[column / 2];
            if column % 2 == 0 {
                corner.x_mm += by_mm;
            } else {
                corner.y_mm += by_mm;
            }
            figures(&quad)
        };
        jacobian.set_column(column, &((moved(STEP_MM) - moved(-STEP_MM)) / (2.0 * STEP_MM)));
    }
    jacobian
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const IMAGE: Image = Image::mm(2000.0, 1250.0);

    #[test]
    fn a_wider_top_is_a_vertical_trapezoid() {
        let mut quad = Quadrilateral::rectangle(2000.0, 1250.0);
        quad.0[0].x_mm -= 4.0;
        quad.0[1].x_mm += 4.0;
        let parts = Parts::of(&quad, IMAGE);
        assert!((parts.vertical_trapezoid_mm - 8.0).abs() < 1e-9);
        assert!(parts.horizontal_trapezoid_mm.abs() < 1e-9 && parts.skew_mm.abs() < 1e-9);
        // Both sides are wider by 4 mm on average: stretch, most of it.
        assert!((parts.stretch_mm - 4.0).abs() < 0.02);
    }

    #[test]
    fn a_pure_rotation_is_nothing_else() {
        let parts = Parts { rotation_rad: 0.05, ..Parts::default() };
        let found = Parts::of(&parts.corners(IMAGE), IMAGE);
        assert!((found.rotation_rad - 0.05).abs() < 1e-12);
        assert!(found.as_array()[1..].iter().all(|part| part.abs() < 1e-9));
    }

    #[test]
    fn skew_is_the_lean_of_a_sheared_rectangle() {
        // Sheared by 0.1 degree with the sides kept: top stands 1250 sin(0.1) mm aside.
        let (s, c) = 0.1_f64.to_radians().sin_cos();
        let quad = Quadrilateral(
            [
                (0.0, 0.0),
                (2000.0, 0.0),
                (2000.0 - 1250.0 * s, -1250.0 * c),
                (-1250.0 * s, -1250.0 * c),
            ]
            .map(|(x_mm, y_mm)| Corner { x_mm, y_mm }),
        );
        assert!((Parts::of(&quad, IMAGE).skew_mm - 1250.0 * s).abs() < 0.01);
    }

    proptest! {
        #[test]
        fn parts_and_corners_are_inverse(
            dx in prop::array::uniform4(-60.0..60.0_f64),
            dy in prop::array::uniform4(-60.0..60.0_f64),
            turn in -0.3..0.3_f64,
        ) {
            let mut quad = Parts { rotation_rad: turn, ..Parts::default() }.corners(IMAGE);
            for i in 0..4 {
                quad.0[i].x_mm += dx[i];
                quad.0[i].y_mm += dy[i];
            }
            let back = Parts::of(&quad, IMAGE).corners(IMAGE);
            for i in 0..4 {
                prop_assert!(quad.0[i].distance_mm(back.0[i]) < 1e-8);
            }
        }
    }
}
