//! Sums over a window and over the flanks beside it.

use super::line::Lit;
use super::{Pull, SubPixels, root};

/// The widest window's half.
pub const WIDEST: i32 = 60;

/// The longest flank.
pub const LONGEST: i32 = 24;

/// From dark to full within the eight pixels that two flanks are apart at least.
const STEEPEST: i32 = 65_535 * 4_096 / 8;
/// No smooth room's light bends more: 8 sixteenths a pixel squared.
const MOST_BEND: i64 = 8 << 16;

/// Some pixels in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// The first one.
    pub from: i32,
    /// How many; at least one, at most [`LONGEST`].
    pub len: i32,
}

impl Span {
    /// Its middle, in half pixels.
    fn twice_middle(self) -> i32 {
        2 * self.from + self.len - 1
    }

    /// Mean of its pixels, 1/64 of a sixteenth.
    #[inline(never)]
    fn mean_q6(self, lit: &Lit) -> i32 {
        // 24 * 65 535 * 64 < 2^27.
        let len = self.len.clamp(1, LONGEST);
        (lit.sum(self.from, self.from + len - 1) * 64 + len / 2) / len
    }

    /// Nearer to a centre and farther from it, half each; a pixel in the middle belongs to neither.
    fn halves(self, centre: i32) -> (Self, Self) {
        let len = (self.len / 2).max(1);
        let (first, last) =
            (Self { from: self.from, len }, Self { from: self.from + self.len - len, len });
        if self.from < centre { (last, first) } else { (first, last) }
    }

    /// Mean of the squared distances of its pixels from a pixel.
    fn mean_square(self, centre: i32) -> i32 {
        let off = (self.twice_middle() - 2 * centre).clamp(-512, 512);
        (off * off + (self.len * self.len - 1) / 3) / 4
    }

    /// Slope within it, 1/4096 of a sixteenth a pixel, by least squares.
    #[inline(never)]
    fn slope_q12(self, lit: &Lit) -> i32 {
        let len = self.len.clamp(2, LONGEST);
        // In half pixels from its middle: sum(u y) < 24 * 24 * 65 535 / 2 < 2^25; sum(u^2) = len
        // (len^2 - 1) / 3.
        let moment: i32 = (0..)
            .zip(lit.pixels(self.from, self.from + len - 1))
            .map(|(j, y)| (2 * j - (len - 1)) * i32::from(*y))
            .sum();
        let spread = (len * (len * len - 1) / 3).max(1);
        // Two half pixels make one.
        (i64::from(moment) * 8_192 / i64::from(spread)) as i32
    }
}

/// A window and what is beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Frame {
    /// The pixel in its middle.
    pub centre: i32,
    /// So many pixels to either side belong to it.
    pub half: i32,
    /// Unlit pixels toward the first one.
    pub left: Span,
    /// Unlit pixels toward the last one.
    pub right: Span,
}

/// The room's light under a window, by the flanks: `level + slope k - bend k^2`, `k` pixels from
/// the window's centre.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unlit {
    /// At the centre, 1/64 of a sixteenth.
    pub level_q6: i32,
    /// A pixel, 1/4096 of a sixteenth.
    pub slope_q12: i32,
    /// A pixel squared, 1/65 536 of a sixteenth; 0 unless the flanks show it beyond their scatter.
    pub bend_q16: i32,
}

impl Unlit {
    /// Through the flanks' means, which scatter by `each` (sixteenths) a pixel.
    #[inline(never)]
    pub fn beside(lit: &Lit, frame: &Frame, each: i32) -> Self {
        let straight = Self::straight(lit, frame);
        let bend_q16 = straight.bend(lit, frame, each);
        if bend_q16 == 0 { straight } else { Self::through(lit, frame, bend_q16) }
    }

    /// Through the flanks' means, without a bend.
    pub fn straight(lit: &Lit, frame: &Frame) -> Self {
        Self::through(lit, frame, 0)
    }

    /// Level and slope, with a bend that is known.
    #[inline(never)]
    fn through(lit: &Lit, frame: &Frame, bend_q16: i32) -> Self {
        let mean = |span: Span| {
            let bent = (i64::from(bend_q16) * i64::from(span.mean_square(frame.centre))) >> 10;
            span.mean_q6(lit) + bent as i32
        };
        let (left, right) = (mean(frame.left), mean(frame.right));
        // In half pixels from the centre.
        let from = frame.left.twice_middle() - 2 * frame.centre;
        let apart = (frame.right.twice_middle() - frame.left.twice_middle()).max(1);
        let rise = right - left;
        let (level, slope) = if bend_q16 == 0 {
            // A mean is at most 65 535 * 64, a flank at most 255 pixels away: 65 535 * 64 * 510 <
            // 2^31.
            (rise * from / apart, rise * 128 / apart)
        } else {
            let parts = |n: i32| (i64::from(rise) * i64::from(n) / i64::from(apart)) as i32;
            (parts(from), parts(128))
        };
        Self { level_q6: left - level, slope_q12: slope.clamp(-STEEPEST, STEEPEST), bend_q16 }
    }

    /// How light bends that falls away (or rises) on both sides alike: from the nearer to the
    /// farther half of each flank.
    fn bend(&self, lit: &Lit, frame: &Frame, each: i32) -> i32 {
        if frame.left.len < 6 || frame.right.len < 6 {
            return 0;
        }
        let (mut fall_q6, mut lever, mut noise) = (0_i64, 0, 0);
        for span in [frame.left, frame.right] {
            let (near, far) = span.halves(frame.centre);
            let sloped =
                i64::from(self.slope_q12) * i64::from(far.twice_middle() - near.twice_middle());
            fall_q6 += i64::from(near.mean_q6(lit) - far.mean_q6(lit)) + (sloped >> 7);
            lever += far.mean_square(frame.centre) - near.mean_square(frame.centre);
            noise += (2 << 12) / near.len;
        }
        // Three standard deviations of the four means' sum.
        let least = i64::from(each) * i64::from(root(noise)) * 3;
        let bend = |fall_q6: i64| {
            (fall_q6 * 1_024 / i64::from(lever.max(1))).clamp(-MOST_BEND, MOST_BEND) as i32
        };
        if fall_q6.abs() <= least { 0 } else { bend(fall_q6) }
    }

    /// A window's sum without the room's light.
    fn taken_off(&self, sum: i32, half: i32) -> i32 {
        let level = i64::from(2 * half + 1) * i64::from(self.level_q6);
        let bent = (i64::from(self.bend_q16) * i64::from(squares(half))) >> 10;
        ((i64::from(sum) * 64 - level + bent) >> 6).clamp(-(1 << 23), (1 << 23) - 1) as i32
    }

    /// At `k` pixels from the centre without the bend, sixteenths; to a sixteenth or so.
    #[inline]
    pub fn at_on_line(&self, k: i32) -> i32 {
        (self.level_q6 >> 6) + (((self.slope_q12 >> 4) * k) >> 8)
    }

    /// At `k` pixels from the centre, sixteenths; to a sixteenth or so.
    #[inline]
    pub fn at(&self, k: i32) -> i32 {
        // A slope is at most 65 535 * 4096 / 8: 65 535 * 256 / 8 * 255 < 2^30. A bend is at most 8
        // * 65 536, a window's k 60: 8 * 65 536 * 3 600 < 2^31.
        let straight = self.at_on_line(k);
        if self.bend_q16 == 0 {
            return straight;
        }
        let k = k.clamp(-WIDEST, WIDEST);
        straight - ((self.bend_q16 * (k * k)) >> 16)
    }
}

/// What a window comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fit {
    /// The window.
    pub frame: Frame,
    /// The unlit line under it.
    pub unlit: Unlit,
    /// Light above it: the sum over the window, sixteenths. Above zero.
    pub light: i32,
    /// From the window's centre to the centroid, 1/256 pixel.
    pub shift: SubPixels,
    /// Second moment about the centroid, 1/256 of a pixel squared.
    pub variance_q8: i32,
}

/// Sum of k^2 from -half to half.
pub const fn squares(half: i32) -> i32 {
    half * (half + 1) * (2 * half + 1) / 3
}

/// `n / d` in 1/256, rounded; `d` above zero and below 2^23, as a window's light is.
fn ratio_q8(n: i32, d: i32) -> i32 {
    let d = d.max(1);
    let (whole, rest) = (n / d, n % d);
    whole.saturating_mul(256).saturating_add((rest * 256 + rest.signum() * (d / 2)) / d)
}

/// Sum of k^4 from -half to half.
fn fourth_powers(half: i32) -> i64 {
    let half = i64::from(half);
    half * (half + 1) * (2 * half + 1) * (3 * half * half + 3 * half - 1) / 15
}

/// The same for a sum of squares: both are shortened until it has 23 bits. A window's squares are
/// at most 3 600, so the light keeps 11 bits at least, and the mean is right to a two-thousandth.
fn mean_q8(n: i64, d: i32) -> i32 {
    let excess = 41_u32.saturating_sub(n.unsigned_abs().leading_zeros());
    ratio_q8((n >> excess) as i32, d >> excess)
}

/// Level above which a window's light counts as light at all: a sixteenth a pixel.
fn least_light(half: i32) -> i32 {
    2 * half + 1
}

impl Fit {
    /// Of a frame; `None` where there is no light above the unlit line.
    #[inline(never)]
    pub fn of(lit: &Lit, frame: Frame, each: i32) -> Option<Self> {
        let unlit = Unlit::beside(lit, &frame, each);
        let half = frame.half.clamp(1, WIDEST);
        let sum = lit.sum(frame.centre - half, frame.centre + half);
        let (mut first, mut second) = (0_i32, 0_i32);
        for (k, y) in (-half..).zip(lit.pixels(frame.centre - half, frame.centre + half)) {
            let moment = k * i32::from(*y);
            first += moment;
            // 60 * 60 * 65 535 < 2^28; a sixteenth of it, 121 times, < 2^31.
            second += (k * moment) >> 4;
        }
        let light = unlit.taken_off(sum, half);
        if light < least_light(half) {
            return None;
        }
        // Level and bend have no first moment about the centre, slope no second.
        let spread = squares(half);
        let first = first - ((i64::from(unlit.slope_q12) * i64::from(spread)) >> 12) as i32;
        let bent = (i64::from(unlit.bend_q16) * fourth_powers(half)) >> 16;
        let second = (i64::from(second) << 4)
            - ((i64::from(unlit.level_q6) * i64::from(spread)) >> 6)
            + bent;
        let shift = ratio_q8(first, light);
        // Within 2^12 pixels squared, or it is no window's.
        let about_centre = mean_q8(second, light).clamp(-(1 << 20), 1 << 20);
        let step = shift.clamp(-(WIDEST << 8), WIDEST << 8);
        Some(Self {
            frame,
            unlit,
            light,
            shift: SubPixels(shift),
            variance_q8: about_centre - ((step * step) >> 8),
        })
    }

    /// The centroid's place.
    pub fn middle(&self) -> SubPixels {
        SubPixels(self.frame.centre * 256 + self.shift.0)
    }

    /// Where a window of `half` around the same centre, on the same unlit line, would find its own
    /// middle if it could stand between pixels. A window that cuts the sheet at its edges
    /// follows only part of a shift; what it loses is the light at its edges times its width.
    /// `None`: it holds nothing but what is at its edges.
    #[inline(never)]
    pub fn centred(&self, lit: &Lit, half: i32) -> Option<SubPixels> {
        let half = half.clamp(1, WIDEST);
        let centre = self.frame.centre;
        let sum = lit.sum(centre - half, centre + half);
        let first: i32 = (-half..)
            .zip(lit.pixels(centre - half, centre + half))
            .map(|(k, y)| k * i32::from(*y))
            .sum();
        let first =
            first - ((i64::from(self.unlit.slope_q12) * i64::from(squares(half))) >> 12) as i32;
        let light = self.unlit.taken_off(sum, half);
        let edges = lit.at(centre - half)
            + lit.at(centre - half - 1)
            + lit.at(centre + half)
            + lit.at(centre + half + 1);
        let at_edges = edges / 4 - (self.unlit.at(-half) + self.unlit.at(half)) / 2;
        let follows = light - (2 * half + 1) * at_edges;
        (follows > light / 8 && follows >= least_light(half))
            .then(|| SubPixels(centre * 256 + ratio_q8(first, follows)))
    }

    /// Standard deviation of a first moment over `half` that pixels of standard deviation `each`
    /// (sixteenths) give the middle.
    pub fn scatter(&self, each: i32, half: i32) -> SubPixels {
        // 65 535 * 384 * 64 < 2^31; sqrt(147 620) = 384.
        let moment = each.clamp(0, 65_535) * root(squares(half.clamp(1, WIDEST)));
        SubPixels((i64::from(moment) * 256 / i64::from(self.light.max(1))).min(1 << 20) as i32)
    }

    /// What light that is odd about the sheet, beyond a slope, does to the middle. If the flanks'
    /// own slopes lead from one to the other there is none. Else the difference is taken for a
    /// shadow's edge in the worst place, the middle, where an edge of height `D` pulls by `D
    /// W^2 / 4` over the light.
    #[inline(never)]
    pub fn room_pull(&self, lit: &Lit, each: i32) -> Pull {
        let Frame { left, right, half, .. } = self.frame;
        let apart = right.twice_middle() - left.twice_middle();
        let within = (left.slope_q12(lit) / 2).saturating_add(right.slope_q12(lit) / 2);
        let beyond = i64::from(self.unlit.slope_q12.saturating_sub(within)) * i64::from(apart);
        // From half pixels and 1/4096 to sixteenths.
        let edge = (beyond >> 13).clamp(-65_535, 65_535) as i32;
        let pull = |edge: i32| {
            let moment = i64::from(edge) * i64::from(half * half) * 64;
            SubPixels((moment / i64::from(self.light.max(1))).clamp(-(1 << 20), 1 << 20) as i32)
        };
        // A flank's slope scatters by sqrt(12 / len^3) of a pixel, the mean of two by half the root
        // of their sum.
        let cubed = |span: Span| (3 << 20) / (span.len * span.len * span.len).max(1);
        let slopes = root(cubed(left) + cubed(right));
        let scatter = (i64::from(each) * i64::from(apart) * i64::from(slopes)) >> 11;
        Pull { by: pull(edge), scatter: pull(scatter.min(65_535) as i32) }
    }
}
