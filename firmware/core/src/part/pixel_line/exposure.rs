//! The exposure, from scan to scan: long enough for the light, short enough for the converter's
//! range.
//!
//! Too bright shows in one scan and is answered in the next. Too dim does not: an emitter that
//! pulses leaves scans out, and one that dims when nobody touches comes back. So the exposure grows
//! only by the brightest of [`WINDOW`] scans, and of more of them each time that this was rash;
//! below an exposure that was too long it goes halfway at most, and comes to rest; and it tries a
//! longer one again only after a while, one step, from which it comes straight back if it was
//! wrong, and then waits four times as long. Dark at rest may mean that the scans keep step with
//! the pulses and fall between them: then they are to be shifted. No clock and no chance: the same
//! scans give the same exposures.

use super::EXPOSURES_US;
use crate::profile::root;
use skimgauge_shared::units::Microseconds;

/// Scans before it may grow: a fifth of a second, two beats of 100 Hz light at 90 scans a second.
pub const WINDOW: u8 = 18;

/// Of the range between dark and stop: above this too bright, below that too dim, and what is aimed
/// at, in 1/128.
const TOO_BRIGHT: u32 = 112;
const TOO_DIM: u32 = 48;
const AIM: u32 = 80;

/// For so long an exposure that was too long is not tried again, at first and at most.
const FIRST_CAUTION: Microseconds = Microseconds(2_000_000);
const MOST_CAUTION: Microseconds = Microseconds(128_000_000);

/// Longer was rash if it is too long within this; and after this that is forgotten.
const RASH: Microseconds = Microseconds(4_000_000);
const FORGOTTEN: Microseconds = Microseconds(60_000_000);
/// Windows: 13 s.
const MOST_PATIENCE: u8 = 64;

/// The control.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Control {
    dark: u16,
    stop: u16,
    exposure_us: u32,
    /// The brightest scan of this window, codes above dark, and how many there were.
    brightest: u32,
    scans: u8,
    /// The least exposure that was too long, and until when that is believed. Beyond the greatest:
    /// none.
    too_long_us: u32,
    believed_until: Microseconds,
    caution: Microseconds,
    /// A longer exposure is being tried; to go back to.
    from_us: Option<u32>,
    /// Dim windows in a row, how many it takes, and when it last took them.
    dim: u8,
    patience: u8,
    lengthened: Microseconds,
    shift: bool,
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
            too_long_us: u32::MAX,
            believed_until: Microseconds(0),
            caution: FIRST_CAUTION,
            from_us: None,
            dim: 0,
            patience: 1,
            lengthened: Microseconds(0),
            shift: false,
        }
    }

    /// Whether the scans should be shifted against whatever they may keep step with; once for each
    /// time that it is so.
    pub fn take_shift(&mut self) -> bool {
        core::mem::take(&mut self.shift)
    }

    /// For the next scan, us.
    pub fn exposure_us(&self) -> u32 {
        self.exposure_us
    }

    /// A scan, its own exposure and its brightest pixel's code.
    pub fn on(&mut self, at: Microseconds, exposure: Microseconds, brightest: u16) {
        let (least, most) = EXPOSURES_US;
        let exposure_us = u32::try_from(exposure.0).unwrap_or(most).clamp(1, 2 * most);
        let range = u32::from(self.stop.saturating_sub(self.dark).clamp(1, 4_095));
        let light = u32::from(brightest.saturating_sub(self.dark)).min(4_095);
        if brightest >= self.stop || light * 128 > range * TOO_BRIGHT {
            // A scan that was under way when an answer had been given already says nothing new.
            let answered =
                exposure_us * 16 > self.exposure_us * 17 && exposure_us >= self.too_long_us;
            if !answered && self.exposure_us > least {
                let better = if brightest >= self.stop {
                    exposure_us / 2
                } else {
                    aimed(exposure_us, range, light)
                };
                self.shorten(at, exposure_us, better.clamp(least, most));
            }
            return;
        }
        // Nor does one that was shorter than what is asked for now.
        if exposure_us * 8 < self.exposure_us * 7 {
            return;
        }
        self.brightest = self.brightest.max(light);
        self.scans += 1;
        if self.scans >= WINDOW {
            if self.from_us.take().is_some() {
                self.too_long_us = u32::MAX;
            }
            self.dim =
                if self.brightest * 128 < range * TOO_DIM { self.dim.saturating_add(1) } else { 0 };
            if self.dim >= self.patience {
                self.dim = 0;
                self.lengthen(at, range);
            }
            (self.brightest, self.scans) = (0, 0);
        }
    }

    fn shorten(&mut self, at: Microseconds, was_us: u32, better_us: u32) {
        // Light that came back soon was only away for a moment.
        let since = at.since(self.lengthened);
        if self.lengthened != Microseconds(0) && since <= RASH {
            self.patience = (2 * self.patience).min(MOST_PATIENCE);
        } else if since > FORGOTTEN {
            self.patience = 1;
        }
        let tried = self.from_us.take();
        let soon = at.since(self.believed_until) <= Microseconds(4 * self.caution.0);
        if tried.is_some() || (self.too_long_us != u32::MAX && at >= self.believed_until && soon) {
            self.caution = Microseconds(4 * self.caution.0).min(MOST_CAUTION);
        } else if at >= self.believed_until {
            self.caution = FIRST_CAUTION;
        }
        self.too_long_us = was_us;
        self.believed_until = at.after(self.caution);
        // What it was tried from was not too long.
        self.exposure_us = tried.unwrap_or(better_us).min(self.exposure_us);
        (self.brightest, self.scans, self.dim) = (0, 0, 0);
    }

    fn lengthen(&mut self, at: Microseconds, range: u32) {
        // In the dark sixteen times at a stride, else to the aim.
        let dark = self.brightest * 16 < range;
        let wanted = if dark {
            self.exposure_us * 16
        } else {
            aimed(self.exposure_us, range, self.brightest)
        };
        let wanted = wanted.min(EXPOSURES_US.1);
        let before_us = self.exposure_us;
        if wanted < self.too_long_us {
            self.exposure_us = wanted.max(self.exposure_us);
        } else if at < self.believed_until {
            // The geometric mean; not if it is hardly more.
            // At most 9 900 each: 2^27.
            let between = root((self.exposure_us * self.too_long_us) as i32) as u32;
            if between * 8 > self.exposure_us * 9 {
                self.exposure_us = between;
            }
        } else {
            let longer = wanted.min(self.too_long_us / 8 * 9);
            if longer > self.exposure_us {
                self.from_us = Some(self.exposure_us);
                self.exposure_us = longer;
            }
        }
        if self.exposure_us > before_us {
            self.lengthened = at;
        }
        // The longest exposure misses no pulse.
        self.shift = dark && self.exposure_us == before_us && before_us * 10 < EXPOSURES_US.1 * 9;
    }
}

/// The exposure that brings `light` to the aim. 19 800 * 80 / 128 * 4095 < 2^26.
fn aimed(exposure_us: u32, range: u32, light: u32) -> u32 {
    (exposure_us * AIM / 128 * range / light.max(1)).max(1)
}
