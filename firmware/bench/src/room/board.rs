//! The board: where it stands and how far it is from flat.

use super::relief::Relief;
use crate::noise::Noise;

/// A local bump (or hollow, if negative) of Gaussian shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bump {
    /// Its middle in the image's frame, mm.
    pub x_mm: f64,
    /// Its middle in the image's frame, mm.
    pub y_mm: f64,
    /// Height toward the viewer, mm.
    pub height_mm: f64,
    /// Standard deviation of its profile, mm.
    pub radius_mm: f64,
}

/// What the board's face is made of, as laser and light see it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Material {
    /// The laser distance sensor reads so much more on it than on a gauge block: its light goes
    /// into a translucent face before it comes back, mm.
    pub laser_mm: f64,
    /// And this differs from spot to spot by so much (standard deviation), mm.
    pub texture_mm: f64,
    /// Share of light that a perfectly smooth face would mirror that this one does: 0 matt, 1
    /// glass.
    pub gloss: f64,
}

/// The board. Frame: origin in the middle of the image's top edge; x right, y up, z toward the
/// viewer.
#[derive(Debug, Clone, PartialEq)]
pub struct Board {
    /// Width of the image on it, mm.
    pub width_mm: f64,
    /// Height of the image on it, mm.
    pub height_mm: f64,
    /// Bow along x: middle against left and right edge, mm.
    pub bow_x_mm: f64,
    /// Bow along y: middle against upper and lower edge, mm.
    pub bow_y_mm: f64,
    /// Twist: the corners upper right and lower left come forward by this, the other two go back,
    /// mm.
    pub twist_mm: f64,
    /// Bumps and hollows.
    pub bumps: Vec<Bump>,
    /// A shape that was given, besides.
    pub relief: Option<Relief>,
    /// What its face is made of.
    pub material: Material,
    /// Lean from the vertical, degrees; positive when the top comes toward the viewer.
    pub lean_deg: f64,
    /// Roll of the image in its own plane, degrees; positive when the right side is higher.
    pub level_deg: f64,
}

impl Board {
    /// A flat, plumb and level board.
    pub fn flat(width_mm: f64, height_mm: f64) -> Self {
        Self {
            width_mm,
            height_mm,
            bow_x_mm: 0.0,
            bow_y_mm: 0.0,
            twist_mm: 0.0,
            bumps: Vec::new(),
            relief: None,
            material: Material::default(),
            lean_deg: 0.0,
            level_deg: 0.0,
        }
    }

    /// A board whose bow, twist and three bumps together span `peak_to_valley_mm` over the image.
    pub fn random(
        width_mm: f64,
        height_mm: f64,
        peak_to_valley_mm: f64,
        noise: &mut Noise,
    ) -> Self {
        let mut board = Self {
            bow_x_mm: noise.uniform(-1.0, 1.0),
            bow_y_mm: noise.uniform(-1.0, 1.0),
            twist_mm: noise.uniform(-0.5, 0.5),
            lean_deg: noise.normal(0.4),
            level_deg: noise.normal(0.1),
            ..Self::flat(width_mm, height_mm)
        };
        board.bumps = (0..3)
            .map(|_| Bump {
                x_mm: noise.uniform(-0.5, 0.5) * width_mm,
                y_mm: -noise.unit() * height_mm,
                height_mm: noise.normal(0.15),
                radius_mm: noise.uniform(80.0, 250.0),
            })
            .collect();
        let span_mm = board.peak_to_valley_mm();
        if span_mm > 0.0 {
            let scale = peak_to_valley_mm / span_mm;
            board.bow_x_mm *= scale;
            board.bow_y_mm *= scale;
            board.twist_mm *= scale;
            for bump in &mut board.bumps {
                bump.height_mm *= scale;
            }
        }
        board
    }

    /// Gives it this shape and no other; it stands as it stood.
    pub(super) fn is_shaped(&mut self, relief: Relief) {
        *self = Self {
            relief: Some(relief),
            material: self.material,
            lean_deg: self.lean_deg,
            level_deg: self.level_deg,
            ..Self::flat(self.width_mm, self.height_mm)
        };
    }

    /// The board's shape `w(x, y)`, mm toward the viewer; 0 at the origin.
    pub fn shape_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        self.raw_shape_mm(x_mm, y_mm) - self.raw_shape_mm(0.0, 0.0)
    }

    /// How far the face rises between two points over their straight connection's far end, mm:
    /// where light that skims the face from the first to the second is mirrored. Looked for at
    /// least 50 mm before the second.
    pub fn rise_before_mm(&self, from: (f64, f64), to: (f64, f64)) -> f64 {
        const STEPS: u32 = 24;
        const NEAREST_MM: f64 = 50.0;
        let length_mm = (to.0 - from.0).hypot(to.1 - from.1).max(1.0);
        let last = (1.0 - NEAREST_MM / length_mm).max(0.0);
        let here_mm = self.raw_shape_mm(to.0, to.1);
        (0..=STEPS)
            .map(|k| last * f64::from(k) / f64::from(STEPS))
            .map(|t| self.raw_shape_mm(from.0 + t * (to.0 - from.0), from.1 + t * (to.1 - from.1)))
            .fold(f64::NEG_INFINITY, f64::max)
            - here_mm
    }

    /// Highest minus lowest point of the shape over the image, on a 33 by 21 grid, mm.
    pub fn peak_to_valley_mm(&self) -> f64 {
        let heights = grid(self.width_mm, self.height_mm, 33, 21)
            .into_iter()
            .map(|(x_mm, y_mm)| self.raw_shape_mm(x_mm, y_mm));
        let (low, high) = heights
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), w| (low.min(w), high.max(w)));
        high - low
    }

    fn raw_shape_mm(&self, x_mm: f64, y_mm: f64) -> f64 {
        let u = x_mm / (self.width_mm / 2.0);
        let v = (y_mm + self.height_mm / 2.0) / (self.height_mm / 2.0);
        let bumps: f64 = self
            .bumps
            .iter()
            .map(|bump| {
                let square = (x_mm - bump.x_mm).powi(2) + (y_mm - bump.y_mm).powi(2);
                bump.height_mm * (-square / (2.0 * bump.radius_mm.powi(2))).exp()
            })
            .sum();
        self.bow_x_mm * (1.0 - u * u)
            + self.bow_y_mm * (1.0 - v * v)
            + self.twist_mm * u * v
            + bumps
            + self.relief.as_ref().map_or(0.0, |relief| relief.at_mm(u, v))
    }
}

/// `columns` by `rows` points over the image, edges included, left to right and top to bottom, mm.
pub fn grid(width_mm: f64, height_mm: f64, columns: usize, rows: usize) -> Vec<(f64, f64)> {
    let share = |k: usize, n: usize| if n > 1 { k as f64 / (n - 1) as f64 } else { 0.5 };
    (0..rows)
        .flat_map(|row| {
            (0..columns).map(move |column| {
                ((share(column, columns) - 0.5) * width_mm, -share(row, rows) * height_mm)
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{Board, Bump, grid};
    use crate::noise::Noise;

    #[test]
    fn random_board_spans_what_was_asked_and_is_zero_at_the_origin() {
        for seed in 0..20 {
            let board = Board::random(2024.7, 1265.4, 1.3, &mut Noise::new(seed, 0));
            assert!((board.peak_to_valley_mm() - 1.3).abs() < 1e-9);
            assert_eq!(board.shape_mm(0.0, 0.0), 0.0);
        }
    }

    #[test]
    fn light_is_mirrored_where_the_face_rises_highest_on_its_way() {
        let mut board = Board::flat(2000.0, 1000.0);
        assert_eq!(board.rise_before_mm((0.0, 75.0), (0.0, -1000.0)), 0.0);
        board.bumps = vec![Bump { x_mm: 0.0, y_mm: -500.0, height_mm: 0.4, radius_mm: 100.0 }];
        assert!((board.rise_before_mm((0.0, 75.0), (0.0, -1000.0)) - 0.4).abs() < 0.02);
        assert!(board.rise_before_mm((0.0, 75.0), (900.0, 0.0)).abs() < 1e-3);
    }

    #[test]
    fn grid_holds_the_corners() {
        let points = grid(200.0, 100.0, 3, 2);
        assert_eq!(points.len(), 6);
        assert_eq!((points[0], points[5]), ((-100.0, 0.0), (100.0, -100.0)));
    }
}
