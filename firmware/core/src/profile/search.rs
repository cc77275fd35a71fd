//! Where a sheet may be: what stands out from its own surroundings on both sides. Level and slope of the room's light do not.

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

/// Unlit level of the whole line, sixteenths: the mean of the third to the sixth lowest of 16 blocks. The lowest two are
/// left out because noise and shadows choose them, the highest ten because a sheet and its mirror image may fill them.
pub fn unlit_level(lit: &Lit) -> i32 {
    let mut blocks = [0; 16];
    for (block, from) in blocks.iter_mut().zip((0..).step_by(16)) {
        *block = lit.sum(from, from + 15);
    }
    blocks.sort_unstable();
    blocks[2..6].iter().sum::<i32>() >> 6
}

/// Where the pixels beside a place begin and end, toward either end of the line. Near an end they move up to the place, four
/// at least.
pub fn beside(i: i32) -> [(i32, i32); 2] {
    let near = HALF + GAP + 1;
    let far = HALF + GAP + BOX;
    let last = PIXELS as i32 - 1;
    let left = ((i - far).max(0), (i - near).max(FEWEST - 1));
    let right = ((i + near).min(last - FEWEST + 1), (i + far).min(last));
    [left, right]
}

/// The sum of a box that slides along the line.
struct Sliding<'a> {
    lit: &'a Lit,
    from: i32,
    to: i32,
    sum: i32,
}

impl<'a> Sliding<'a> {
    fn new(lit: &'a Lit, (from, to): (i32, i32)) -> Self {
        Self { lit, from, to, sum: lit.sum(from, to) }
    }

    /// The sum of so many pixels further on, as if there were [`BOX`] of them.
    fn at(&mut self, (from, to): (i32, i32)) -> i32 {
        while self.to < to {
            self.to += 1;
            self.sum += self.lit.at(self.to);
        }
        while self.from < from {
            self.sum -= self.lit.at(self.from);
            self.from += 1;
        }
        // 17 * 65 535 * 256 < 2^29.
        match FILL.get((to - from + 1).clamp(0, BOX) as usize) {
            Some(fill) if to - from + 1 < BOX => (self.sum * fill) >> 8,
            _ => self.sum,
        }
    }
}

/// The pixel around which most light stands out, away from the places that were looked at before. `None`: nothing stands
/// out beyond the scatter.
pub fn strongest(lit: &Lit, scatter: i32, looked_at: &[i32]) -> Option<i32> {
    // Six standard deviations of the difference (six boxes' worth: sqrt(6 * 17) = 10), and at least 8 codes.
    let mut most = (60 * scatter).max(2 * BOX * 16 * 8);
    let mut at = None;
    let [first_left, first_right] = beside(MARGIN);
    let mut own = Sliding::new(lit, (MARGIN - HALF, MARGIN + HALF));
    let (mut left, mut right) = (Sliding::new(lit, first_left), Sliding::new(lit, first_right));
    for i in MARGIN..PIXELS as i32 - MARGIN {
        let [at_left, at_right] = beside(i);
        let here = 2 * own.at((i - HALF, i + HALF)) - left.at(at_left) - right.at(at_right);
        if here > most && looked_at.iter().all(|other| (other - i).abs() > APART) {
            most = here;
            at = Some(i);
        }
    }
    at
}

/// Whether light rises toward an end of the line as the foot of a sheet does whose middle is beyond it: the last pixels
/// stand above where the ones before them lead.
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
        // Six standard deviations (sqrt(6 * 12) = 8.5), at least 16 codes a pixel, and more than smooth light bends.
        rise > (51 * scatter).max(BLOCK * 16 * 16) && rise > 3 * fall_on.abs()
    })
}
