//! The eye: the line of pixels, what its scans show, and whether that can be relied upon.

use crate::pixel_line::presence::Presence;
use crate::pixel_line::{Pins, PixelLine, Polled, Taken};
use crate::profile::doubt::Doubt;
use crate::profile::line::Fingerprint;
use crate::profile::{PIXELS, Scan, Seen, Sixteenths, Wanted, look};
use skimgauge_shared::light::{Light, LightState, Second, Shape, Sheet, Trust};
use skimgauge_shared::pixels::Pixels;
use skimgauge_shared::reading::{Absence, Sample};
use skimgauge_shared::units::{Micrometres, Microseconds};

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
}

impl<P: Pins> Eye<P> {
    /// Not started.
    pub(crate) fn new(pins: P, table: Pixels) -> Self {
        Self {
            line: PixelLine::new(pins, table.dark / 16, table.stop),
            table,
            wanted: Wanted::ANY,
            scan: [0; PIXELS],
            before: None,
            presence: Presence::new(),
            doubt: Doubt::new(),
            last: Err(Absence::Starting),
        }
    }

    /// The pixels were compared anew.
    pub(crate) fn set_table(&mut self, table: Pixels) {
        self.line.set_ends(table.dark / 16, table.stop);
        self.table = table;
        self.doubt = Doubt::new();
    }

    /// When something is due; a tenth of a millisecond matters.
    pub(crate) fn due(&self) -> Microseconds {
        self.line.next_deadline()
    }

    /// Whether a start pulse is so near that nothing else should be begun.
    pub(crate) fn wants_to_be_alone(&self, now: Microseconds) -> bool {
        self.line.is_timing() && now.after(ALONE) > self.due()
    }

    /// Does what is due. The middle of the exposure of a new scan.
    pub(crate) fn poll(&mut self, now: Microseconds) -> Option<Microseconds> {
        match self.line.poll(now, &mut self.scan) {
            Polled::Nothing => None,
            Polled::Down(absence) => {
                self.last = Err(absence);
                self.before = None;
                None
            }
            Polled::Scan(taken) => {
                self.look(taken);
                Some(taken.middle)
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
        self.last = Ok(Looked { taken, seen, light, trust: self.doubt.trust() });
    }

    /// The latest that a read began after its time since the last call, us.
    pub(crate) fn take_latest_us(&mut self) -> u16 {
        self.line.take_latest_us()
    }

    /// The last scan as the converter gave it.
    pub(crate) fn scan(&self) -> &Scan {
        &self.scan
    }

    /// No part of the eye runs.
    pub(crate) fn is_down(&self) -> bool {
        self.last.is_err()
    }

    /// The sheet's middle, and what is to be said of it.
    pub(crate) fn middle(&self) -> (Sample<Micrometres>, LightState) {
        let looked = match &self.last {
            Ok(looked) => looked,
            Err(absence) => return (Sample::Absent(*absence), LightState::UNKNOWN),
        };
        let state = |fault, second| LightState::new(fault, looked.light, looked.trust, second);
        match &looked.seen.sheet {
            Ok(sheet) => {
                (Sample::Value(sheet.middle.micrometres()), state(None, sheet.second.is_some()))
            }
            Err(fault) => (Sample::Absent(Absence::NoMiddle), state(Some(*fault), false)),
        }
    }

    /// What the last scan shows besides; `None`: there is none.
    #[inline(never)]
    pub(crate) fn sheet(&self, sequence: u8) -> Option<Sheet> {
        let Looked { taken, seen, trust, .. } = self.last.as_ref().ok()?;
        let sheet = seen.sheet.as_ref().ok();
        Some(Sheet {
            sequence,
            exposure: taken.exposure,
            room: sheet.map_or(seen.room, |sheet| sheet.room).codes() as i16,
            brightest: seen.brightest,
            trust: *trust,
            shape: sheet.map(|sheet| Shape {
                width: sheet.width,
                height: whole(sheet.height),
                scatter: sheet.scatter.micrometres(),
            }),
            second: sheet.and_then(|sheet| sheet.second).map(|second| Second {
                middle: second.at.micrometres(),
                height: whole(second.height),
            }),
            bad_pixel: seen.bad_pixel,
        })
    }
}

/// Whole codes; the converter has 4 095 of them.
fn whole(light: Sixteenths) -> u16 {
    light.codes().max(0) as u16
}
