//! How far an adjuster moves the emitter for one clockwise turn, from a gap that was watched while
//! it was turned.

use super::spread::Estimate;

/// Turns and levers smaller than these tell nothing: the gap hardly moves.
const LEAST_TURNS: f64 = 0.05;
const LEAST_LEVER: f64 = 0.02;

/// A turn of one of three adjusters, watched at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Watched {
    /// Which adjuster, from 0.
    pub adjuster: usize,
    /// How far it was turned, clockwise positive.
    pub turns: f64,
    /// Where the gap was watched, mm in the image's frame.
    pub place: [f64; 2],
    /// Gap after less gap before, mm.
    pub change_mm: f64,
    /// Standard uncertainty of that.
    pub u_mm: f64,
}

/// By how much the gap at a place moves where one adjuster moves outward by one millimetre and the
/// other two stay: its share in the plane through three points. `None` for three in a line.
pub fn lever(adjusters: &[[f64; 2]; 3], which: usize, place: [f64; 2]) -> Option<f64> {
    let area = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
    };
    let [moved, one, two] = [0, 1, 2].map(|n| adjusters[(which + n) % 3]);
    let whole = area(moved, one, two);
    let share = area(place, one, two) / whole;
    (whole.abs() > 1.0 && share.is_finite()).then_some(share)
}

/// What a watched turn says of the adjuster: its advance for one clockwise turn, mm, outward
/// positive. `None` where the turn was too short or the place hardly moves.
pub fn advance(adjusters: &[[f64; 2]; 3], watched: &Watched) -> Option<Estimate> {
    let lever = lever(adjusters, watched.adjuster, watched.place)?;
    if watched.turns.abs() < LEAST_TURNS || lever.abs() < LEAST_LEVER {
        return None;
    }
    let per = lever * watched.turns;
    let estimate = Estimate { value: watched.change_mm / per, u: (watched.u_mm / per).abs() };
    (estimate.value.is_finite() && estimate.u.is_finite()).then_some(estimate)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ADJUSTERS: [[f64; 2]; 3] = [[-100.0, 80.0], [100.0, 80.0], [0.0, 140.0]];

    /// Worked by hand: over the adjuster itself the gap moves as it does, over another not at all;
    /// 60 mm below the line of the lower two the upper one works the other way round.
    #[test]
    fn the_lever_is_the_share_in_the_plane() {
        for (which, place, share) in [
            (0, [-100.0, 80.0], 1.0),
            (0, [100.0, 80.0], 0.0),
            (0, [0.0, 140.0], 0.0),
            (2, [0.0, 20.0], -1.0),
            (0, [0.0, 20.0], 1.0),
            (1, [0.0, 20.0], 1.0),
        ] {
            let found = lever(&ADJUSTERS, which, place).unwrap();
            assert!((found - share).abs() < 1e-12, "{which} {place:?}: {found}");
        }
        assert_eq!(lever(&[[0.0, 0.0], [10.0, 0.0], [20.0, 0.0]], 0, [5.0, 5.0]), None);
    }

    #[test]
    fn a_watched_turn_says_the_advance_with_its_sense() {
        let watched = |turns: f64, change_mm: f64| Watched {
            adjuster: 2,
            turns,
            place: [0.0, 20.0],
            change_mm,
            u_mm: 0.006,
        };
        // Half a turn clockwise, and the gap 60 mm below goes down by 0.25: it moved out by 0.25.
        let found = advance(&ADJUSTERS, &watched(0.5, -0.25)).unwrap();
        assert!((found.value - 0.5).abs() < 1e-12 && (found.u - 0.012).abs() < 1e-12);
        assert!(advance(&ADJUSTERS, &watched(0.5, 0.25)).unwrap().value < 0.0, "reversed");
        assert_eq!(advance(&ADJUSTERS, &watched(0.01, 0.25)), None);
        assert_eq!(advance(&ADJUSTERS, &watched(f64::NAN, 0.25)), None);
    }
}
