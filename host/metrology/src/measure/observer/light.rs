//! What the eye sees: whether its light is a sheet that can be relied upon.
//!
//! A scan without light is no verdict while the emitter may pulse; any other fault of a scan is, and
//! is held for a moment, so that what comes and goes is never good in between.

use super::super::fault::{Channel, Fault};
use super::same::Same;
use serde::{Deserialize, Serialize};
use skimgauge_shared::message::Sheet;
use skimgauge_shared::reading::{EmitterLight, EyeFault, Reading, Sample};
use skimgauge_shared::units::Micrometres;

/// Without light for so long there is none to be shown, though the emitter may pulse, s: the
/// slowest pulses, 100 Hz, leave out no more than a few scans.
pub(super) const UNLIT_S: f64 = 0.12;
/// A scan's fault is held for so long, s.
const HELD_S: f64 = 0.25;
/// What the head tells a few times a second is old after this, s.
const SHEET_STALE_S: f64 = 0.6;
/// A peak lower than this at nearly the longest exposure is weak: an eighth of the converter's
/// range, where one scan's middle scatters by some 10 um.
const WEAK_CODES: i32 = 500;
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
#[derive(Debug, Clone, Default)]
pub(super) struct Light {
    /// The last fault of a scan, and when.
    fault: Option<(Fault, f64)>,
    /// What kept the last readings from having a middle, if it was no verdict.
    without: Option<Fault>,
    /// When the eye last saw a sheet, or the first reading came.
    lit_at_s: Option<f64>,
    middle: Option<Micrometres>,
    sure: bool,
    mirrored: bool,
    same: Same<i32>,
    sheet: Option<(Sheet, f64)>,
}

impl Light {
    /// The link was interrupted.
    pub(super) fn interrupt(&mut self) {
        *self = Self::default();
    }

    /// The next reading.
    pub(super) fn reading(&mut self, reading: &Reading, at_s: f64) -> Seen {
        let (state, middle) = (reading.state, reading.middle);
        let seen = match (state.fault(), middle) {
            (None, Sample::Value(middle)) if state.emitter() != EmitterLight::No => {
                Seen::Sheet { middle, sure: state.sure() }
            }
            (Some(EyeFault::NoLight), _) if state.emitter() != EmitterLight::No => {
                self.passes(Fault::NoLight)
            }
            (Some(EyeFault::ExposureUnknown), _) => self.passes(Fault::ExposureUnknown),
            (Some(fault), _) => self.breaks(Fault::of_eye(fault), at_s),
            (None, Sample::Value(_)) => self.breaks(Fault::NoLight, at_s),
            (None, Sample::Absent(why)) => {
                self.breaks(Fault::of_absence(Channel::Eye, why), at_s)
            }
        };
        self.mirrored = state.second();
        let lit_at_s = *self.lit_at_s.get_or_insert(at_s);
        match seen {
            Seen::Sheet { middle, sure } => {
                self.lit_at_s = Some(at_s);
                (self.middle, self.sure, self.without) = (Some(middle), sure, None);
                self.same.follow(Some(middle.0), at_s);
            }
            Seen::Nothing if at_s - lit_at_s <= UNLIT_S && at_s >= lit_at_s => {}
            Seen::Nothing | Seen::Broken => {
                self.middle = None;
                self.same.follow(None, at_s);
            }
        }
        seen
    }

    fn passes(&mut self, without: Fault) -> Seen {
        self.without = Some(without);
        Seen::Nothing
    }

    fn breaks(&mut self, fault: Fault, at_s: f64) -> Seen {
        self.fault = Some((fault, at_s));
        self.without = Some(fault);
        Seen::Broken
    }

    /// The head told how the sheet looks.
    pub(super) fn sheet(&mut self, sheet: &Sheet, now_s: f64) {
        self.sheet = Some((*sheet, now_s));
    }

    /// What speaks against the light at the last reading's time.
    pub(super) fn faults(&self, at_s: f64, now_s: f64) -> impl Iterator<Item = Fault> {
        let held = self.fault.filter(|(_, t)| (0.0..HELD_S).contains(&(at_s - t)));
        let unlit = self.is_unlit(at_s).then_some(self.without.unwrap_or(Fault::NoLight));
        let pulled = (self.middle.is_some() && !self.sure).then_some(Fault::RoomLightPulls);
        let frozen = self.same.is_frozen(at_s).then_some(Fault::EyeFrozen);
        let mirrored = self.mirrored.then_some(Fault::SecondSheet);
        let weak = self.is_weak(now_s).then_some(Fault::WeakLight);
        let held = held.map(|(fault, _)| fault);
        [held, unlit, pulled, frozen, mirrored, weak].into_iter().flatten()
    }

    /// Whether no light was seen for longer than pulses leave out.
    fn is_unlit(&self, at_s: f64) -> bool {
        self.lit_at_s.is_some_and(|lit_at_s| !(0.0..=UNLIT_S).contains(&(at_s - lit_at_s)))
    }

    fn is_weak(&self, now_s: f64) -> bool {
        self.fresh_sheet(now_s).is_some_and(|sheet| {
            let long = sheet.exposure.value().is_some_and(|exposure| exposure.0 >= LONG_US);
            long && i32::from(sheet.height) < WEAK_CODES
        })
    }

    fn fresh_sheet(&self, now_s: f64) -> Option<&Sheet> {
        let (sheet, came_s) = self.sheet.as_ref()?;
        (self.middle.is_some() && now_s - came_s <= SHEET_STALE_S).then_some(sheet)
    }

    /// The sheet's thickness, mm, where it is known.
    pub(super) fn width_mm(&self, now_s: f64) -> Option<f64> {
        self.fresh_sheet(now_s).map(|sheet| sheet.width.mm())
    }

    /// What the eye sees now.
    pub(super) fn view(&self, now_s: f64) -> Option<EyeView> {
        const RANGE: f64 = 4_096.0;
        let sheet = self.fresh_sheet(now_s);
        Some(EyeView {
            middle_mm: self.middle?.mm(),
            width_mm: sheet.map(|sheet| sheet.width.mm()),
            height: sheet.map(|sheet| f64::from(sheet.height) / RANGE),
            room: sheet.map(|sheet| f64::from(sheet.room) / RANGE),
            mirrored: self.mirrored,
        })
    }
}
