//! Where a sheet may be: what stands out from its own surroundings on both sides. Level and slope
//! of the room's light do not.

use super::PIXELS;
use super::line::Lit;

/// Half width of the box that looks for light; between the thinnest sheet's and the thickest's.
const HALF: i32 = 8;
const BOX: i32 = 2 * HALF + 1;
/// From that box to the boxes beside it: the thickest sheet's flat top is then not beside itself.
const GAP: i32 = 12;
/// The least box beside it.
const FEWEST: i32 = 4;
/// Nearer to an end there is no sheet with anything beside it, pixels.
pub const MARGIN: i32 = 12;
/// Of a box of `n` pixels (index `n`, from 4): what makes its sum one of [`BOX`] pixels, 1/256.
const FILL: [i32; BOX as usize + 1] =
    [0, 0, 0, 0, 1088, 870, 725, 622, 544, 484, 435, 396, 363, 335, 311, 290, 272, 256];
/// Around a place that was no sheet this far nothing else is looked for.
const APART: i32 = 20;

/// Unlit level of the whole line, sixteenths: the mean of the third to the sixth lowest of 16
/// blocks. The lowest two are left out because noise and shadows choose them, the highest ten
/// because a sheet and its mirror image may fill them.
pub fn unlit_level(lit: &Lit) -> i32 {
    let mut lowest = [i32::MAX; 6];
    for k in 0..16 {
        // Each block finds its place among the lowest, and pushes the highest of them out.
        let mut block = lit.sum(16 * k, 16 * k + 15);
        for low in &mut lowest {
            if block < *low {
                core::mem::swap(low, &mut block);
            }
        }
    }
    lowest[2..].iter().sum::<i32>() >> 6
}

/// Where the pixels beside a place begin and end, toward either end of the line. Near an end they
/// move up to the place, four at least.
pub fn beside(i: i32) -> [(i32, i32); 2] {
    let near = HALF + GAP + 1;
    let far = HALF + GAP + BOX;
    let last = PIXELS as i32 - 1;
    let left = ((i - far).max(0), (i - near).max(FEWEST - 1));
    let right = ((i + near).min(last - FEWEST + 1), (i + far).min(last));
    [left, right]
}

/// Looked at are the places so far apart: the box loses little of a sheet that is two pixels off.
const STRIDE: i32 = 4;

/// What stands out most so far, away from the places that were looked at before.
struct Best<'a> {
    stands_out: i32,
    at: Option<i32>,
    looked_at: &'a [i32],
}

impl Best<'_> {
    #[inline(never)]
    fn take(&mut self, at: i32, stands_out: i32) {
        if self.looked_at.iter().all(|other| (other - at).abs() > APART) {
            (self.stands_out, self.at) = (stands_out, Some(at));
        }
    }
}

/// The pixel around which most light stands out, to two pixels, away from the places that were
/// looked at before. `None`: nothing stands out beyond the scatter.
#[inline(never)]
pub fn strongest(lit: &Lit, scatter: i32, looked_at: &[i32]) -> Option<i32> {
    // Six standard deviations of the difference (six boxes' worth: sqrt(6 * 17) = 10), and at least
    // 8 codes.
    let least = (60 * scatter).max(2 * BOX * 16 * 8);
    let mut best = Best { stands_out: least, at: None, looked_at };
    // Where the boxes beside it are whole their bounds are always equally far apart.
    const FAR: i32 = HALF + GAP + BOX;
    const SPAN: usize = 2 * FAR as usize + 2;
    let (mut i, mut rest) = (FAR, &lit.sums()[..]);
    while let (Some(near), [_, _, _, _, next @ ..]) = (rest.first_chunk::<SPAN>(), rest) {
        let bound = |k: i32| near[(k + FAR) as usize] as i32;
        let own = bound(HALF + 1) - bound(-HALF);
        let outer = bound(FAR + 1) - bound(-FAR);
        let inner = bound(HALF + GAP + 1) - bound(-HALF - GAP);
        let stands_out = 2 * own - (outer - inner);
        if stands_out > best.stands_out {
            best.take(i, stands_out);
        }
        (i, rest) = (i + STRIDE, next);
    }
    // 17 * 65 535 * 256 < 2^29.
    let part = |(from, to): (i32, i32)| {
        let fill = FILL.get((to - from + 1).clamp(0, BOX) as usize).copied().unwrap_or(0);
        (lit.sum(from, to) * fill) >> 8
    };
    let last = PIXELS as i32 - 1;
    for i in (MARGIN..FAR).step_by(STRIDE as usize).flat_map(|i| [i, last - i]) {
        let [left, right] = beside(i).map(part);
        let stands_out = 2 * lit.sum(i - HALF, i + HALF) - left - right;
        if stands_out > best.stands_out {
            best.take(i, stands_out);
        }
    }
    best.at
}

/// Whether light rises toward an end of the line as the foot of a sheet does whose middle is beyond
/// it: the last pixels stand above where the ones before them lead.
pub fn rises_at_an_end(lit: &Lit, scatter: i32) -> bool {
    const BLOCK: i32 = 12;
    let last = PIXELS as i32 - 1;
    let block = |k: i32, from_end: bool| {
        if from_end {
            lit.sum(last - (k + 1) * BLOCK + 1, last - k * BLOCK)
        } else {
            lit.sum(k * BLOCK, (k + 1) * BLOCK - 1)
        }
    };
    [false, true].iter().any(|end| {
        let rise = block(0, *end) - 2 * block(1, *end) + block(2, *end);
        let fall_on = block(1, *end) - 2 * block(2, *end) + block(3, *end);
        // Six standard deviations (sqrt(6 * 12) = 8.5), at least 16 codes a pixel, and more than
        // smooth light bends.
        rise > (51 * scatter).max(BLOCK * 16 * 16) && rise > 3 * fall_on.abs()
    })
}
