//! The sheet's profile from one scan of the line of pixels.
//!
//! [`look`] takes one scan, its exposure and the pixels' table, and says where the sheet's middle
//! stands, how thick and how bright it is, what light is there besides, and whether a second sheet
//! comes back from a glossy board; or, by name, why it cannot say so. Integers only, no division
//! per pixel, nothing kept from scan to scan but a fingerprint.
//!
//! | module | subject |
//! | --- | --- |
//! | [`mod@line`] | the pixels' table; dead, stuck and frozen pixels; scatter from pixel to pixel |
//! | [`search`] | where a sheet may be: what stands out from its own surroundings |
//! | [`window`] | sums over a window and its flanks: middle, width, unlit level |
//! | [`sheet`] | whether what was found is a sheet, and what else is there |
//! | [`doubt`] | what only many scans can tell: whether the room's light pulls the middle |
//!
//! # The room's light
//! The unlit level is a straight line through the pixels on either side of the window, taken anew
//! in each scan, so level and slope of the room's light are gone from the sums altogether. Its
//! curvature is even about the window's middle, which is the sheet's own, and an even error has no
//! first moment: it does not pull. What is left is light that is odd about the sheet beyond a
//! slope: a shadow's edge. It shows twice: the slope inside the flanks is not that from flank to
//! flank ([`Profile::room_pull`]), and the middle of the crown is not that of the whole
//! ([`Profile::lopsided`]).
//!
//! # Error of the arithmetic
//! Against the same sums in floating point the middle is wrong by at most `1/512 + 0.8 W^2 / S`
//! pixels, `W` the window's half width in pixels and `S` the sheet's light in it in sixteenths of a
//! code (rounding of each pixel by its gain, to half a sixteenth, all with the worst sign; then the
//! last digit, 1/256 pixel). At a peak of 400 codes or more that is below 0.013 pixel, 0.8 um, for
//! sheets of up to 3 mm. Held by `arithmetic_keeps_its_bound` in `firmware/core/tests/profile.rs`.
//!
//! # What one profile cannot tell
//! A line of light that is no sheet, such as sun through a blind or a lamp mirrored in a glossy
//! board, has a profile like a sheet's. Neither can a sheet be told from its own mirror image where
//! it has met the board on the way, nor two sheets nearer to each other than about half their
//! thickness, which stand as one. Whoever judges readings has to switch the emitter off to see.
//!
//! # Which sums fit
//! A pixel is at most 65 535 sixteenths, a window at most 121 pixels, a flank at most 24 and its
//! pixels at most 255 away: `121 * 65 535 * 256 < 2^31` (sum with eight binary places), `60 * 61 *
//! 65 535 < 2^28` (first moment), `24 * 24 * 65 535 < 2^26` (flank against flank). Of second moments
//! a sixteenth is added up: `60 * 60 * 65 535 / 16 * 121 < 2^31`.
//!
//! # What it costs
//! Any span's sum is the difference of two of a table that one pass makes; that is what search, flanks
//! and second sheets go by. The figures are measured on the emulated chip.
//!
//! A crate of its own: the board's image is built for size, and this for speed.
#![cfg_attr(not(test), no_std)]
#![warn(
    unreachable_pub,
    clippy::self_named_module_files,
    clippy::too_many_lines,
    clippy::wildcard_imports
)]

pub mod doubt;
pub mod line;
pub mod search;
pub mod sheet;
pub mod window;

use line::{Fingerprint, Lit};
pub use skimgauge_shared::light::Fault;
pub use skimgauge_shared::pixels::{PIXELS, Pixels, Scan};
use skimgauge_shared::units::{Micrometres, Microseconds};

/// From pixel to pixel, nanometres.
pub const PITCH_NM: i32 = 63_500;

/// A place or a distance along the line, 1/256 of a pixel; a place counts from the middle of the
/// first pixel.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SubPixels(pub i32);

impl SubPixels {
    /// Beyond four lines' lengths nothing is a place; it keeps the conversion inside 32 bits.
    const LIMIT: i32 = 4 * 256 * PIXELS as i32;

    /// In micrometres, rounded to the nearest: 63.5 um a pixel is 635/2560 um a step.
    pub fn micrometres(self) -> Micrometres {
        Micrometres((self.0.clamp(-Self::LIMIT, Self::LIMIT) * 635 + 1_280).div_euclid(2_560))
    }

    /// The nearest step to a number of micrometres.
    pub const fn from_micrometres(um: i32) -> Self {
        Self((um * 512 + 63).div_euclid(127))
    }
}

/// Converter codes in sixteenths (with the RP2040's 3.3 V: 50 uV each).
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sixteenths(pub i32);

impl Sixteenths {
    /// Whole codes, rounded.
    pub fn codes(self) -> i32 {
        (self.0 + 8) >> 4
    }
}

/// A second sheet, far enough from the first to read past it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SecondPeak {
    /// Where, to a pixel or so.
    pub at: SubPixels,
    /// Its peak above the unlit level.
    pub height: Sixteenths,
}

/// What one scan shows of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Profile {
    /// The sheet's middle: the centroid of a window centred on it.
    pub middle: SubPixels,
    /// Four standard deviations of the profile: D4sigma of ISO 11146-1.
    pub width: Micrometres,
    /// Peak above the unlit level.
    pub height: Sixteenths,
    /// The room's light at the sheet: unlit level above the pixels' level in the dark.
    pub room: Sixteenths,
    /// A second sheet.
    pub second: Option<SecondPeak>,
    /// Standard deviation of `middle` from scan to scan, from this scan's own scatter from pixel
    /// to pixel.
    pub scatter: SubPixels,
    /// How far the room's light may pull the middle, from the flanks.
    pub room_pull: Pull,
    /// How far the whole sheet's middle stands from that of its crown.
    pub lopsided: Pull,
}

/// An error of the middle that a scan can only estimate.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pull {
    /// Estimate.
    pub by: SubPixels,
    /// Its standard deviation from scan to scan.
    pub scatter: SubPixels,
}

/// What a scan shows, sheet or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Seen {
    /// The sheet, or why there is none.
    pub sheet: Result<Profile, Fault>,
    /// Unlit level of the whole line above the dark: the room's light where no sheet is.
    pub room: Sixteenths,
    /// The brightest pixel that has a neighbour as bright, as it came from the converter: what the
    /// exposure is set by.
    pub brightest: u16,
    /// The pixel that stands out, with [`Fault::BadPixels`].
    pub bad_pixel: Option<u8>,
    /// To hold the next scan against.
    pub fingerprint: Fingerprint,
}

/// Which sheets are this emitter's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Wanted {
    /// Least width.
    pub narrowest: Micrometres,
    /// Greatest width.
    pub widest: Micrometres,
    /// Whether the first pixel is the one nearest to the board: a mirrored sheet stands nearer to
    /// the board than the sheet.
    pub first_pixel_at_board: bool,
}

impl Wanted {
    /// Any emitter: sheets of 0.8 mm to 3 mm, a seventh less and more.
    pub const ANY: Self = Self {
        narrowest: Micrometres(690),
        widest: Micrometres(3_430),
        first_pixel_at_board: true,
    };

    /// The emitter whose sheet was found to be so thick where the eye stands: a seventh less and
    /// more.
    pub fn of(width: Micrometres) -> Self {
        let width = width.0.clamp(0, 16_000);
        Self {
            narrowest: Micrometres(width * 6 / 7),
            widest: Micrometres(width * 8 / 7),
            ..Self::ANY
        }
    }
}

/// Square root, rounded down; of what is below zero, zero. Bit by bit: the library's has a table and
/// a division that the head's core does not have.
#[inline(never)]
pub fn root(square: i32) -> i32 {
    let (mut left, mut found, mut bit) = (square.max(0), 0, 1 << 30);
    while bit != 0 {
        if left >= found + bit {
            left -= found + bit;
            found = (found >> 1) + bit;
        } else {
            found >>= 1;
        }
        bit >>= 2;
    }
    found
}

/// Looks at one scan. `exposure` is `None` where it is not known; `before` is the fingerprint of
/// the scan before.
#[inline(never)]
pub fn look(
    scan: &Scan,
    exposure: Option<Microseconds>,
    before: Option<Fingerprint>,
    pixels: &Pixels,
    wanted: &Wanted,
) -> Seen {
    let mut lit = Lit::dark();
    lit.fill(scan, pixels);
    let lit = &lit;
    let mut seen = Seen {
        sheet: Err(Fault::NoLight),
        room: Sixteenths(search::unlit_level(lit) - i32::from(pixels.dark)),
        brightest: lit.brightest,
        bad_pixel: None,
        fingerprint: lit.fingerprint,
    };
    seen.sheet = if exposure.is_none() {
        Err(Fault::ExposureUnknown)
    } else if seen.brightest >= pixels.stop {
        // Three quarters of the stop without the sheet leave no room for one.
        let full = seen.room.0 >= (i32::from(pixels.stop) * 16 - i32::from(pixels.dark)) * 3 / 4;
        Err(if full { Fault::TooMuchRoomLight } else { Fault::TooMuchLight })
    } else if before == Some(seen.fingerprint) {
        Err(Fault::Frozen)
    } else {
        let health = line::health(lit, pixels);
        seen.bad_pixel = health.stands_out;
        match (lit.usable, health.stands_out) {
            (true, None) => sheet::find(lit, health.scatter, pixels, wanted),
            _ => Err(Fault::BadPixels),
        }
    };
    seen
}

#[cfg(test)]
mod tests {
    use super::root;

    #[test]
    fn a_root_is_the_librarys() {
        let some = (0..2_000).chain((1..46_340).flat_map(|n| [n * n - 1, n * n, n * n + 1]));
        for square in some.chain([i32::MAX, i32::MAX - 1]) {
            assert_eq!(root(square), square.isqrt(), "{square}");
        }
        assert_eq!((root(-1), root(i32::MIN)), (0, 0));
    }
}
