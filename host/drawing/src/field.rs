//! A smooth surface through some gaps, and the areas of the board where it lies above a level: for
//! shading only.

use std::fmt::Write;

use nalgebra::{DMatrix, DVector};

/// More points than these make the surface slow and no smoother; evenly chosen ones stand for all.
const MOST_POINTS: usize = 80;

/// Points nearer than this share of the board are one.
const ONE_PLACE: f64 = 1e-3;

/// A surface through points: a thin-plate spline, which is a plane where the points lie in one.
#[derive(Debug, Clone)]
pub(crate) struct Field {
    points: Vec<[f64; 2]>,
    weights: DVector<f64>,
    scale: f64,
}

impl Field {
    /// Through `[x_mm, y_mm, value]`. None where fewer than three places are given, or all lie in a
    /// line.
    pub(crate) fn through(given: &[[f64; 3]]) -> Option<Self> {
        let finite = || given.iter().filter(|point| point.iter().all(|number| number.is_finite()));
        let count = finite().count();
        let extent = |axis: usize| {
            let (low, high) = finite()
                .map(|point| point[axis])
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                    (low.min(v), high.max(v))
                });
            high - low
        };
        let scale = extent(0).max(extent(1));
        if count < 3 || !scale.is_finite() || scale <= 0.0 {
            return None;
        }
        let step = count.div_ceil(MOST_POINTS);
        let mut points: Vec<[f64; 2]> = Vec::new();
        let mut values: Vec<f64> = Vec::new();
        for [x, y, value] in finite().step_by(step) {
            let place = [x / scale, y / scale];
            if points.iter().all(|p| (p[0] - place[0]).hypot(p[1] - place[1]) > ONE_PLACE) {
                points.push(place);
                values.push(*value);
            }
        }
        if in_a_line(&points) {
            return None;
        }
        let n = points.len();
        let mut system = DMatrix::zeros(n + 3, n + 3);
        let mut right = DVector::zeros(n + 3);
        for (i, a) in points.iter().enumerate() {
            for (j, b) in points.iter().enumerate() {
                system[(i, j)] = kernel(*a, *b);
            }
            for (k, term) in [1.0, a[0], a[1]].into_iter().enumerate() {
                system[(i, n + k)] = term;
                system[(n + k, i)] = term;
            }
            right[i] = values[i];
        }
        let weights = system.lu().solve(&right)?;
        weights.iter().all(|weight| weight.is_finite()).then_some(Self { points, weights, scale })
    }

    /// The value at a place, mm.
    pub(crate) fn at(&self, x_mm: f64, y_mm: f64) -> f64 {
        self.at_scaled([x_mm / self.scale, y_mm / self.scale])
    }

    fn at_scaled(&self, place: [f64; 2]) -> f64 {
        let n = self.points.len();
        let bends: f64 =
            self.points.iter().zip(self.weights.iter()).map(|(p, w)| w * kernel(*p, place)).sum();
        bends + self.weights[n] + self.weights[n + 1] * place[0] + self.weights[n + 2] * place[1]
    }
}

/// Whether the points spread across their line by less than a hundredth of what they do along it.
fn in_a_line(points: &[[f64; 2]]) -> bool {
    let n = points.len() as f64;
    let mean = |axis: usize| points.iter().map(|p| p[axis]).sum::<f64>() / n;
    let (x, y) = (mean(0), mean(1));
    let (xx, xy, yy) = points.iter().fold((0.0, 0.0, 0.0), |(xx, xy, yy), p| {
        let (dx, dy) = (p[0] - x, p[1] - y);
        (xx + dx * dx, xy + dx * dy, yy + dy * dy)
    });
    let half = (xx + yy) / 2.0;
    let apart = ((xx - yy) / 2.0).hypot(xy);
    points.len() < 3 || (half - apart).max(0.0) < 1e-4 * (half + apart)
}

fn kernel(a: [f64; 2], b: [f64; 2]) -> f64 {
    let square = (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2);
    if square > 0.0 { square * square.ln() } else { 0.0 }
}

/// Values over a rectangle of the drawing, row by row from its upper left.
#[derive(Debug, Clone)]
pub(crate) struct Grid {
    columns: usize,
    rows: usize,
    values: Vec<f64>,
    from: [f64; 2],
    cell: [f64; 2],
}

/// Where a grid reaches a level: paths in the drawing's coordinates, empty where it never does.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Above {
    /// The area at or above the level.
    pub(crate) area: String,
    /// Its border inside the rectangle.
    pub(crate) border: String,
}

impl Grid {
    /// Values at the corners of `columns` by `rows` cells over a rectangle of the drawing; `value`
    /// takes places as shares of its width (from the left) and height (from the top).
    pub(crate) fn over(
        from: [f64; 2],
        size: [f64; 2],
        columns: usize,
        rows: usize,
        value: impl Fn(f64, f64) -> f64,
    ) -> Self {
        let (columns, rows) = (columns.max(1), rows.max(1));
        let values = (0..=rows)
            .flat_map(|row| (0..=columns).map(move |column| (column, row)))
            .map(|(column, row)| value(column as f64 / columns as f64, row as f64 / rows as f64))
            .collect();
        Self {
            columns,
            rows,
            values,
            from,
            cell: [size[0] / columns as f64, size[1] / rows as f64],
        }
    }

    /// The values, row by row.
    pub(crate) fn values(&self) -> &[f64] {
        &self.values
    }

    /// The area at or above a level, with its border.
    pub(crate) fn above(&self, level: f64) -> Above {
        let mut above = Above::default();
        for row in 0..self.rows {
            let mut full_from = None;
            for column in 0..self.columns {
                let corners = self.corners(column, row);
                let full = corners.iter().all(|corner| corner.2 >= level);
                if full {
                    full_from.get_or_insert(column);
                    continue;
                }
                self.close_run(&mut above.area, full_from.take(), column, row);
                if corners.iter().any(|corner| corner.2 >= level) {
                    cut(&mut above, &corners, level);
                }
            }
            self.close_run(&mut above.area, full_from, self.columns, row);
        }
        above
    }

    fn close_run(&self, area: &mut String, from: Option<usize>, to: usize, row: usize) {
        if let Some(from) = from {
            let [x, y] = self.place(from, row);
            let [right, bottom] = self.place(to, row + 1);
            let _ = write!(area, "M{x:.1} {y:.1}H{right:.1}V{bottom:.1}H{x:.1}Z");
        }
    }

    fn place(&self, column: usize, row: usize) -> [f64; 2] {
        [self.from[0] + column as f64 * self.cell[0], self.from[1] + row as f64 * self.cell[1]]
    }

    /// Clockwise from the upper left.
    fn corners(&self, column: usize, row: usize) -> [(f64, f64, f64); 4] {
        [(0, 0), (1, 0), (1, 1), (0, 1)].map(|(right, down)| {
            let (column, row) = (column + right, row + down);
            let [x, y] = self.place(column, row);
            (x, y, self.values[row * (self.columns + 1) + column])
        })
    }
}

/// Adds the part of a cell at or above the level, and the border through it.
fn cut(above: &mut Above, corners: &[(f64, f64, f64); 4], level: f64) {
    let mut first = true;
    let mut left_at = None;
    let mut entered_first = None;
    for (at, &(x, y, value)) in corners.iter().enumerate() {
        let (next_x, next_y, next) = corners[(at + 1) % 4];
        if value >= level {
            point(&mut above.area, &mut first, x, y);
        }
        if (value >= level) != (next >= level) {
            let share = (level - value) / (next - value);
            let cross = [x + share * (next_x - x), y + share * (next_y - y)];
            point(&mut above.area, &mut first, cross[0], cross[1]);
            if value >= level {
                left_at = Some(cross);
            } else if let Some([from_x, from_y]) = left_at.take() {
                let _ = write!(
                    above.border,
                    "M{from_x:.1} {from_y:.1}L{:.1} {:.1}",
                    cross[0], cross[1]
                );
            } else {
                entered_first = Some(cross);
            }
        }
    }
    if let (Some([from_x, from_y]), Some([x, y])) = (left_at, entered_first) {
        let _ = write!(above.border, "M{from_x:.1} {from_y:.1}L{x:.1} {y:.1}");
    }
    above.area.push('Z');
}

fn point(area: &mut String, first: &mut bool, x: f64, y: f64) {
    let _ = write!(area, "{}{x:.1} {y:.1}", if *first { 'M' } else { 'L' });
    *first = false;
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const CORNERS: [[f64; 2]; 4] =
        [[-1000.0, 0.0], [1000.0, 0.0], [-1000.0, -1200.0], [1000.0, -1200.0]];

    /// Area enclosed by the path's closed pieces, by the surveyor's formula.
    fn area(path: &str) -> f64 {
        path.split_terminator('Z')
            .map(|piece| {
                let mut points: Vec<[f64; 2]> = Vec::new();
                let spaced: String = piece
                    .chars()
                    .map(|c| if c.is_ascii_alphabetic() { format!(" {c} ") } else { c.to_string() })
                    .collect();
                let mut words = spaced.split_whitespace();
                while let Some(command) = words.next() {
                    let mut number = || words.next().unwrap().parse::<f64>().unwrap();
                    let next = match command {
                        "H" => [number(), points.last().unwrap()[1]],
                        "V" => [points.last().unwrap()[0], number()],
                        _ => [number(), number()],
                    };
                    points.push(next);
                }
                let n = points.len();
                (0..n)
                    .map(|i| {
                        points[i][0] * points[(i + 1) % n][1]
                            - points[(i + 1) % n][0] * points[i][1]
                    })
                    .sum::<f64>()
                    / 2.0
            })
            .map(f64::abs)
            .sum()
    }

    #[test]
    fn too_little_makes_no_surface() {
        assert!(Field::through(&[]).is_none());
        assert!(Field::through(&[[0.0, 0.0, 1.0], [1.0, 0.0, 1.0]]).is_none());
        assert!(
            Field::through(&[[0.0, 0.0, 1.0], [1.0, 1.0, 2.0], [2.0, 2.0, 3.0], [3.0, 3.0, 1.0]])
                .is_none()
        );
        assert!(Field::through(&[[f64::NAN, 0.0, 1.0]; 5]).is_none());
        assert!(Field::through(&[[5.0, 5.0, 1.0]; 5]).is_none());
    }

    #[test]
    fn many_points_are_thinned() {
        let points: Vec<_> = (0..10_000)
            .map(|n| [f64::from(n % 100), f64::from(n / 100), f64::from(n % 100) * 0.1])
            .collect();
        let field = Field::through(&points).unwrap();
        assert!((field.at(50.0, 50.0) - 5.0).abs() < 0.1);
    }

    #[test]
    fn a_level_cuts_the_rectangle_where_it_should() {
        let grid = Grid::over([0.0, 0.0], [100.0, 50.0], 10, 5, |x, _| x);
        assert!((area(&grid.above(0.25).area) - 75.0 * 50.0).abs() < 1.0);
        assert_eq!(grid.above(2.0), Above::default());
        assert!((area(&grid.above(-1.0).area) - 5000.0).abs() < 1e-6);
        assert!(grid.above(-1.0).border.is_empty());
        let diagonal = Grid::over([0.0, 0.0], [100.0, 100.0], 7, 7, |x, y| x + y);
        assert!((area(&diagonal.above(1.0).area) - 5000.0).abs() < 5.0);
    }

    proptest! {
        /// A plane through its own points is that plane everywhere.
        #[test]
        fn a_plane_comes_back(c in 0.5..6.0_f64, p in -2.0..2.0_f64, q in -2.0..2.0_f64, x in -1000.0..1000.0_f64, y in -1200.0..0.0_f64) {
            let plane = |x: f64, y: f64| c + (p * x + q * y) / 1000.0;
            let points = CORNERS.map(|[x, y]| [x, y, plane(x, y)]);
            let field = Field::through(&points).unwrap();
            prop_assert!((field.at(x, y) - plane(x, y)).abs() < 1e-6);
        }

        /// It goes through what it was given.
        #[test]
        fn points_are_met(gaps in proptest::array::uniform4(0.1..8.0_f64), middle in 0.1..8.0_f64) {
            let mut points: Vec<[f64; 3]> = CORNERS.iter().zip(gaps).map(|([x, y], gap)| [*x, *y, gap]).collect();
            points.push([0.0, -600.0, middle]);
            let field = Field::through(&points).unwrap();
            for [x, y, gap] in points {
                prop_assert!((field.at(x, y) - gap).abs() < 1e-6);
            }
        }
    }
}
