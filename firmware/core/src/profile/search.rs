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

/// Sums of all pixels up to each one.
pub struct Sums([u32; PIXELS + 1]);

impl Sums {
    /// Of a line.
    pub fn of(lit: &Lit) -> Self {
        // 256 * 65 535 < 2^24.
        let mut sums = Self([0; PIXELS + 1]);
        let mut sum = 0;
        for (to, y) in sums.0.iter_mut().skip(1).zip(lit.all()) {
            sum += u32::from(*y);
            *to = sum;
        }
        sums
    }

    /// Of the pixels from one to another, both included and both of the line.
    #[inline]
    fn between(&self, from: i32, to: i32) -> i32 {
        let up_to = |i: i32| self.0[(i.clamp(0, PIXELS as i32) as usize).min(PIXELS)];
        up_to(to + 1).wrapping_sub(up_to(from)) as i32
    }
}

/// Unlit level of the whole line, sixteenths: the mean of the third to the sixth lowest of 16
/// blocks. The lowest two are left out because noise and shadows choose them, the highest ten
/// because a sheet and its mirror image may fill them.
pub fn unlit_level(sums: &Sums) -> i32 {
    let mut blocks: [i32; 16] =
        core::array::from_fn(|k| sums.between(16 * k as i32, 16 * k as i32 + 15));
    blocks.sort_unstable();
    blocks[2..6].iter().sum::<i32>() >> 6
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

/// The pixel around which most light stands out, to two pixels, away from the places that were
/// looked at before. `None`: nothing stands out beyond the scatter.
pub fn strongest(sums: &Sums, scatter: i32, looked_at: &[i32]) -> Option<i32> {
    // Six standard deviations of the difference (six boxes' worth: sqrt(6 * 17) = 10), and at least
    // 8 codes.
    let mut most = (60 * scatter).max(2 * BOX * 16 * 8);
    let mut at = None;
    let mut look = |i: i32, here: i32| {
        if here > most && looked_at.iter().all(|other| (other - i).abs() > APART) {
            most = here;
            at = Some(i);
        }
    };
    // Where the boxes beside it are whole, and where they are not. 17 * 65 535 * 256 < 2^29.
    let far = HALF + GAP + BOX;
    let whole = far..PIXELS as i32 - far;
    let part = |(from, to): (i32, i32)| {
        let fill = FILL.get((to - from + 1).clamp(0, BOX) as usize).copied().unwrap_or(0);
        (sums.between(from, to) * fill) >> 8
    };
    for i in (MARGIN..PIXELS as i32 - MARGIN).step_by(2) {
        let own = sums.between(i - HALF, i + HALF);
        let beside = if whole.contains(&i) {
            sums.between(i - far, i - HALF - GAP - 1) + sums.between(i + HALF + GAP + 1, i + far)
        } else {
            beside(i).map(part).iter().sum()
        };
        look(i, 2 * own - beside);
    }
    at
}

/// Whether light rises toward an end of the line as the foot of a sheet does whose middle is beyond
/// it: the last pixels stand above where the ones before them lead.
pub fn rises_at_an_end(sums: &Sums, scatter: i32) -> bool {
    const BLOCK: i32 = 12;
    let last = PIXELS as i32 - 1;
    let block = |k: i32, from_end: bool| {
        if from_end {
            sums.between(last - (k + 1) * BLOCK + 1, last - k * BLOCK)
        } else {
            sums.between(k * BLOCK, (k + 1) * BLOCK - 1)
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
