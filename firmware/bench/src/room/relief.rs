//! A board's shape that is given, such as one that somebody surveyed: heights over a grid of the
//! image.

/// Heights over a grid, in between in a straight line.
#[derive(Debug, Clone, PartialEq)]
pub struct Relief {
    /// Row by row from the lower edge, left to right, mm.
    heights_mm: Vec<f64>,
}

/// Columns and rows.
const GRID: (usize, usize) = (41, 27);

impl Relief {
    /// As `height_mm` tells it of places `(u, v)`: -1 to 1 from the image's left edge to its right,
    /// and from its lower edge to its upper.
    pub fn told(height_mm: impl Fn(f64, f64) -> f64) -> Self {
        let along = |at: usize, of: usize| 2.0 * at as f64 / (of - 1) as f64 - 1.0;
        let (columns, rows) = GRID;
        let row = |row: usize| (0..columns).map(move |column| (column, row));
        let heights_mm = (0..rows)
            .flat_map(row)
            .map(|(column, row)| height_mm(along(column, columns), along(row, rows)))
            .collect();
        Self { heights_mm }
    }

    /// At a place `(u, v)`, mm; beyond the image as at its edge.
    pub fn at_mm(&self, u: f64, v: f64) -> f64 {
        let cell = |along: f64, of: usize| {
            let at = (along.clamp(-1.0, 1.0) + 1.0) / 2.0 * (of - 1) as f64;
            let from = (at as usize).min(of - 2);
            (from, at - from as f64)
        };
        let ((column, right), (row, up)) = (cell(u, GRID.0), cell(v, GRID.1));
        let height_mm = |column: usize, row: usize| self.heights_mm[row * GRID.0 + column];
        let across = |row: usize| {
            height_mm(column, row) * (1.0 - right) + height_mm(column + 1, row) * right
        };
        across(row) * (1.0 - up) + across(row + 1) * up
    }
}

#[cfg(test)]
mod tests {
    use super::Relief;

    /// A plane with a twist is bilinear itself, so the grid gives it back.
    #[test]
    fn a_twisted_plane_comes_back_and_ends_at_the_edge() {
        let shape = |u: f64, v: f64| 0.3 + 0.2 * u - 0.5 * v + 0.4 * u * v;
        let relief = Relief::told(shape);
        for (u, v) in [(-1.0, -1.0), (1.0, 1.0), (0.0, 0.0), (0.337, -0.81), (-0.9, 0.55)] {
            assert!((relief.at_mm(u, v) - shape(u, v)).abs() < 1e-9, "{u} {v}");
        }
        assert_eq!(relief.at_mm(3.0, 0.5), relief.at_mm(1.0, 0.5));
    }
}
