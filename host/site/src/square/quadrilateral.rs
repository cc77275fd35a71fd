//! Four corners: their spans, and what holds between the spans of any flat quadrilateral.

use serde::{Deserialize, Serialize};

/// Corner names in the order used throughout: clockwise from the top left, as the viewer sees them.
pub const CORNERS: [&str; 4] = ["top left", "top right", "bottom right", "bottom left"];

/// A corner in the image's axes (x right, y up), mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Corner {
    /// To the right, mm.
    pub x_mm: f64,
    /// Upward, mm.
    pub y_mm: f64,
}

impl Corner {
    pub(crate) fn offset_to(self, to: Corner) -> (f64, f64) {
        (to.x_mm - self.x_mm, to.y_mm - self.y_mm)
    }

    /// Straight-line distance, mm.
    pub fn distance_mm(self, to: Corner) -> f64 {
        let (dx, dy) = self.offset_to(to);
        dx.hypot(dy)
    }
}

/// Four corners in the order of [`CORNERS`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Quadrilateral(pub [Corner; 4]);

/// One of the six lengths between four corners.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Span {
    /// Top left to top right.
    Top,
    /// Top right to bottom right.
    Right,
    /// Bottom right to bottom left.
    Bottom,
    /// Bottom left to top left.
    Left,
    /// Top left to bottom right.
    FallingDiagonal,
    /// Top right to bottom left.
    RisingDiagonal,
}

impl Span {
    /// All six, sides first.
    pub const ALL: [Span; 6] = [
        Span::Top,
        Span::Right,
        Span::Bottom,
        Span::Left,
        Span::FallingDiagonal,
        Span::RisingDiagonal,
    ];

    /// Indices of its two corners in [`CORNERS`].
    pub fn ends(self) -> (usize, usize) {
        match self {
            Span::Top => (0, 1),
            Span::Right => (1, 2),
            Span::Bottom => (2, 3),
            Span::Left => (3, 0),
            Span::FallingDiagonal => (0, 2),
            Span::RisingDiagonal => (1, 3),
        }
    }

    /// As the user says it.
    pub fn name(self) -> &'static str {
        match self {
            Span::Top => "top side",
            Span::Right => "right side",
            Span::Bottom => "bottom side",
            Span::Left => "left side",
            Span::FallingDiagonal => "diagonal from top left to bottom right",
            Span::RisingDiagonal => "diagonal from top right to bottom left",
        }
    }

    pub(crate) fn index(self) -> usize {
        self as usize
    }
}

impl Quadrilateral {
    /// The upright rectangle of this size about the origin.
    pub fn rectangle(width_mm: f64, height_mm: f64) -> Self {
        let (x, y) = (width_mm / 2.0, height_mm / 2.0);
        Self([(-x, y), (x, y), (x, -y), (-x, -y)].map(|(x_mm, y_mm)| Corner { x_mm, y_mm }))
    }

    /// A span's length, mm.
    pub fn span_mm(&self, span: Span) -> f64 {
        let (from, to) = span.ends();
        self.0[from].distance_mm(self.0[to])
    }

    /// All six lengths in the order of [`Span::ALL`], mm.
    pub fn spans_mm(&self) -> [f64; 6] {
        Span::ALL.map(|span| self.span_mm(span))
    }

    /// Mean of the corners.
    pub fn centroid(&self) -> Corner {
        let mean = |of: fn(&Corner) -> f64| self.0.iter().map(of).sum::<f64>() / 4.0;
        Corner { x_mm: mean(|c| c.x_mm), y_mm: mean(|c| c.y_mm) }
    }

    /// Area, mm2; zero or less unless the corners go round clockwise.
    pub fn area_mm2(&self) -> f64 {
        let cross = |a: Corner, b: Corner| a.x_mm * b.y_mm - b.x_mm * a.y_mm;
        -(0..4).map(|i| cross(self.0[i], self.0[(i + 1) % 4])).sum::<f64>() / 2.0
    }

    /// Whether every corner bulges outward, the way an image's do.
    pub fn is_convex(&self) -> bool {
        (0..4).all(|i| {
            let (ax, ay) = self.0[i].offset_to(self.0[(i + 1) % 4]);
            let (bx, by) = self.0[(i + 1) % 4].offset_to(self.0[(i + 2) % 4]);
            ax * by - ay * bx < 0.0
        })
    }

    /// Angles inside the corners, degrees.
    pub fn angles_deg(&self) -> [f64; 4] {
        std::array::from_fn(|i| {
            let (ax, ay) = self.0[i].offset_to(self.0[(i + 3) % 4]);
            let (bx, by) = self.0[i].offset_to(self.0[(i + 1) % 4]);
            (ax * by - ay * bx).abs().atan2(ax * bx + ay * by).to_degrees()
        })
    }
}

/// Cayley-Menger determinant of four points from their six distances (order of [`Span::ALL`]),
/// mm^6: 288 times the square of the tetrahedron's volume. Zero if the six fit a flat
/// quadrilateral, above zero if the corners stand out of one plane, below zero if no four points
/// have these distances.
pub fn cayley_menger_mm6(spans_mm: [f64; 6]) -> f64 {
    let mut matrix = nalgebra::SMatrix::<f64, 5, 5>::zeros();
    // Scaled so that the determinant's terms are near one; restored at the end.
    let scale_mm = spans_mm.iter().copied().fold(0.0, f64::max).max(f64::MIN_POSITIVE);
    for i in 0..4 {
        matrix[(4, i)] = 1.0;
        matrix[(i, 4)] = 1.0;
    }
    for span in Span::ALL {
        let (a, b) = span.ends();
        let square = (spans_mm[span.index()] / scale_mm).powi(2);
        matrix[(a, b)] = square;
        matrix[(b, a)] = square;
    }
    matrix.determinant() * scale_mm.powi(6)
}

/// How far the two diagonals pass each other if the tape is right and the board is twisted, mm;
/// `None` if the six lengths fit no four points at all.
pub fn twist_mm(spans_mm: [f64; 6]) -> Option<f64> {
    let determinant = cayley_menger_mm6(spans_mm);
    if determinant < 0.0 {
        return None;
    }
    let [a, b, c, d, p, q] = spans_mm;
    let volume_mm3 = (determinant / 288.0).sqrt();
    // Twice the area spanned by both diagonals' directions: 2pq cos = a2 - b2 + c2 - d2 (either
    // sign), so pq sin is:
    let cosine = (a * a - b * b + c * c - d * d) / (2.0 * p * q);
    let sine = (1.0 - cosine * cosine).max(0.0).sqrt();
    (sine > 0.0).then(|| 6.0 * volume_mm3 / (p * q * sine))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn corner(x_mm: f64, y_mm: f64) -> Corner {
        Corner { x_mm, y_mm }
    }

    /// Rectangle 1600 x 900 with one diagonal too long: computed with mpmath at 40 digits.
    #[test]
    fn cayley_menger_of_a_wrong_diagonal() {
        for (extra_mm, expected_mm6) in
            [(1.0, -6.101_35e16), (2.0, -1.222_42e17), (5.0, -3.072_22e17)]
        {
            let mut spans = Quadrilateral::rectangle(1600.0, 900.0).spans_mm();
            assert!((spans[4] - 1_835.755_975_068_6).abs() < 1e-9);
            spans[4] += extra_mm;
            let found = cayley_menger_mm6(spans);
            assert!((found / expected_mm6 - 1.0).abs() < 1e-5, "{extra_mm}: {found:e}");
            assert!(twist_mm(spans).is_none());
        }
    }

    /// A sheet of 1600 x 900 whose one corner is lifted by 10 mm: diagonals pass each other by
    /// about half of it.
    #[test]
    fn a_twisted_board_shows_in_the_six_lengths() {
        let points =
            [[0.0, 0.0, 0.0], [1600.0, 0.0, 0.0], [1600.0, 900.0, 10.0], [0.0, 900.0, 0.0_f64]];
        let spans = Span::ALL.map(|span| {
            let (a, b) = span.ends();
            (0..3).map(|k| (points[a][k] - points[b][k]).powi(2)).sum::<f64>().sqrt()
        });
        let found_mm = twist_mm(spans).unwrap();
        assert!((found_mm - 5.0).abs() < 1e-3, "{found_mm}");
    }

    /// Euler's four-point relation: a2 + b2 + c2 + d2 = p2 + q2 + 4 m2, m joining the diagonals'
    /// middles.
    #[test]
    fn out_of_square_diagonals_differ_as_computed() {
        // Parallelogram from a 1600 x 900 rectangle sheared by an angle, sides kept: computed with
        // numpy.
        for (angle_deg, difference_mm) in [
            (0.05_f64, 1.369_067_57),
            (0.1, 2.738_134_68),
            (0.25, 6.845_328_44),
            (0.5, 13.690_597_9),
            (1.0, 27.380_724_3),
        ] {
            let (s, c) = angle_deg.to_radians().sin_cos();
            let quad = Quadrilateral([
                corner(0.0, 0.0),
                corner(1600.0, 0.0),
                corner(1600.0 + 900.0 * s, -900.0 * c),
                corner(900.0 * s, -900.0 * c),
            ]);
            let found = quad.span_mm(Span::FallingDiagonal) - quad.span_mm(Span::RisingDiagonal);
            assert!((found - difference_mm).abs() < 1e-6, "{angle_deg}: {found}");
        }
    }

    proptest! {
        /// Flat corners always close; Euler's and Bretschneider's identities hold.
        #[test]
        fn flat_quadrilaterals_close(dx in prop::array::uniform4(-80.0..80.0_f64), dy in prop::array::uniform4(-80.0..80.0_f64)) {
            let mut quad = Quadrilateral::rectangle(2000.0, 1250.0);
            for i in 0..4 {
                quad.0[i].x_mm += dx[i];
                quad.0[i].y_mm += dy[i];
            }
            let spans = quad.spans_mm();
            prop_assert!(cayley_menger_mm6(spans).abs() < 1e-11 * 2400.0_f64.powi(6));
            let [a, b, c, d, p, q] = spans;
            let middle = |i: usize, j: usize| corner((quad.0[i].x_mm + quad.0[j].x_mm) / 2.0, (quad.0[i].y_mm + quad.0[j].y_mm) / 2.0);
            let m = middle(0, 2).distance_mm(middle(1, 3));
            let euler = a * a + b * b + c * c + d * d - p * p - q * q - 4.0 * m * m;
            prop_assert!(euler.abs() < 1e-8 * p * p);
            let bretschneider = (4.0 * p * p * q * q - (b * b + d * d - a * a - c * c).powi(2)).sqrt() / 4.0;
            prop_assert!((quad.area_mm2() - bretschneider).abs() < 1e-6 * bretschneider);
            prop_assert!(quad.is_convex());
            prop_assert!((quad.angles_deg().iter().sum::<f64>() - 360.0).abs() < 1e-9);
        }
    }
}
