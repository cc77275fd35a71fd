//! How unequal the pixels are, from their readings in even light and in the dark.
//!
//! No light is even over 16 mm, but what a lamp or a lit card gives bends slowly: a polynomial takes
//! it away, and what is left of each pixel is its own. What pixels have in common over many
//! neighbours goes with it, and does no harm: a line's middle feels only what differs across it.

use super::still::Mean;
use crate::linear::solve;
use nalgebra::{DMatrix, DVector};
use skimgauge_shared::pixels::PIXELS;
pub use skimgauge_shared::pixels::Pixels;
use thiserror::Error;

/// Degree of the polynomial.
const DEGREE: usize = 5;
/// A gain's unit.
const UNIT: f64 = 2_048.0;
/// The strongest gain; a pixel somewhat beyond is given it.
const MOST: f64 = 127.0;
/// A pixel whose light is off by more than this share is bad.
const BAD: f64 = 0.08;
/// More bad ones, and it is the line or dirt on it.
const MOST_BAD: usize = 4;
/// Brightness that tells pixels apart, and leaves room to the stop, codes over the dark.
const BRIGHT: core::ops::RangeInclusive<f64> = 400.0..=3_300.0;
/// Brighter than this in the dark is not dark, codes.
const DARK_CODES: f64 = 400.0;
/// The darkest part of even light is at least this share of the brightest.
const EVEN: f64 = 0.3;
/// Pixels are unequal by chance: 256 times the sum of the squared correlations of neighbours 1 to 10
/// apart is chi-square of 10 degrees of freedom (Box and Pierce 1970, from memory), beyond this once
/// in a hundred thousand times.
const APART: usize = 10;
const BY_CHANCE: f64 = 42.0;

/// Why there is no table.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoTable {
    /// There is light where none should be.
    #[error(
        "Covered, the eye still sees light ({codes:.0} codes). Cover its slit whole, with a finger or black tape, and take the dark again."
    )]
    NotDark {
        /// Mean.
        codes: f64,
    },
    /// Too little light, or too much.
    #[error(
        "In even light the pixels read {codes:.0} codes over the dark; 400 to 3300 are wanted. Bring the lamp nearer or farther and take it again."
    )]
    Brightness {
        /// Mean.
        codes: f64,
    },
    /// A shadow, a lamp too near, a line of light.
    #[error(
        "The light is not even over the eye: a shadow, or a lamp too near. Hold white paper a hand's breadth before the eye, lit from the side, and take it again."
    )]
    NotEven,
    /// Many pixels are off.
    #[error(
        "{bad} pixels are off by more than a twelfth: dirt on the pixels or in the eye's slit. Clean it and take it again."
    )]
    ManyBad {
        /// How many.
        bad: usize,
    },
}

/// What comparing the pixels came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// The table.
    pub table: Pixels,
    /// How unequal the pixels are before it: standard deviation, relative.
    pub unequal: f64,
    /// How unequal they stay.
    pub left: f64,
    /// Pixels that are bad.
    pub bad: Vec<u8>,
}

/// Compares. The table is `before`'s, with new gains and level in the dark.
///
/// # Errors
/// What is wrong with the light or the line.
pub fn compare(even: &Mean, dark: &Mean, before: &Pixels) -> Result<Compared, NoTable> {
    let mean = |codes: &[f64]| codes.iter().sum::<f64>() / codes.len().max(1) as f64;
    let level = mean(&dark.codes);
    // Covered, all pixels read alike: a leak would show as a slope or a spot.
    let (lowest, highest) = ends(&dark.codes);
    if level > DARK_CODES || highest - lowest > 100.0 || dark.codes.len() != PIXELS {
        return Err(NoTable::NotDark { codes: level });
    }
    let lit: Vec<f64> = even.codes.iter().map(|code| code - level).collect();
    let codes = mean(&lit);
    if !BRIGHT.contains(&codes) || lit.len() != PIXELS || even.at_stop {
        return Err(NoTable::Brightness { codes });
    }
    let mut good = vec![true; PIXELS];
    let mut off = vec![0.0; PIXELS];
    for _ in 0..3 {
        let smooth = polynomial(&lit, &good).ok_or(NoTable::NotEven)?;
        let (least, most) = ends(&smooth);
        if least < EVEN * most {
            return Err(NoTable::NotEven);
        }
        off = lit.iter().zip(&smooth).map(|(lit, smooth)| lit / smooth - 1.0).collect();
        for (good, off) in good.iter_mut().zip(&off) {
            *good = off.abs() <= BAD;
        }
    }
    // A shadow's edge or a lamp's line leaves pixels beside each other alike.
    if alike(&off, &good) > BY_CHANCE {
        return Err(NoTable::NotEven);
    }
    let bad: Vec<u8> = (0..=u8::MAX).filter(|at| !good[usize::from(*at)]).collect();
    let bridged = bad.windows(2).all(|pair| pair[1] - pair[0] > 1)
        && bad.iter().all(|at| (1..u8::MAX).contains(at));
    if bad.len() > MOST_BAD || !bridged {
        return Err(NoTable::ManyBad { bad: bad.len() });
    }
    let mut table = before.clone();
    table.dark = (level * 16.0).round() as u16;
    let mut left_square = 0.0;
    for (at, gain) in table.gain.iter_mut().enumerate() {
        if !good[at] {
            *gain = Pixels::BAD;
            continue;
        }
        *gain = ((1.0 / (1.0 + off[at]) - 1.0) * UNIT).round().clamp(-MOST, MOST) as i8;
        left_square += ((1.0 + off[at]) * (1.0 + f64::from(*gain) / UNIT) - 1.0).powi(2);
    }
    let count = (PIXELS - bad.len()) as f64;
    let unequal =
        (off.iter().zip(&good).filter(|(_, good)| **good).map(|(o, _)| o * o).sum::<f64>() / count)
            .sqrt();
    let left = (left_square / count).sqrt().hypot(even.noise / codes);
    table.residual = (left * 65_536.0).ceil().clamp(1.0, 65_535.0) as u16;
    Ok(Compared { table, unequal, left, bad })
}

fn ends(values: &[f64]) -> (f64, f64) {
    values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(*v), b.max(*v)))
}

/// Box and Pierce's sum over good neighbours.
fn alike(off: &[f64], good: &[bool]) -> f64 {
    let usable: Vec<f64> =
        off.iter().zip(good).map(|(off, good)| if *good { *off } else { 0.0 }).collect();
    let square: f64 = usable.iter().map(|off| off * off).sum();
    let apart = |k: usize| usable.iter().zip(&usable[k..]).map(|(a, b)| a * b).sum::<f64>();
    if square <= 0.0 {
        return 0.0;
    }
    (1..=APART).map(|k| (apart(k) / square).powi(2)).sum::<f64>() * PIXELS as f64
}

/// The light as a polynomial along the line, through the good pixels (Chebyshev's, whose columns are
/// far from each other).
fn polynomial(lit: &[f64], good: &[bool]) -> Option<Vec<f64>> {
    let along = |at: usize| 2.0 * at as f64 / (PIXELS - 1) as f64 - 1.0;
    let term = |at: usize, k: usize| (k as f64 * along(at).clamp(-1.0, 1.0).acos()).cos();
    let used: Vec<usize> = (0..PIXELS).filter(|at| good[*at]).collect();
    let design = DMatrix::from_fn(used.len(), DEGREE + 1, |row, k| term(used[row], k));
    let values = DVector::from_fn(used.len(), |row, _| lit[used[row]]);
    let fit = solve(&design, &values, &vec![1.0; used.len()]).ok()?;
    let at = |at: usize| (0..=DEGREE).map(|k| fit.estimate[k] * term(at, k)).sum::<f64>();
    Some((0..PIXELS).map(at).collect())
}
