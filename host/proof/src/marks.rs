//! The thirteen marks: corners, edge middles, centre, quarter points; and the orders in which they
//! are walked.

use skimgauge_model::{Image, Point};

/// How many marks there are.
pub const MARKS: usize = 13;
/// How often each is tapped.
pub const ROUNDS: usize = 3;

/// Their names, in their order.
pub const NAMES: [&str; MARKS] = [
    "top left",
    "top",
    "top right",
    "upper left quarter",
    "upper right quarter",
    "left",
    "centre",
    "right",
    "lower left quarter",
    "lower right quarter",
    "bottom left",
    "bottom",
    "bottom right",
];

/// Corners and centre, where lines are held and dashes drawn.
pub const CORNERS: [u8; 4] = [0, 2, 12, 10];
/// The five places of a hold.
pub const HELD: [u8; 5] = [0, 2, 6, 12, 10];

/// Three walking orders: along the rows, along the columns, and round from the outside. No mark
/// comes twice within six taps, so that no error of one approach is counted as three.
pub const WALKS: [[u8; MARKS]; ROUNDS] = [
    [0, 1, 2, 4, 3, 5, 6, 7, 9, 8, 10, 11, 12],
    [10, 5, 0, 3, 8, 11, 6, 1, 4, 9, 12, 7, 2],
    [0, 5, 10, 11, 12, 7, 2, 1, 3, 8, 9, 4, 6],
];

/// Where a mark is; `None` where there is none of this number.
pub fn at(image: Image, inset: f64, mark: u8) -> Option<Point> {
    let (out, quarter) = (0.5 - inset, 0.25);
    let (across, down) = match mark {
        0 => (-out, -out),
        1 => (0.0, -out),
        2 => (out, -out),
        3 => (-quarter, -quarter),
        4 => (quarter, -quarter),
        5 => (-out, 0.0),
        6 => (0.0, 0.0),
        7 => (out, 0.0),
        8 => (-quarter, quarter),
        9 => (quarter, quarter),
        10 => (-out, out),
        11 => (0.0, out),
        12 => (out, out),
        _ => return None,
    };
    Some(Point { x: image.width * across, y: -(image.height * (0.5 + down)) })
}

/// A mark's name; of a number that is none, `?`.
pub fn name(mark: u8) -> &'static str {
    NAMES.get(usize::from(mark)).copied().unwrap_or("?")
}

/// The mark of this name.
pub fn named(name: &str) -> Option<u8> {
    NAMES.iter().position(|known| *known == name).and_then(|at| u8::try_from(at).ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_walk_visits_every_mark_once_and_none_thrice_in_a_row() {
        for walk in WALKS {
            let mut seen = walk;
            seen.sort_unstable();
            assert_eq!(seen, std::array::from_fn(|at| at as u8));
        }
        let all: Vec<u8> = WALKS.concat();
        for window in all.windows(3) {
            assert!(!(window[0] == window[1] && window[1] == window[2]), "{window:?}");
        }
    }

    #[test]
    fn marks_are_where_their_names_say() {
        let image = Image::mm(2000.0, 1000.0);
        for (mark, x, y) in [(0, -900.0, -50.0), (6, 0.0, -500.0), (12, 900.0, -950.0)] {
            assert!(at(image, 0.05, mark).unwrap().apart(Point::mm(x, y)).0 < 1e-9);
        }
        assert_eq!(at(image, 0.05, 13), None);
        assert_eq!(named("centre"), Some(6));
    }
}
