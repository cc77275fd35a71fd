//! Where a sheet may be: what stands out from its own surroundings on both sides.

use super::PIXELS;
use super::line::Lit;

/// Half width of the box that looks for light; between the thinnest sheet's and the thickest's.
const HALF: i32 = 8;
const BOX: i32 = 2 * HALF + 1;
/// Nearer to an end there is no sheet with anything beside it.
const MARGIN: i32 = 12;
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

/// How far the light around pixel `i` stands out: twice the box there less the boxes beside it. Level and slope of the
/// room's light give nothing.
struct Sliding<'a> {
    lit: &'a Lit,
    i: i32,
    own: i32,
    left: i32,
    right: i32,
}

impl<'a> Sliding<'a> {
    fn new(lit: &'a Lit) -> Self {
        let i = MARGIN;
        Self {
            lit,
            i,
            own: lit.sum(i - HALF, i + HALF),
            left: lit.sum(i - HALF - BOX, i - HALF - 1),
            right: lit.sum(i + HALF + 1, i + HALF + BOX),
        }
    }

    fn stands_out(&self) -> i32 {
        let whole = |sum: i32, pixels: i32| {
            let fill = FILL.get(pixels.clamp(0, BOX) as usize).copied().unwrap_or(0);
            if pixels >= BOX { sum } else { (sum * fill) >> 8 }
        };
        let left = whole(self.left, self.i - HALF);
        let right = whole(self.right, PIXELS as i32 - 1 - self.i - HALF);
        2 * self.own - left - right
    }

    fn step(&mut self) {
        let i = self.i;
        let at = |i: i32| if (0..PIXELS as i32).contains(&i) { self.lit.at(i) } else { 0 };
        self.own += at(i + HALF + 1) - at(i - HALF);
        self.left += at(i - HALF) - at(i - HALF - BOX);
        self.right += at(i + HALF + BOX + 1) - at(i + HALF + 1);
        self.i += 1;
    }
}

/// The pixel around which most light stands out, away from the places that were looked at before. `None`: nothing stands
/// out beyond the scatter.
pub fn strongest(lit: &Lit, scatter: i32, looked_at: &[i32]) -> Option<i32> {
    // Six standard deviations of the difference (six boxes' worth: sqrt(6 * 17) = 10), and at least 8 codes.
    let mut most = (60 * scatter).max(2 * BOX * 16 * 8);
    let mut at = None;
    let mut sliding = Sliding::new(lit);
    while sliding.i < PIXELS as i32 - MARGIN {
        let here = sliding.stands_out();
        if here > most && looked_at.iter().all(|other| (other - sliding.i).abs() > APART) {
            most = here;
            at = Some(sliding.i);
        }
        sliding.step();
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
