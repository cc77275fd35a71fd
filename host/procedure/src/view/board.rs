//! The board as a picture: where the gap is how large, and where it is not known.

use serde::Serialize;
use skimgauge_model::{Image, Point, Verdict};
use skimgauge_quantity::{Mm, Sentence, Style};

/// A gap somewhere on the board, to be written in.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spot {
    /// Where.
    pub at: Point,
    /// The same in words: `top left corner`.
    pub called: Sentence,
    /// The gap.
    pub gap: Mm,
    /// Half width of its 95 % interval.
    pub expanded: Mm,
    /// What may be said of it; `None` in place of a `within` where nobody looked.
    pub verdict: Option<Verdict>,
    /// It was read there in this round, and nothing was turned since; else it is worked out.
    pub read: bool,
    /// It limits the verdict, and was read.
    pub worst: bool,
}

impl Spot {
    /// The number to be written in: `~` before one that nobody read. Light that would lie behind the
    /// board is worked out too, and no number of it means anything.
    pub fn number(&self, style: Style) -> String {
        match self.read {
            true => self.gap.gap().number(style),
            false if self.gap < Mm::ZERO => "~<0".to_owned(),
            false => format!("~{}", self.gap.gap().number(style)),
        }
    }
}

/// Gaps on a grid over the image, row by row from the top left corner, corners and edges included.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Field {
    /// Of this image.
    pub image: Image,
    /// Gaps in a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// The gaps; `None` where nothing is known, or nothing may be said.
    pub gaps: Vec<Option<Mm>>,
}

impl Field {
    /// The gap at a point of the image, between those of the grid; `None` off the image, and where
    /// nothing is known.
    pub fn at(&self, point: Point) -> Option<Mm> {
        let (across, down) = (point.x / self.image.width + 0.5, -(point.y / self.image.height));
        let (left, right) = self.between(across, self.columns)?;
        let (top, bottom) = self.between(down, self.rows)?;
        let gap =
            |row: usize, column: usize| self.gaps.get(row * self.columns + column).copied()?;
        let row = |row: usize| Some(gap(row, left.0)? * left.1 + gap(row, right.0)? * right.1);
        Some(row(top.0)? * top.1 + row(bottom.0)? * bottom.1)
    }

    /// The two neighbours on an axis, and the share of each.
    fn between(&self, share: f64, count: usize) -> Option<((usize, f64), (usize, f64))> {
        if count == 0 || !(0.0..=1.0).contains(&share) {
            return None;
        }
        let at = share * (count - 1) as f64;
        let before = (at as usize).min(count - 1);
        let after = (before + 1).min(count - 1);
        let part = at - before as f64;
        Some(((before, 1.0 - part), (after, part)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn between_the_points_of_the_grid_a_plane_stays_a_plane() {
        let image = Image { width: Mm(2000.0), height: Mm(1200.0) };
        let plane = |x: f64, y: f64| Mm(3.0 + 0.001 * x - 0.002 * y);
        let (columns, rows) = (5, 4);
        let gaps = (0..rows * columns).map(|at| {
            let (row, column) = (at / columns, at % columns);
            Some(plane(column as f64 * 500.0 - 1000.0, row as f64 * -400.0))
        });
        let field = Field { image, columns, rows, gaps: gaps.collect() };
        for (x, y) in [(-1000.0, 0.0), (1000.0, -1200.0), (130.0, -777.0), (999.0, -1.0)] {
            let found = field.at(Point { x: Mm(x), y: Mm(y) }).unwrap();
            assert!((found - plane(x, y)).abs() < Mm(1e-9), "{x} {y} {found:?}");
        }
        assert_eq!(field.at(Point { x: Mm(1001.0), y: Mm(0.0) }), None);
        assert_eq!(field.at(Point { x: Mm(f64::NAN), y: Mm(0.0) }), None);
        let unknown = Field { gaps: vec![None; rows * columns], ..field };
        assert_eq!(unknown.at(Point { x: Mm(0.0), y: Mm(0.0) }), None);
    }
}
