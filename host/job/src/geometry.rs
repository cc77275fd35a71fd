//! Whether points are spread enough to carry a plane.

/// How far the farthest point is from the line through the two points that are farthest apart, mm.
/// Zero for fewer than three points, or when all are in one place. Time grows with the square of
/// the count.
pub(crate) fn spread_from_a_line_mm(points: &[[f64; 2]]) -> f64 {
    let mut ends = None;
    let mut longest = 0.0;
    for (i, a) in points.iter().enumerate() {
        for b in &points[i + 1..] {
            let length = (b[0] - a[0]).hypot(b[1] - a[1]);
            if length > longest {
                longest = length;
                ends = Some((a, b));
            }
        }
    }
    let Some((a, b)) = ends else {
        return 0.0;
    };
    let along = [(b[0] - a[0]) / longest, (b[1] - a[1]) / longest];
    points
        .iter()
        .map(|p| (along[0] * (p[1] - a[1]) - along[1] * (p[0] - a[0])).abs())
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spread_is_the_triangle_s_height_over_its_longest_side() {
        let spread = spread_from_a_line_mm(&[[0.0, 0.0], [10.0, 0.0], [3.0, 4.0]]);
        assert!((spread - 4.0).abs() < 1e-12);
        assert!(spread_from_a_line_mm(&[[0.0, 0.0], [1.0, 1.0], [5.0, 5.0]]) < 1e-12);
        assert_eq!(spread_from_a_line_mm(&[[1.0, 1.0]; 4]), 0.0);
        assert_eq!(spread_from_a_line_mm(&[]), 0.0);
    }
}
