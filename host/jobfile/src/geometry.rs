//! Whether points are spread enough to carry a plane.

use skimgauge_model::Point;
use skimgauge_quantity::Mm;

/// How far the farthest point is from the line through the two points that are farthest apart. Zero for fewer than three points, or when all are in one place. Time grows with the square of
/// the count.
pub(crate) fn spread_from_a_line(points: &[Point]) -> Mm {
    let mut ends = None;
    let mut longest = Mm::ZERO;
    for (i, a) in points.iter().enumerate() {
        for b in &points[i + 1..] {
            let length = a.apart(*b);
            if length > longest {
                longest = length;
                ends = Some((a, b));
            }
        }
    }
    let Some((a, b)) = ends else {
        return Mm::ZERO;
    };
    let (right, up) = ((b.x - a.x) / longest, (b.y - a.y) / longest);
    points.iter().map(|p| (right * (p.y - a.y) - up * (p.x - a.x)).abs()).fold(Mm::ZERO, Mm::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spread_is_the_triangle_s_height_over_its_longest_side() {
        let spread = |points: &[(f64, f64)]| {
            let points: Vec<_> = points.iter().map(|&(x, y)| Point::mm(x, y)).collect();
            spread_from_a_line(&points).0
        };
        assert!((spread(&[(0.0, 0.0), (10.0, 0.0), (3.0, 4.0)]) - 4.0).abs() < 1e-12);
        assert!(spread(&[(0.0, 0.0), (1.0, 1.0), (5.0, 5.0)]) < 1e-12);
        assert_eq!(spread(&[(1.0, 1.0); 4]), 0.0);
        assert_eq!(spread(&[]), 0.0);
    }
}
