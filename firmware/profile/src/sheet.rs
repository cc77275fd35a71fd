//! Whether what stands out is a sheet, where its middle is, and what else is there.
//!
//! Over 400 lines: one judgement of one place, whose steps share its window and what is beside it.

use super::line::Lit;
use super::search::{self, MARGIN};
use super::window::{Fit, Frame, LONGEST, Span, Unlit, WIDEST, squares};
use super::{
    Fault, PIXELS, Pixels, Profile, Pull, SecondPeak, Sixteenths, SubPixels, Wanted, root,
};
use skimgauge_shared::units::Micrometres;

/// The last pixel.
const LAST: i32 = PIXELS as i32 - 1;
/// So many places are looked at before there is no light.
const PLACES: usize = 2;
/// A window stands still after two or three steps; what still moves after these is no sheet.
const STEPS: usize = 7;
/// After so many the window keeps its width, and only moves.
const STEPS_OF_WIDTH: usize = 4;
/// The least flank.
const SHORTEST: i32 = 4;
/// The window's centre is this near to the sheet's middle, 1/256 pixel: what a window of four
/// standard deviations leaves out on one side is then below 0.001 pixel.
const CENTRED: i32 = 160;
/// Below this height there is no telling light from noise: 16 codes (13 mV), in sixteenths.
const LEAST_HEIGHT: i32 = 16 * 16;
/// And so many times the scatter from pixel to pixel.
const STANDS_OUT: i32 = 10;
/// Thicker than any emitter's sheet by a quarter: a lamp's glow.
const NO_SHEET: Micrometres = Micrometres(Wanted::ANY.widest.0 / 4 * 5);
/// A middle that scatters more than this is none: 25 um.
const MOST_SCATTER: SubPixels = SubPixels::from_micrometres(25);
/// Nor is one of which the flanks cannot say to this that the room leaves it alone (standard
/// deviation): 50 um.
const MOST_UNSURE: SubPixels = SubPixels::from_micrometres(50);
/// Pixel inequality under the room's light may give this standard deviation: 6 um.
const MOST_INEQUALITY: SubPixels = SubPixels::from_micrometres(6);
/// A single scan may show this much pull, beyond three times its scatter: 12 um. What is below is
/// for [`super::doubt`].
const MOST_PULL: SubPixels = SubPixels::from_micrometres(12);
/// Whole sheet and crown may differ by this, beyond three times the scatter: 6 um. Where the two
/// differ by less, two sheets at least one and a half standard deviations apart pull by less than
/// 20 um.
const MOST_LOPSIDED: SubPixels = SubPixels::from_micrometres(6);

/// What became of a place.
enum Place {
    Sheet(Profile),
    Fault(Fault),
    /// It stands out by so much, but not as a sheet does: a shadow's edge, a lamp's glow.
    Other(i32),
}

/// Looks for a sheet in a line of equal pixels that scatter by `scatter` sixteenths.
#[inline(never)]
pub fn find(lit: &Lit, scatter: i32, pixels: &Pixels, wanted: &Wanted) -> Result<Profile, Fault> {
    let mut looked_at = [0; PLACES];
    let mut other_lights = 0;
    let mut uneven = false;
    for k in 0..PLACES {
        let before = looked_at.get(..k).unwrap_or(&[]);
        let Some(at) = search::strongest(lit, scatter, before) else { break };
        let look = Look { lit, scatter, pixels, wanted };
        match look.around(at) {
            // What stood out more, and is no sheet, may be the sheet itself with a shadow across
            // it; then this one is its mirror image.
            Place::Sheet(profile) if other_lights * 4 > profile.height.0 => {
                return Err(Fault::UnevenRoomLight);
            }
            Place::Sheet(profile) => return Ok(profile),
            Place::Fault(fault) => return Err(fault),
            Place::Other(height) => {
                other_lights = other_lights.max(height);
                looked_at[k] = at;
                uneven |= look.is_peak(at, height);
            }
        }
    }
    Err(match search::rises_at_an_end(lit, scatter) {
        true => Fault::Cut,
        false if uneven => Fault::UnevenRoomLight,
        false => Fault::NoLight,
    })
}

/// Another peak beside the sheet.
#[derive(Debug, Clone, Copy)]
struct Beside {
    at: i32,
    /// Above the valley between the two.
    height: i32,
}

/// A first idea of a sheet: its centre and standard deviation (sixteenths of a pixel).
struct Rough {
    centre: i32,
    sigma_q4: i32,
    height: i32,
    /// Toward the first and the last pixel.
    beside: [Option<Beside>; 2],
}

impl Rough {
    /// From a centre to the nearest other peak, pixels.
    fn nearest(&self, centre: i32) -> Option<i32> {
        self.beside.iter().flatten().map(|beside| (beside.at - centre).abs()).min()
    }
}

/// What [`Look::extremes`] finds.
struct Extremes {
    high: i32,
    at: i32,
    low: i32,
}

struct Look<'a> {
    lit: &'a Lit,
    scatter: i32,
    pixels: &'a Pixels,
    wanted: &'a Wanted,
}

impl Look<'_> {
    /// Whether the light falls off to both sides of the brightest place near here, and not because it
    /// goes on falling: a sheet's does, with a shadow's edge across it; that of an edge alone, of a
    /// slope or of a glow does not.
    #[inline(never)]
    fn is_peak(&self, at: i32, height: i32) -> bool {
        const REACH: i32 = 13;
        // Beyond this even the thickest sheet has fallen to a quarter.
        const FALLEN: i32 = 20;
        let five = |i: i32| {
            let i = i.clamp(2, LAST - 2);
            self.lit.before(i + 3) - self.lit.before(i - 2)
        };
        let mut top = at;
        for i in at - REACH..=at + REACH {
            if five(i) > five(top) {
                top = i;
            }
        }
        let least = 5 * (height / 4).max(LEAST_HEIGHT + 6 * self.scatter);
        [-FALLEN, FALLEN].iter().all(|step| {
            let (near, far) = (five(top + step), five(top + 2 * step));
            five(top) - near - (near - far).max(0) > least
        })
    }

    fn around(&self, at: i32) -> Place {
        let rough = match self.rough(at) {
            Ok(rough) => rough,
            Err(place) => return place,
        };
        match self.settle(&rough) {
            Ok(fit) => self.judge(&rough, &fit),
            // Of what hardly stands out nothing is said.
            Err(Place::Fault(_)) if rough.height < STANDS_OUT * self.scatter => {
                Place::Other(rough.height)
            }
            Err(place) => place,
        }
    }

    /// Highest and lowest sum of three pixels above an unlit line whose zero is at `centre`,
    /// sixteenths, from one pixel to another as far as both neighbours are of the line, and where the
    /// highest is.
    #[inline(never)]
    fn extremes(&self, unlit: &Unlit, centre: i32, from: i32, to: i32) -> Extremes {
        let from = from.clamp(1, LAST - 1);
        let sums = self.lit.sums_between(from - 1, to.min(LAST - 1) + 2);
        let mut found = Extremes { high: i32::MIN, at: from, low: i32::MAX };
        let straight = unlit.bend_q16 == 0;
        for (i, [before, .., up_to]) in (from..).zip(sums.array_windows::<4>()) {
            let k = i - centre;
            let unlit = if straight { unlit.at_on_line(k) } else { unlit.at(k) };
            let above = (up_to - before) as i32 - 3 * unlit;
            if above > found.high {
                (found.high, found.at) = (above, i);
            }
            found.low = found.low.min(above);
        }
        found
    }

    /// Sum of three pixels above an unlit line whose zero is at `centre`, sixteenths. Over an end of
    /// the line the end counts for what is beyond.
    #[inline]
    fn three(&self, unlit: &Unlit, centre: i32, i: i32) -> i32 {
        let sum = if (1..LAST).contains(&i) {
            self.lit.before(i + 2) - self.lit.before(i - 1)
        } else {
            self.lit.at(i - 1) + self.lit.at(i) + self.lit.at(i + 1)
        };
        sum - 3 * unlit.at(i - centre)
    }

    /// Width at half height, on a line through what is at both sides of the place.
    #[inline(never)]
    fn rough(&self, at: i32) -> Result<Rough, Place> {
        let [left, right] = search::beside(at).map(|(from, to)| Span { from, len: to - from + 1 });
        let frame = Frame { centre: at, half: 8, left, right };
        let unlit = Unlit::straight(self.lit, &frame);
        let above = |i: i32| self.three(&unlit, at, i);
        let Extremes { high, at: top, .. } = self.extremes(&unlit, at, at - 8, at + 8);
        let height = high / 3;
        if height < (LEAST_HEIGHT / 2).max(STANDS_OUT / 2 * self.scatter) {
            return Err(Place::Other(height));
        }
        if !(MARGIN..=LAST - MARGIN).contains(&top) && height > STANDS_OUT * self.scatter {
            return Err(Place::Fault(Fault::Cut));
        }
        // A shadow's edge lies as much below a line from side to side as above it; a sheet, near
        // its top, nowhere.
        let lowest = self.extremes(&unlit, at, at - 13, at + 13).low;
        if -lowest > height * 3 / 8 + 6 * self.scatter {
            return Err(Place::Other(height));
        }
        let reach = |step: i32| {
            let mut k = 1;
            while k <= WIDEST && above(top + step * k) >= height * 3 / 2 {
                k += 1;
            }
            k
        };
        let (left, right) = (reach(-1), reach(1));
        if top - left < 0 || top + right > LAST {
            return Err(Place::Fault(Fault::Cut));
        }
        if left > WIDEST || right > WIDEST {
            return Err(Place::Other(height));
        }
        let centre = top + (right - left) / 2;
        // Full width at half height is 2.355 standard deviations of a bell, up to 3.4 of a flat
        // top: between the two.
        let sigma_q4 = (left + right) * 6;
        let mut rough = Rough { centre, sigma_q4, height, beside: [None, None] };
        rough.beside = [self.beside(&rough, top - left, -1), self.beside(&rough, top + right, 1)];
        Ok(rough)
    }

    /// Walks outward from where the sheet has fallen to half and looks for light that rises and
    /// falls again as a sheet does. A shadow's edge rises and stays, a slope falls or rises
    /// throughout, a glow takes longer.
    #[inline(never)]
    fn beside(&self, rough: &Rough, from: i32, step: i32) -> Option<Beside> {
        // Sums of five pixels scatter by 2.2 times one, the highest of a hundred above the lowest
        // by five times that; nine times is beyond chance.
        let least = 5 * (rough.height / 64).max(4 * self.scatter);
        let widest = rough.sigma_q4 / 3 + 4;
        let five = |i: i32| self.lit.before(i + 3) - self.lit.before(i - 2);
        let mut low = five(from);
        // Where it began to rise, and its top.
        let mut rise: Option<(i32, i32, i32)> = None;
        // The thinnest sheet is three of these wide where it is half as bright.
        let stride = 2 * step;
        let mut i = from;
        while (2..=LAST - 2).contains(&i) {
            let here = five(i);
            match rise {
                None if here - low > least => rise = Some((i, i, here)),
                None => low = low.min(here),
                Some((rose, _, high)) if here > high => rise = Some((rose, i, here)),
                Some((rose, top, high)) if here < low + (high - low) / 2 => {
                    if (i - rose).abs() <= widest {
                        return Some(Beside { at: top, height: (high - low) / 5 });
                    }
                    (low, rise) = (here, None);
                }
                Some(_) => {}
            }
            i += stride;
        }
        // What rises up to the line's end is no peak; if it is near enough to matter the flanks
        // show it.
        None
    }

    /// Centres the window on its own middle, as wide as four standard deviations on either side.
    #[inline(never)]
    fn settle(&self, rough: &Rough) -> Result<Fit, Place> {
        let (mut centre, mut sigma_q4) = (rough.centre, rough.sigma_q4);
        let mut half = self.half(centre, sigma_q4, rough);
        for step in 0..STEPS {
            let frame = self.frame(centre, half, sigma_q4, rough)?;
            let Some(fit) = Fit::of(self.lit, frame, self.scatter) else { break };
            if fit.variance_q8 < 256 || fit.shift.0.abs() > half << 7 {
                break;
            }
            // In weak light a wider window finds a wider sheet, and so on: what the half height
            // said bounds it.
            sigma_q4 = root(fit.variance_q8).clamp(rough.sigma_q4 / 2, rough.sigma_q4 * 13 / 8);
            let moved = (fit.shift.0 + 128) >> 8;
            let wanted = self.half(centre + moved, sigma_q4, rough);
            let fits = (wanted - half).abs() <= 1 || step >= STEPS_OF_WIDTH;
            if fit.shift.0.abs() <= CENTRED && fits {
                return self
                    .clear(centre, sigma_q4, rough)
                    .map_or(Ok(fit), |fault| Err(Place::Fault(fault)));
            }
            if fit.shift.0.abs() > CENTRED {
                centre += moved;
            }
            if !fits {
                half = wanted;
            }
        }
        // What never stands still may be two sheets that pull at one another.
        Err(match self.clear(centre, sigma_q4, rough) {
            Some(Fault::TwoSheets) => Place::Fault(Fault::TwoSheets),
            _ => Place::Other(rough.height),
        })
    }

    /// Pixels from a centre to the nearer end, less the least flank.
    fn free(centre: i32) -> i32 {
        (centre.min(LAST - centre) - SHORTEST).max(0)
    }

    /// How far the window reaches to either side: four standard deviations, or as far as it may.
    fn half(&self, centre: i32, sigma_q4: i32, rough: &Rough) -> i32 {
        let nearest = rough.nearest(centre).map_or(WIDEST, |nearest| nearest / 2);
        ((sigma_q4 >> 2) + 1).min(WIDEST).min(nearest).min(Self::free(centre)).max(6)
    }

    /// What is too near to the sheet: an end of the line, or another sheet.
    fn clear(&self, centre: i32, sigma_q4: i32, rough: &Rough) -> Option<Fault> {
        // Nearer than five standard deviations the other's foot pulls by more than is allowed.
        if rough.nearest(centre).is_some_and(|nearest| nearest * 16 < 5 * sigma_q4) {
            Some(Fault::TwoSheets)
        } else {
            (Self::free(centre) * 16 < 3 * sigma_q4).then_some(Fault::Cut)
        }
    }

    #[inline(never)]
    fn frame(&self, centre: i32, half: i32, sigma_q4: i32, rough: &Rough) -> Result<Frame, Place> {
        let [left, right] = [(-1, rough.beside[0]), (1, rough.beside[1])]
            .map(|(step, beside)| self.flank(centre, half, sigma_q4, step, beside));
        match (left, right) {
            (Some(left), Some(right)) => Ok(Frame { centre, half, left, right }),
            _ if rough.beside.iter().any(Option::is_some) => Err(Place::Fault(Fault::TwoSheets)),
            _ => Err(Place::Fault(Fault::Cut)),
        }
    }

    /// Unlit pixels on one side: next to the window, or past the sheet that is there.
    fn flank(
        &self,
        centre: i32,
        half: i32,
        sigma_q4: i32,
        step: i32,
        beside: Option<Beside>,
    ) -> Option<Span> {
        let edge = if step < 0 { centre } else { LAST - centre };
        let longest = half.clamp(8, LONGEST);
        let span = |near: i32, far: i32| {
            let len = (far.min(edge) - near + 1).min(longest);
            let from = if step < 0 { centre - near - len + 1 } else { centre + near };
            (len >= SHORTEST).then_some(Span { from, len })
        };
        match beside {
            None => span(half + 1, edge),
            Some(beside) => {
                let apart = (beside.at - centre).abs();
                let foot = (sigma_q4 * 7) >> 5;
                let between = span(half + 1, apart - foot).filter(|span| span.len >= 6);
                between.or_else(|| span(apart + foot, edge))
            }
        }
    }

    /// Holds the settled window against what a sheet is.
    #[inline(never)]
    fn judge(&self, rough: &Rough, fit: &Fit) -> Place {
        let half = fit.frame.half;
        let (height, stands_out) = self.height(fit);
        if !stands_out {
            return Place::Other(height);
        }
        let sigma_q4 = root(fit.variance_q8);
        let width = Micrometres((sigma_q4 * 127 + 4) / 8);
        let unsure = self.width_scatter(fit, sigma_q4);
        if width.0 > NO_SHEET.0 + 2 * unsure {
            return Place::Other(height);
        }
        if width.0 > self.wanted.widest.0 + 2 * unsure {
            return Place::Fault(Fault::Wider);
        }
        if width.0 < self.wanted.narrowest.0 - 2 * unsure {
            return Place::Fault(Fault::Narrower);
        }
        let scatter = fit.scatter(self.scatter, half);
        let room = Sixteenths((fit.unlit.level_q6 >> 6) - i32::from(self.pixels.dark));
        let unequal = (i64::from(room.0.max(0)) * i64::from(self.pixels.residual)) >> 16;
        if fit.scatter(unequal as i32, half) > MOST_INEQUALITY {
            return Place::Fault(Fault::TooMuchRoomLight);
        }
        if scatter > MOST_SCATTER {
            return Place::Fault(Fault::TooLittleLight);
        }
        let second = match self.second(rough, height) {
            Ok(second) => second,
            Err(fault) => return Place::Fault(fault),
        };
        let middle =
            if half * 4 + 4 < sigma_q4 { fit.centred(self.lit, half) } else { Some(fit.middle()) };
        let crown = fit.centred(self.lit, (sigma_q4 + 4) >> 3);
        let (Some(middle), Some(crown)) = (middle, crown) else {
            return Place::Fault(Fault::TwoSheets);
        };
        let room_pull = fit.room_pull(self.lit, self.scatter);
        let lopsided = Pull { by: SubPixels(middle.0 - crown.0), scatter };
        if room_pull.scatter > MOST_UNSURE {
            // Short flanks say little; with long ones it is the light that is missing.
            let short = fit.frame.left.len.min(fit.frame.right.len) < half.clamp(8, LONGEST);
            return Place::Fault(if short { Fault::Cut } else { Fault::TooLittleLight });
        }
        // A bend of a twelfth of the sheet's height over the window is no smooth light's, whatever
        // the flanks come to.
        let bent = (i64::from(fit.unlit.bend_q16) * i64::from(half * half)) >> 16;
        if beyond(room_pull, MOST_PULL) || bent.abs() * 12 > i64::from(height) {
            return Place::Fault(Fault::UnevenRoomLight);
        }
        if beyond(lopsided, MOST_LOPSIDED) {
            return Place::Fault(Fault::TwoSheets);
        }
        Place::Sheet(Profile {
            middle,
            width,
            height: Sixteenths(height),
            room,
            second,
            scatter,
            room_pull,
            lopsided,
        })
    }

    /// The window's height over the unlit level, and whether a sheet can stand so.
    #[inline(never)]
    fn height(&self, fit: &Fit) -> (i32, bool) {
        let Frame { centre, half, .. } = fit.frame;
        let Extremes { high, low: lowest, .. } =
            self.extremes(&fit.unlit, centre, centre - half + 1, centre + half - 1);
        // A shadow's edge lies as much below the line from flank to flank as above it.
        let height = high / 3;
        let least = LEAST_HEIGHT.max(STANDS_OUT * self.scatter);
        (height, height >= least && -lowest <= height / 2 + 9 * self.scatter)
    }

    /// Standard deviation of the width from scan to scan, um.
    fn width_scatter(&self, fit: &Fit, sigma_q4: i32) -> i32 {
        let half = fit.frame.half;
        // sum(k^4) is 0.4 half^5; 16 sqrt(0.4 half) = sqrt(102 half) <= 79. In 1/16 pixel squared.
        let fourth = i64::from(self.scatter) * i64::from(half * half) * i64::from(root(102 * half));
        let variance_q4 = (fourth / i64::from(fit.light.max(1))).min(1 << 16) as i32;
        // Width is 4 sigma, d(sigma) is d(variance) / (2 sigma): 2 d(variance) / sigma pixels of
        // 63.5 um.
        variance_q4 * 127 / sigma_q4.max(1)
    }

    /// A second peak far enough away to read past: a mirror image is weaker than the sheet, and
    /// nearer to the board.
    fn second(&self, rough: &Rough, height: i32) -> Result<Option<SecondPeak>, Fault> {
        // As bright as the sheet: either may be the sheet.
        if rough.beside.iter().flatten().any(|beside| beside.height * 4 >= height * 3) {
            return Err(Fault::TwoSheets);
        }
        let [first, last] = rough.beside;
        let image = if self.wanted.first_pixel_at_board { first.or(last) } else { last.or(first) };
        Ok(image.map(|image| SecondPeak {
            at: SubPixels(image.at * 256),
            height: Sixteenths(image.height),
        }))
    }
}

fn beyond(pull: Pull, most: SubPixels) -> bool {
    pull.by.0.abs() > most.0 + 3 * pull.scatter.0
}

const _: () = assert!(squares(WIDEST) == 147_620);
