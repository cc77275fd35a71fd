//! What the eye sees: whether its light is a sheet that can be relied upon.
//!
//! A scan without light is no verdict while the emitter may pulse; any other fault of a scan is. What
//! comes and goes is held, so that it can be read and is never good in between.

use super::super::fault::{Channel, Fault};
use super::dark::Dark;
use super::hold::Hold;
use super::same::Same;
use serde::{Deserialize, Serialize};
use skimgauge_shared::light::{Fault as Scan, Light as Emitter, Sheet, Trust};
use skimgauge_shared::reading::{Absence, Reading, Sample};
use skimgauge_shared::units::Micrometres;

/// What is wrong while a head is being seated is held for so long, s.
const HELD_S: f64 = 0.25;
/// What the head tells a few times a second is old after this, s.
const SHEET_STALE_S: f64 = 0.6;
/// A peak lower than this at nearly the longest exposure is weak: an eighth of the converter's
/// range, where one scan's middle scatters by some 10 um.
const WEAK_CODES: u16 = 500;
const LONG_US: u64 = 9_000;

/// What the eye sees of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct EyeView {
    /// The sheet's middle along the line of pixels, in the head's frame, mm; positive away from the
    /// board.
    pub middle_mm: f64,
    /// Its thickness (D4sigma), mm; `None` where it is not known yet.
    pub width_mm: Option<f64>,
    /// Its peak above the room's light, share of the converter's range.
    pub height: Option<f64>,
    /// The room's light, share of the converter's range.
    pub room: Option<f64>,
    /// A mirrored sheet is seen beside it.
    pub mirrored: bool,
}

/// What a reading says of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Seen {
    /// Its middle; whether it can be relied upon.
    Sheet { middle: Micrometres, sure: bool },
    /// Nothing, which says nothing: between two pulses, or a scan that went wrong.
    Nothing,
    /// That there is none to rely on.
    Broken,
}

/// Follows the eye.
#[derive(Debug, Clone)]
pub(super) struct Light {
    /// What leaves no middle.
    wrong: Hold,
    /// What leaves one that cannot be relied upon.
    unsure: Hold,
    /// What kept the last readings from having a middle, if it was no verdict.
    without: Option<Fault>,
    /// How long the eye has seen no sheet.
    dark: Dark,
    middle: Option<Micrometres>,
    sure: bool,
    mirrored: bool,
    same: Same<i32>,
    sheet: Option<(Sheet, f64)>,
}

impl Default for Light {
    fn default() -> Self {
        Self {
            wrong: Hold::new(HELD_S),
            unsure: Hold::new(0.0),
            without: None,
            dark: Dark::default(),
            middle: None,
            sure: false,
            mirrored: false,
            same: Same::default(),
            sheet: None,
        }
    }
}

impl Light {
    /// The link was interrupted.
    pub(super) fn interrupt(&mut self) {
        *self = Self::default();
    }

    /// The head is off the board.
    pub(super) fn lifted(&mut self) {
        self.wrong.lifted();
        self.unsure.lifted();
        self.dark.lifted();
    }

    /// The next reading.
    pub(super) fn reading(&mut self, reading: &Reading, at_s: f64) -> Seen {
        let (state, middle) = (reading.state, reading.middle);
        let seen = match (state.fault(), middle) {
            (None, Sample::Value(middle)) if state.light() != Emitter::No => {
                Seen::Sheet { middle, sure: state.is_sure() }
            }
            (Some(Scan::NoLight), _) if state.light() != Emitter::No => self.passes(Fault::NoLight),
            (Some(Scan::ExposureUnknown), _) => self.passes(Fault::ExposureUnknown),
            (Some(fault), _) => self.breaks(Fault::of_scan(fault)),
            (None, Sample::Value(_)) => self.breaks(Fault::NoLight),
            // The eye has not said yet what is wrong.
            (None, Sample::Absent(Absence::NoMiddle)) => self.passes(Fault::NoLight),
            (None, Sample::Absent(why)) => self.breaks(Fault::of_absence(Channel::Eye, why)),
        };
        self.mirrored = state.second();
        if seen == Seen::Broken && state.light() != Emitter::No {
            self.dark.blind();
        }
        self.dark.follow(matches!(seen, Seen::Sheet { .. }), at_s);
        match seen {
            Seen::Sheet { middle, sure } => {
                (self.middle, self.sure, self.without) = (Some(middle), sure, None);
                self.same.follow(Some(middle.0), at_s);
            }
            // What was seen before a scan that says nothing did not freeze.
            Seen::Nothing if !self.is_unlit(at_s) => {
                self.same.follow(None, at_s);
            }
            Seen::Nothing | Seen::Broken => {
                self.middle = None;
                self.same.follow(None, at_s);
            }
        }
        let none = seen == Seen::Broken || self.is_unlit(at_s);
        let frozen = self.same.is_frozen(at_s).then_some(Fault::EyeFrozen);
        let wrong = none.then_some(self.without.unwrap_or(Fault::NoLight)).or(frozen);
        self.wrong.follow(wrong, at_s);
        let unsure = matches!(seen, Seen::Sheet { sure: false, .. });
        self.unsure.follow(unsure.then_some(Fault::RoomLightPulls), at_s);
        seen
    }

    fn passes(&mut self, without: Fault) -> Seen {
        self.without = Some(without);
        Seen::Nothing
    }

    fn breaks(&mut self, fault: Fault) -> Seen {
        self.without = Some(fault);
        Seen::Broken
    }

    /// The head told how the sheet looks.
    pub(super) fn sheet(&mut self, sheet: &Sheet, now_s: f64) {
        self.sheet = Some((*sheet, now_s));
    }

    /// What speaks against the light at the last reading's time.
    pub(super) fn faults(&self, at_s: f64, now_s: f64) -> impl Iterator<Item = Fault> {
        let held = self.wrong.said(at_s);
        let unlit = self.is_unlit(at_s).then_some(self.without.unwrap_or(Fault::NoLight));
        let unsure = self.middle.is_some() && (!self.sure || self.unsure.said(at_s).is_some());
        let unsure = unsure.then(|| self.why_unsure(now_s));
        let mirrored = self.mirrored.then_some(Fault::SecondSheet);
        let weak = self.is_weak(now_s).then_some(Fault::WeakLight);
        [held.or(unlit), unsure, mirrored, weak].into_iter().flatten()
    }

    /// Whether no light was seen for longer than pulses leave out.
    pub(super) fn is_unlit(&self, at_s: f64) -> bool {
        self.dark.is_unlit(at_s)
    }

    /// Why a middle that is there cannot be relied upon.
    fn why_unsure(&self, now_s: f64) -> Fault {
        match self.fresh_sheet(now_s).map(|sheet| sheet.trust) {
            Some(Trust::Lopsided) => Fault::TwoSheets,
            _ => Fault::RoomLightPulls,
        }
    }

    fn is_weak(&self, now_s: f64) -> bool {
        self.fresh_sheet(now_s).is_some_and(|sheet| {
            let long = sheet.exposure.is_some_and(|exposure| exposure.0 >= LONG_US);
            long && sheet.shape.is_some_and(|shape| shape.height < WEAK_CODES)
        })
    }

    fn fresh_sheet(&self, now_s: f64) -> Option<&Sheet> {
        let (sheet, came_s) = self.sheet.as_ref()?;
        (self.middle.is_some() && now_s - came_s <= SHEET_STALE_S).then_some(sheet)
    }

    /// The pixel that stands out, if one does.
    pub(super) fn bad_pixel(&self, now_s: f64) -> Option<u8> {
        let (sheet, came_s) = self.sheet.as_ref()?;
        sheet.bad_pixel.filter(|_| now_s - came_s <= SHEET_STALE_S)
    }

    /// The sheet's thickness, mm, where it is known.
    pub(super) fn width_mm(&self, now_s: f64) -> Option<f64> {
        Some(self.fresh_sheet(now_s)?.shape?.width.mm())
    }

    /// What the eye sees now.
    pub(super) fn view(&self, now_s: f64) -> Option<EyeView> {
        const RANGE: f64 = 4_096.0;
        let sheet = self.fresh_sheet(now_s);
        Some(EyeView {
            middle_mm: self.middle?.mm(),
            width_mm: self.width_mm(now_s),
            height: sheet.and_then(|sheet| Some(f64::from(sheet.shape?.height) / RANGE)),
            room: sheet.map(|sheet| f64::from(sheet.room) / RANGE),
            mirrored: self.mirrored,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_shared::light::{LightState, Shape};
    use skimgauge_shared::units::Microseconds;

    const LIT: Sample<Micrometres> = Sample::Value(Micrometres(2_600));
    const NONE: Sample<Micrometres> = Sample::Absent(Absence::NoMiddle);

    fn reading(middle: Sample<Micrometres>, fault: Option<Scan>, light: Emitter) -> Reading {
        trusted(middle, fault, light, Trust::Sure)
    }

    fn trusted(
        middle: Sample<Micrometres>,
        fault: Option<Scan>,
        light: Emitter,
        trust: Trust,
    ) -> Reading {
        Reading {
            sequence: 0,
            at_low_us: 0,
            stand_off: Sample::Value(Micrometres(33_000)),
            middle,
            tilt: Sample::Absent(Absence::Starting),
            state: LightState::new(fault, light, trust, false),
        }
    }

    fn said(light: &Light, at_s: f64) -> Vec<Fault> {
        light.faults(at_s, at_s).collect()
    }

    /// An emitter that pulses leaves scans without light: they say nothing, and nothing is said of
    /// them; but only for as long as pulses may leave out.
    #[test]
    fn scans_between_pulses_say_nothing() {
        let mut light = Light::default();
        for k in 0..90 {
            let at_s = f64::from(k) / 90.0;
            let dark = k % 4 != 0;
            let reading = if dark {
                reading(NONE, Some(Scan::NoLight), Emitter::Waiting)
            } else {
                reading(Sample::Value(Micrometres(2_600 + k)), None, Emitter::Seen)
            };
            let seen = light.reading(&reading, at_s);
            assert_eq!(seen == Seen::Nothing, dark);
            assert_eq!(said(&light, at_s), [], "{k}");
        }
        let off = reading(NONE, Some(Scan::NoLight), Emitter::Waiting);
        for k in 90..110 {
            light.reading(&off, f64::from(k) / 90.0);
        }
        assert_eq!(said(&light, 109.0 / 90.0), [Fault::NoLight]);
    }

    #[test]
    fn no_light_is_said_at_once_where_the_head_is_sure_of_it() {
        let mut light = Light::default();
        light.reading(&reading(LIT, None, Emitter::Seen), 0.0);
        let off = reading(NONE, Some(Scan::NoLight), Emitter::No);
        assert_eq!(light.reading(&off, 0.011), Seen::Broken);
        assert_eq!(said(&light, 0.011), [Fault::NoLight]);
        // Whatever middle comes with it.
        let mut light = Light::default();
        assert_eq!(light.reading(&reading(LIT, None, Emitter::No), 0.0), Seen::Broken);
        assert_eq!(said(&light, 0.0), [Fault::NoLight]);
    }

    #[test]
    fn every_fault_of_a_scan_is_held_for_a_moment_whatever_comes_with_it() {
        for &fault in Scan::ALL {
            for middle in [LIT, NONE] {
                let mut light = Light::default();
                light.reading(&reading(LIT, None, Emitter::Seen), 0.0);
                let seen = light.reading(&reading(middle, Some(fault), Emitter::Seen), 0.011);
                assert!(!matches!(seen, Seen::Sheet { .. }), "{fault:?}");
                if seen == Seen::Broken {
                    light.reading(&reading(LIT, None, Emitter::Seen), 0.1);
                    assert_eq!(said(&light, 0.2), [Fault::of_scan(fault)]);
                    light.reading(&reading(LIT, None, Emitter::Seen), 0.3);
                    assert_eq!(said(&light, 0.3), []);
                }
            }
        }
    }

    #[test]
    fn a_middle_that_is_not_to_be_relied_upon_is_said_to_be_so() {
        let mut light = Light::default();
        let pulled = trusted(LIT, None, Emitter::Seen, Trust::NotYet);
        assert_eq!(
            light.reading(&pulled, 0.0),
            Seen::Sheet { middle: Micrometres(2_600), sure: false }
        );
        assert_eq!(said(&light, 0.0), [Fault::RoomLightPulls]);
        let mut sheet = sheet(2_000, 4_000);
        sheet.trust = Trust::Lopsided;
        light.sheet(&sheet, 0.0);
        assert_eq!(said(&light, 0.0), [Fault::TwoSheets]);
    }

    fn sheet(height: u16, exposure_us: u64) -> Sheet {
        Sheet {
            sequence: 0,
            exposure: Some(Microseconds(exposure_us)),
            room: 100,
            brightest: height + 100,
            trust: Trust::Sure,
            shape: Some(Shape { width: Micrometres(1_500), height, scatter: Micrometres(4) }),
            second: None,
            bad_pixel: None,
        }
    }

    #[test]
    fn light_is_weak_only_at_the_longest_exposure() {
        for (height, exposure_us, weak) in
            [(400, 9_900, true), (400, 2_000, false), (2_000, 9_900, false)]
        {
            let mut light = Light::default();
            light.reading(&reading(LIT, None, Emitter::Seen), 0.0);
            light.sheet(&sheet(height, exposure_us), 0.0);
            assert_eq!(said(&light, 0.0) == [Fault::WeakLight], weak, "{height} {exposure_us}");
            assert_eq!(light.width_mm(0.0), Some(1.5));
            assert_eq!(light.view(1.0).unwrap().width_mm, None, "that is old");
        }
    }
}
