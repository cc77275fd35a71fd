//! Lines of light in a profile, and which of the gauge's slits each of them is.
//!
//! The head's own search is made for sheets, and calls two slits what they would be there: two
//! sheets, too narrow. So lines are looked for here, in the raw pixels.

use skimgauge_shared::pixels::{PIXELS, Pixels};
use thiserror::Error;

/// From pixel to pixel, mm: the lithographer's, without error worth counting.
pub const PITCH_MM: f64 = 0.0635;
/// Half of the window in which a line's middle is looked for, pixels: a slit of 0.3 mm, twice
/// as wide for what the light widens on its way, and as much again.
const HALF: usize = 12;
/// Pixels on either side of it that say what the level without the line is.
const FLANK: usize = 6;
/// Nearer to each other than this there is one line, pixels.
const APART: usize = 16;
/// A line stands out by so many codes at least...
const LEAST_CODES: f64 = 24.0;
/// ...and by so many times what pixels scatter.
const STANDS_OUT: f64 = 8.0;
/// What is wider (four standard deviations) came through no slit: a sheet, or a lamp, mm.
const WIDEST_MM: f64 = 1.0;
/// Two lines are the two slits if they are as far apart, to this, mm.
const SAME_MM: f64 = 0.15;
/// One line alone is a slit if it stands where the head's former constants expect it, to this, mm:
/// three standard uncertainties of a head that nobody has zeroed.
const EXPECTED_MM: f64 = 1.5;

/// A line of light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Its middle from the middle of the first pixel, mm.
    pub middle_mm: f64,
    /// Four standard deviations of it (D4sigma, ISO 11146-1), mm.
    pub width_mm: f64,
    /// Peak above what is beside it, codes.
    pub height: f64,
}

/// Why no line could be told to be a slit.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoSlit {
    /// No light.
    #[error(
        "The eye sees no line of light. Is the gauge's lamp on (or, without it, the emitter's sheet as high as a slit), the gauge before the eye, the eye turned to it?"
    )]
    NoLight,
    /// Light that came through no slit.
    #[error(
        "The eye sees light {width_mm:.1} mm thick, which came through no slit of the gauge. Put the gauge between the light and the eye, turned so that both its walls stand across the light."
    )]
    NotThrough {
        /// How thick.
        width_mm: f64,
    },
    /// Two lines, not as far apart as the slits.
    #[error(
        "The two lines of light are {seen_mm:.2} mm apart; by what you said of the gauge its slits are {told_mm:.2} mm apart. Look at its label again (--light), and for dirt in its slits."
    )]
    Apart {
        /// Distance seen.
        seen_mm: f64,
        /// Distance told.
        told_mm: f64,
    },
    /// One line, where no slit should be.
    #[error(
        "The one line of light stands {seen_mm:.1} mm over the board by the head's former constants, and no slit of the gauge does. Look at its label again (--light); light both slits, and the program needs no former constants."
    )]
    Elsewhere {
        /// Height by the former constants.
        seen_mm: f64,
    },
    /// One of two slits, where the lamp lights both.
    #[error(
        "The eye sees one of the gauge's two slits: that is the emitter's light, and the gauge's lamp is off, or dirt in the other slit. Lamp on, emitter off; or say --by-emitter."
    )]
    OneOfTwo,
    /// Pixels are at their stop.
    #[error(
        "The light is too strong: pixels are at their stop. Dim the lamp, or put a layer of paper before it."
    )]
    TooBright,
}

/// Pixels without the dark, made equal by a table; what the table calls bad is its neighbours'
/// mean.
pub fn equal(codes: &[f64], table: Option<&Pixels>) -> Vec<f64> {
    let dark = table.map_or(0.0, |table| f64::from(table.dark) / 16.0);
    let gain = |at: usize| table.and_then(|table| table.gain.get(at).copied()).unwrap_or(0);
    let lit = |at: usize| (codes[at] - dark) * (1.0 + f64::from(gain(at)) / 2_048.0);
    (0..codes.len())
        .map(|at| {
            if gain(at) == Pixels::BAD && at > 0 && at + 1 < codes.len() {
                lit(at - 1).midpoint(lit(at + 1))
            } else {
                lit(at)
            }
        })
        .collect()
}

/// All lines of light in pixels made equal, from the board outward.
pub fn lines(lit: &[f64]) -> Vec<Line> {
    if lit.len() != PIXELS || !lit.iter().all(|code| code.is_finite()) {
        return Vec::new();
    }
    let box_of = |at: usize| {
        let (from, to) = (at.saturating_sub(2), (at + 3).min(PIXELS));
        lit[from..to].iter().sum::<f64>() / (to - from) as f64
    };
    let smooth: Vec<f64> = (0..PIXELS).map(box_of).collect();
    let least = LEAST_CODES.max(STANDS_OUT * scatter(lit) / 5f64.sqrt());
    let stands_out = |at: usize| {
        let lowest =
            |from: usize, to: usize| smooth[from..to].iter().copied().fold(f64::INFINITY, f64::min);
        let left = lowest(at.saturating_sub(APART), at + 1);
        let right = lowest(at, (at + APART + 1).min(PIXELS));
        smooth[at] - left.max(right)
    };
    let mut tops: Vec<(usize, f64)> = (4..PIXELS - 4)
        .map(|at| (at, stands_out(at)))
        .filter(|(at, by)| *by > least && smooth[*at] >= smooth[at - 1].max(smooth[at + 1]))
        .collect();
    tops.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut kept: Vec<usize> = Vec::new();
    for (at, _) in tops {
        if kept.iter().all(|other| other.abs_diff(at) >= APART) {
            kept.push(at);
        }
    }
    kept.sort_unstable();
    kept.into_iter().filter_map(|at| centred(lit, at)).collect()
}

/// Scatter from pixel to pixel: median of second differences, which a line of light hardly moves
/// (0.6745 of a normal's standard deviation, times root 6).
fn scatter(lit: &[f64]) -> f64 {
    let mut beyond: Vec<f64> =
        lit.windows(3).map(|near| (near[0] - 2.0 * near[1] + near[2]).abs()).collect();
    beyond.sort_by(f64::total_cmp);
    beyond.get(beyond.len() / 2).copied().unwrap_or(0.0) / (0.6745 * 6f64.sqrt())
}

/// A window centred on its own middle, over the straight level from flank to flank.
fn centred(lit: &[f64], top: usize) -> Option<Line> {
    let mut centre = top;
    for _ in 0..6 {
        let half = HALF.min(centre).min(PIXELS - 1 - centre);
        if half < 6 {
            return None;
        }
        let (level, slope) = level(lit, centre, half);
        let above = |k: isize| {
            let at = centre.saturating_add_signed(k);
            lit[at] - level - slope * k as f64
        };
        let window = -(half as isize)..=half as isize;
        let light: f64 = window.clone().map(above).sum();
        if light <= 0.0 {
            return None;
        }
        let moment = |power: i32| {
            window.clone().map(|k| above(k) * (k as f64).powi(power)).sum::<f64>() / light
        };
        let shift = moment(1);
        // Near half a pixel either centre is as good: it must not go to and fro.
        if shift.abs() > 0.8 && shift.abs() < half as f64 {
            centre = (centre as f64 + shift).round().max(0.0) as usize;
            if centre >= PIXELS {
                return None;
            }
            continue;
        }
        let variance = (moment(2) - shift * shift).max(0.0);
        return Some(Line {
            middle_mm: (centre as f64 + shift) * PITCH_MM,
            width_mm: 4.0 * variance.sqrt() * PITCH_MM,
            height: window.map(above).fold(0.0, f64::max),
        });
    }
    None
}

/// Level without the line at a window's centre, and its slope a pixel.
fn level(lit: &[f64], centre: usize, half: usize) -> (f64, f64) {
    let mean = |from: usize, to: usize| {
        let span = lit.get(from..to).unwrap_or(&[]);
        let middle = (from + to) as f64 / 2.0 - 0.5 - centre as f64;
        (span.len() >= 3).then(|| (span.iter().sum::<f64>() / span.len() as f64, middle))
    };
    let (low, high) = (centre.saturating_sub(half), centre + half + 1);
    let left = mean(low.saturating_sub(FLANK), low);
    let right = mean(high, (high + FLANK).min(PIXELS));
    match (left, right) {
        (Some((left, from)), Some((right, to))) => {
            let slope = (right - left) / (to - from);
            (left - slope * from, slope)
        }
        (Some((level, _)), None) | (None, Some((level, _))) => (level, 0.0),
        (None, None) => (0.0, 0.0),
    }
}

/// Which slit of the gauge (by its place in `heights_mm`) each line is. Two lines are known by
/// their distance; one alone by where the head's former constants expect it: `expected_mm` is the
/// height over the board of the line's own frame, `s + z0`.
///
/// # Errors
/// What is seen instead.
pub fn matched(
    lines: &[Line],
    heights_mm: &[f64],
    expected_mm: f64,
) -> Result<Vec<(usize, Line)>, NoSlit> {
    let narrow: Vec<Line> = lines.iter().copied().filter(|l| l.width_mm <= WIDEST_MM).collect();
    let Some(brightest) = narrow.iter().copied().max_by(|a, b| a.height.total_cmp(&b.height))
    else {
        let thickest = lines.iter().map(|line| line.width_mm).fold(0.0, f64::max);
        return Err(if lines.is_empty() {
            NoSlit::NoLight
        } else {
            NoSlit::NotThrough { width_mm: thickest }
        });
    };
    let mut nearest: Option<(f64, Vec<(usize, Line)>)> = None;
    for (low, high) in pairs(heights_mm.len()) {
        let told = heights_mm[high] - heights_mm[low];
        for (a, b) in pairs(narrow.len()) {
            let off = (narrow[b].middle_mm - narrow[a].middle_mm - told).abs();
            if nearest.as_ref().is_none_or(|(best, _)| off < *best) {
                nearest = Some((off, vec![(low, narrow[a]), (high, narrow[b])]));
            }
        }
    }
    match nearest {
        Some((off, pair)) if off <= SAME_MM => return Ok(pair),
        // Two lines and nothing else, as bright as two slits are, not as far apart as told.
        Some((_, pair)) if narrow.len() == 2 => {
            let (seen, dimmer) =
                (narrow[1].middle_mm - narrow[0].middle_mm, narrow[0].height.min(narrow[1].height));
            if dimmer * 3.0 > brightest.height {
                let told_mm = heights_mm[pair[1].0] - heights_mm[pair[0].0];
                return Err(NoSlit::Apart { seen_mm: seen, told_mm });
            }
        }
        _ => (),
    }
    let seen_mm = expected_mm + brightest.middle_mm;
    let off = |height: f64| (seen_mm - height).abs();
    let which =
        (0..heights_mm.len()).min_by(|a, b| off(heights_mm[*a]).total_cmp(&off(heights_mm[*b])));
    match which {
        Some(which) if off(heights_mm[which]) <= EXPECTED_MM => Ok(vec![(which, brightest)]),
        _ => Err(NoSlit::Elsewhere { seen_mm }),
    }
}

fn pairs(n: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..n).flat_map(move |a| (a + 1..n).map(move |b| (a, b)))
}
