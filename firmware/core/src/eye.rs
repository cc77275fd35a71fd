//! The eye: the line of pixels, what its scans show, and whether that can be relied upon.

use crate::pixel_line::presence::{Light, Presence};
use crate::pixel_line::{Pins, PixelLine, Polled, Taken};
use crate::profile::doubt::{Doubt, Trust};
use crate::profile::line::Fingerprint;
use crate::profile::{PIXELS, Scan, Seen, Wanted, look};
use skimgauge_shared::reading::Absence;
use skimgauge_shared::units::Microseconds;

/// While a start pulse is due within this nothing else is begun: serving the converter and reading the
/// inclinometer take 0.4 ms together, and would come off an exposure or on top of it. The converter
/// then waits for at most two such times and a flush, which is less than a conversion.
const ALONE: Microseconds = Microseconds(400);

/// The last scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Looked {
    /// How it was taken.
    pub(crate) taken: Taken,
    /// What it shows.
    pub(crate) seen: Seen,
    /// Whether the emitter is on.
    pub(crate) light: Light,
    /// Whether the middle can be relied upon.
    pub(crate) trust: Trust,
}

/// The eye.
pub(crate) struct Eye<P> {
    line: PixelLine<P>,
    table: Pixels,
    wanted: Wanted,
    scan: Scan,
    before: Option<Fingerprint>,
    presence: Presence,
    doubt: Doubt,
    /// The last scan, or why there is none.
    last: Result<Looked, Absence>,
    scans: u32,
}

impl<P: Pins> Eye<P> {
    /// Not started, its pixels not compared.
    pub(crate) fn new(pins: P) -> Self {
        let table = Pixels::UNCOMPARED;
        Self {
            line: PixelLine::new(pins, table.dark / 16, table.stop),
            table,
            wanted: Wanted::ANY,
            scan: [0; PIXELS],
            before: None,
            presence: Presence::new(),
            doubt: Doubt::new(),
            last: Err(Absence::Starting),
            scans: 0,
        }
    }

    /// When something is due; a tenth of a millisecond matters.
    pub(crate) fn due(&self) -> Microseconds {
        self.line.next_deadline()
    }

    /// Whether a start pulse is so near that nothing else should be begun.
    pub(crate) fn wants_to_be_alone(&self, now: Microseconds) -> bool {
        self.line.is_timing() && now.after(ALONE) > self.due()
    }

    /// Does what is due. Whether there is a new scan.
    pub(crate) fn poll(&mut self, now: Microseconds) -> bool {
        match self.line.poll(now, &mut self.scan) {
            Polled::Nothing => false,
            Polled::Down(absence) => {
                self.last = Err(absence);
                self.before = None;
                false
            }
            Polled::Scan(taken) => {
                self.look(taken);
                true
            }
        }
    }

    #[inline(never)]
    fn look(&mut self, taken: Taken) {
        let seen = look(&self.scan, taken.exposure, self.before, &self.table, &self.wanted);
        self.before = Some(seen.fingerprint);
        self.line.adjust(&taken, &seen);
        let exposure = taken.exposure.unwrap_or_default();
        let light = self.presence.on(exposure, seen.sheet.err());
        match &seen.sheet {
            Ok(profile) => self.doubt.add(profile),
            // Another sheet may come: what was gathered says nothing of it.
            Err(_) if light == Light::No => self.doubt = Doubt::new(),
            Err(_) => {}
        }
        self.scans = self.scans.wrapping_add(1);
        self.last = Ok(Looked { taken, seen, light, trust: self.doubt.trust() });
    }

    /// Says in the log what the last scan showed: readings do not carry it yet.
    #[cfg(feature = "defmt")]
    #[inline(never)]
    pub(crate) fn tell(&self) {
        let Ok(Looked { taken, seen, light, trust }) = &self.last else { return };
        let exposure_us = taken.exposure.unwrap_or_default().0 as u32;
        match &seen.sheet {
            Ok(sheet) => defmt::info!(
                "eye: scan {=u32}, {=u32} us, middle {=i32} um, width {=i32} um, height {=i32}, {}, {}",
                self.scans,
                exposure_us,
                sheet.middle.micrometres().0,
                sheet.width.0,
                sheet.height.codes(),
                light,
                trust
            ),
            Err(fault) => defmt::info!(
                "eye: scan {=u32}, {=u32} us, room {=i32}, {}, {}",
                self.scans,
                exposure_us,
                seen.room.codes(),
                fault,
                light
            ),
        }
    }
}
