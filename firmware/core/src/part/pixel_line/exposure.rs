//! The exposure, from scan to scan: long enough for the light, short enough for the converter's range.
//!
//! Too bright shows in one scan and is answered in the next. Too dim does not: an emitter that pulses leaves scans out, and
//! one that dims when nobody touches comes back. So the exposure grows only by the brightest of [`WINDOW`] scans, and where
//! it once was too long it does not go again for a while; each time that it proves too long soon after, twice as long. So it
//! comes to rest at whatever the light does. No clock and no chance: the same scans give the same exposures.

use super::EXPOSURES_US;
use skimgauge_shared::units::Microseconds;

/// Scans before it may grow: a fifth of a second, two beats of 100 Hz light at 90 scans a second.
pub const WINDOW: u8 = 18;

/// Of the range between dark and stop: above this too bright, below that too dim, and what is aimed at, in 1/128.
const TOO_BRIGHT: u32 = 112;
const TOO_DIM: u32 = 52;
const AIM: u32 = 80;

/// For so long the exposure does not grow again to where it was too long, at first and at most.
const FIRST_CAUTION: Microseconds = Microseconds(1_000_000);
const MOST_CAUTION: Microseconds = Microseconds(64_000_000);

/// The control.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Control {
    dark: u16,
    stop: u16,
    exposure_us: u32,
    /// The brightest scan of this window, codes above dark, and how many there were.
    brightest: u32,
    scans: u8,
    /// The exposure stays at or below this until then.
    limit_us: u32,
    limited_until: Microseconds,
    caution: Microseconds,
}

impl Control {
    /// Longest first: down it finds its way in a few scans.
    pub fn new(dark: u16, stop: u16) -> Self {
        Self {
            dark,
            stop,
            exposure_us: EXPOSURES_US.1,
            brightest: 0,
            scans: 0,
            limit_us: EXPOSURES_US.1,
            limited_until: Microseconds(0),
            caution: FIRST_CAUTION,
        }
    }

    /// For the next scan, us.
    pub fn exposure_us(&self) -> u32 {
        self.exposure_us
    }

    /// A scan, its own exposure and its brightest pixel's code.
    pub fn on(&mut self, at: Microseconds, exposure: Microseconds, brightest: u16) {
        let (least, most) = EXPOSURES_US;
        let exposure_us = u32::try_from(exposure.0).unwrap_or(most).clamp(1, 2 * most);
        // Codes are 12 bits: times 128 times an exposure still fits.
        let range = u32::from(self.stop.saturating_sub(self.dark).clamp(1, 4_095));
        let light = u32::from(brightest.saturating_sub(self.dark)).min(4_095);
        let too_bright = brightest >= self.stop || light * 128 > range * TOO_BRIGHT;
        if too_bright {
            let better = if brightest >= self.stop { exposure_us / 2 } else { exposure_us * AIM / 128 * range / light };
            if better < self.exposure_us {
                self.shorten(at, exposure_us, better.max(least));
            }
            return;
        }
        // A scan that was shorter than what is asked for now says nothing of what is asked for now.
        if exposure_us * 8 < self.exposure_us * 7 {
            return;
        }
        self.brightest = self.brightest.max(light);
        self.scans += 1;
        if self.scans >= WINDOW {
            if self.brightest * 128 < range * TOO_DIM {
                self.lengthen(at, range);
            }
            (self.brightest, self.scans) = (0, 0);
        }
    }

    fn shorten(&mut self, at: Microseconds, was_us: u32, better_us: u32) {
        // Too long again as soon as it was allowed to be: be twice as careful. Long after: begin anew.
        let since = at.since(self.limited_until);
        if self.limited_until != Microseconds(0) && at >= self.limited_until {
            let again = since <= Microseconds(4 * self.caution.0);
            self.caution = if again { Microseconds(2 * self.caution.0).min(MOST_CAUTION) } else { FIRST_CAUTION };
        }
        let limit = (was_us * 7 / 8).max(better_us);
        self.limit_us = if at < self.limited_until { limit.min(self.limit_us) } else { limit };
        self.limited_until = at.after(self.caution);
        self.exposure_us = better_us;
        (self.brightest, self.scans) = (0, 0);
    }

    fn lengthen(&mut self, at: Microseconds, range: u32) {
        // In the dark sixteen times at a stride, else to the aim.
        let longer = if self.brightest * 16 < range {
            self.exposure_us * 16
        } else {
            self.exposure_us * AIM / 128 * range / self.brightest
        };
        let limit = if at < self.limited_until { self.limit_us } else { EXPOSURES_US.1 };
        self.exposure_us = longer.min(limit).min(EXPOSURES_US.1).max(self.exposure_us);
    }
}
