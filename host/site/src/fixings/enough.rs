//! How many anchors would be enough, in an even pattern over the plate.

use serde::Serialize;

use super::group::Anchor;

/// Most anchors that a plate is filled with before the answer is that no number is enough.
const MOST: usize = 24;

/// Anchors in even rows and columns over the extent of those entered.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Pattern {
    /// How many.
    pub anchors: usize,
    /// Side by side.
    pub columns: usize,
    /// One above the other.
    pub rows: usize,
    /// Use of the most loaded one; at most 1.
    pub worst_use: f64,
}

/// Where the entered anchors reach to, plate's frame, mm.
#[derive(Debug, Clone, Copy)]
struct Extent {
    left_mm: f64,
    right_mm: f64,
    bottom_mm: f64,
    top_mm: f64,
}

/// The smallest even pattern, of at least `least` anchors, no closer than `spacing_mm`, whose most
/// loaded anchor stays within its allowed values by `worst_use`; `None` if none of up to 24 anchors
/// does.
pub fn enough(
    anchors: &[Anchor],
    least: usize,
    spacing_mm: f64,
    worst_use: impl Fn(&[Anchor]) -> f64,
) -> Option<Pattern> {
    let extent = extent(anchors);
    let mut patterns: Vec<(usize, usize)> = (1..=MOST)
        .flat_map(|rows| (1..=4).map(move |columns| (columns, rows)))
        .filter(|(columns, rows)| (least.max(1)..=MOST).contains(&(columns * rows)))
        .filter(|&(columns, rows)| {
            fits(extent.right_mm - extent.left_mm, columns, spacing_mm)
                && fits(extent.top_mm - extent.bottom_mm, rows, spacing_mm)
        })
        .collect();
    patterns.sort_by_key(|(columns, rows)| (columns * rows, columns.abs_diff(2)));
    patterns.into_iter().find_map(|(columns, rows)| {
        let used = worst_use(&place(extent, columns, rows));
        (used <= 1.0).then_some(Pattern { anchors: columns * rows, columns, rows, worst_use: used })
    })
}

/// Whether `count` anchors in a row of this length keep their spacing. A row of some length wants
/// both its ends used.
fn fits(length_mm: f64, count: usize, spacing_mm: f64) -> bool {
    match count {
        1 => length_mm < 1.0,
        _ => length_mm >= 1.0 && length_mm / (count - 1) as f64 >= spacing_mm,
    }
}

fn extent(anchors: &[Anchor]) -> Extent {
    let fold = |of: fn(&Anchor) -> f64, pick: fn(f64, f64) -> f64, start| {
        anchors.iter().map(of).fold(start, pick)
    };
    Extent {
        left_mm: fold(|a| a.x_mm, f64::min, f64::INFINITY),
        right_mm: fold(|a| a.x_mm, f64::max, f64::NEG_INFINITY),
        bottom_mm: fold(|a| a.y_mm, f64::min, f64::INFINITY),
        top_mm: fold(|a| a.y_mm, f64::max, f64::NEG_INFINITY),
    }
}

fn place(extent: Extent, columns: usize, rows: usize) -> Vec<Anchor> {
    let spread = |low: f64, high: f64, index: usize, count: usize| {
        if count == 1 {
            (low + high) / 2.0
        } else {
            low + (high - low) * index as f64 / (count - 1) as f64
        }
    };
    (0..rows)
        .flat_map(|row| (0..columns).map(move |column| (row, column)))
        .map(|(row, column)| Anchor {
            name: format!("{}", row * columns + column + 1),
            x_mm: spread(extent.left_mm, extent.right_mm, column, columns),
            y_mm: spread(extent.top_mm, extent.bottom_mm, row, rows),
            area: 1.0,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn corners(half_mm: f64) -> Vec<Anchor> {
        [(-half_mm, half_mm), (half_mm, half_mm), (-half_mm, -half_mm), (half_mm, -half_mm)]
            .into_iter()
            .map(|(x_mm, y_mm)| Anchor { name: String::new(), x_mm, y_mm, area: 1.0 })
            .collect()
    }

    #[test]
    fn grows_until_the_share_is_small_enough() {
        let pattern =
            enough(&corners(150.0), 4, 60.0, |anchors| 5.5 / anchors.len() as f64).unwrap();
        assert_eq!(pattern.anchors, 6);
    }

    #[test]
    fn keeps_the_spacing_and_says_when_nothing_is_enough() {
        assert!(enough(&corners(50.0), 4, 90.0, |anchors| 5.5 / anchors.len() as f64).is_none());
        assert!(enough(&corners(150.0), 4, 60.0, |_| 2.0).is_none());
    }
}
