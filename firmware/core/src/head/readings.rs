//! Readings: a scan, and the stand-off about the middle of its exposure.

use super::Head;
use crate::hardware::Hardware;
use crate::part::converter::Served;
use crate::pixel_line::PERIOD;
use crate::sampling::Around;
use skimgauge_shared::calibration::supply;
use skimgauge_shared::light::LightState;
use skimgauge_shared::message::{Codes, Report};
use skimgauge_shared::pixels::{PIECES, Piece};
use skimgauge_shared::reading::{Absence, Reading, Sample, TiltSteps};
use skimgauge_shared::units::{Micrometres, Microseconds};

/// Without a scan for so long readings go on without one.
const NO_SCAN: Microseconds = Microseconds(33_333);
/// The sheet is told five times a second (with the eighteenth reading, which comes a little early), and when the light's state changes.
const SHEET_EVERY: Microseconds = Microseconds(195_000);

impl<H: Hardware> Head<H> {
    pub(super) fn serve_converter(&mut self, now: Microseconds) {
        let sampling = &mut self.sampling;
        match self.converter.service(now, |at| sampling.choose(at)) {
            Served::Nothing => (),
            Served::Unlabelled => self.converter_down = None,
            Served::Done(conversion) => {
                self.converter_down = None;
                if let Some(code) = self.sampling.take(conversion) {
                    self.supply = (now, Sample::Value(supply(code)));
                }
            }
            Served::Down(absence) => {
                self.sampling.forget();
                self.converter_down = Some(absence);
            }
        }
    }

    /// A scan is there, the middle of its exposure was then.
    pub(super) fn scanned(&mut self, middle: Microseconds) {
        if self.waits_for_stand_off.take().is_some() {
            // Its scan is gone: no reading can be made of it any more.
            self.made = self.made.wrapping_add(1);
            self.unsent = self.unsent.wrapping_add(1);
        }
        self.moment = middle;
        if self.sampling.wants_scan() {
            self.waits_for_stand_off = Some(middle);
        }
    }

    /// Makes the readings that are due.
    pub(super) fn readings(&mut self, now: Microseconds) {
        if now.since(self.moment) > NO_SCAN {
            self.moment = self.moment.after(PERIOD);
            if self.sampling.wants_scan() {
                self.waits_for_stand_off = Some(self.moment);
            }
        }
        let Some(moment) = self.waits_for_stand_off else { return };
        let code_16 = match (self.converter_down, self.sampling.around(moment, now)) {
            (Some(absence), _) => Sample::Absent(absence),
            (None, Around::NotYet) => return,
            (None, Around::Nothing) => Sample::Absent(Absence::NoAnswer),
            (None, Around::Code16(code_16)) => Sample::Value(code_16),
        };
        self.waits_for_stand_off = None;
        self.reading(moment, code_16, now);
    }

    fn reading(&mut self, at: Microseconds, code_16: Sample<i32>, now: Microseconds) {
        let angles = self.inclinometer.measure(now);
        self.temperature = (now, angles.map(|angles| angles.temperature));
        let stand_off = match code_16 {
            Sample::Absent(absence) => Sample::Absent(absence),
            Sample::Value(code_16) => self.stand_off(code_16, now),
        };
        let tilt = angles.map(|angles| TiltSteps { level: angles.x, lean: angles.y });
        let (middle, state) = self.eye.middle();
        self.faulty =
            stand_off.absence().is_some() || tilt.absence().is_some() || self.eye.is_down();
        self.made = self.made.wrapping_add(1);
        let sequence = self.made as u8;
        let at_low_us = at.0 as u32;
        let reading = Reading { sequence, at_low_us, stand_off, middle, tilt, state };
        if !self.outbox.offer(&Report::Reading(reading)) {
            self.unsent = self.unsent.wrapping_add(1);
        }
        if self.stream_codes {
            self.outbox.offer(&Report::Codes(Codes { sequence, stand_off: code_16 }));
        }
        self.tell_sheet(sequence, state, now);
        if core::mem::take(&mut self.profile_wanted) {
            for piece in 0..PIECES {
                let piece = Piece::of(self.eye.scan(), sequence, piece);
                self.outbox.offer(&Report::Profile(piece));
            }
        }
    }

    fn stand_off(&mut self, code_16: i32, now: Microseconds) -> Sample<Micrometres> {
        let warmth = self.temperature.1.value();
        match self.constants.in_use().calibration.stand_off(code_16, warmth) {
            Sample::Value(_) if self.stand_off_frozen.look(code_16, now) => {
                Sample::Absent(Absence::Frozen)
            }
            other => other,
        }
    }

    fn tell_sheet(&mut self, sequence: u8, state: LightState, now: Microseconds) {
        let (told_at, told) = self.sheet_told;
        if state == told && now.since(told_at) < SHEET_EVERY {
            return;
        }
        if let Some(sheet) = self.eye.sheet(sequence)
            && self.outbox.offer(&Report::Sheet(sheet))
        {
            self.sheet_told = (now, state);
        }
    }
}
