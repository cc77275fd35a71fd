//! What falls on the eye's line of pixels. Heights are over the face that the feet stand on, as an
//! eye on a flat one would have them.

use super::Scene;
use crate::head::Place;
use crate::room::fault::Fault;
use crate::room::profile::{Beam, Edge, Light, Mirror, RoomLight, Shine};

/// A sheet or a slit too faint for any exposure is no light, V per ms.
const FAINT_V: f64 = 1e-4;
/// A mirror image fainter than this share of the sheet is none.
const FAINT: f64 = 1e-4;

impl Scene {
    /// The emitter's sheet at the eye, whole.
    fn sheet(&self, at_us: u64) -> Option<Beam> {
        let Place::Board { x_mm, y_mm } = self.place else { return None };
        if !self.room.emitter.on || self.has(Fault::NoLight) {
            return None;
        }
        let (emitter, sheet) = (&self.room.emitter, &self.room.sheet);
        let gap_mm = self.gap_mm(at_us)?;
        let distance_mm = emitter.distance_mm(x_mm, y_mm);
        let cold = 1.0 + self.cold(at_us) * emitter.warm_up.brighter;
        let mut beam = Beam {
            middle_mm: gap_mm,
            thickness_mm: sheet.thickness_at_mm(distance_mm),
            order: sheet.order,
            volts_per_ms: cold * sheet.volts_at(distance_mm, emitter.azimuth_deg(x_mm, y_mm)),
            azimuth_deg: self.away_deg(),
            mirror: None,
        };
        beam.mirror = self.mirror(&beam, distance_mm, (x_mm, y_mm));
        self.spoil(&mut beam);
        Some(beam)
    }

    /// The face as a mirror: of what skims its highest place on the way, as much as meets it there.
    fn mirror(&self, beam: &Beam, distance_mm: f64, to: (f64, f64)) -> Option<Mirror> {
        let (board, emitter) = (&self.room.board, &self.room.emitter);
        let rise_mm = board.rise_before_mm((emitter.x_mm, emitter.y_mm), to);
        let met = Beam { azimuth_deg: 0.0, volts_per_ms: 1.0, ..*beam }.profile()(rise_mm);
        let gloss = board.material.gloss * met;
        let grazing_mrad = 2.0 * beam.middle_mm.abs() / distance_mm.max(1.0) * 1e3;
        (gloss > FAINT).then_some(Mirror { rise_mm, gloss, grazing_mrad })
    }

    /// What faults do to the sheet.
    fn spoil(&self, beam: &mut Beam) {
        if self.has(Fault::TooMuchLight) {
            beam.volts_per_ms = 100.0;
        }
        if self.has(Fault::LightLeavesWindow) {
            beam.middle_mm = LOW_MM;
        }
        if self.has(Fault::SheetTooThick) {
            beam.thickness_mm = THICK_MM;
            beam.middle_mm = THICK_AT_MM;
        }
        if self.has(Fault::SheetTooThin) {
            beam.thickness_mm = THIN_MM;
        }
        if self.has(Fault::TwoSheets) {
            let apart_mm = 0.95 * beam.thickness_mm;
            let rise_mm = beam.middle_mm - apart_mm / 2.0;
            beam.mirror = Some(Mirror { rise_mm, gloss: 0.9, grazing_mrad: 3.0 });
        }
    }

    /// Lights that the gauge lets through from the emitter (one slit's at a time), and from its own
    /// lamp.
    fn through_gauge(&self, at_us: u64) -> Option<(Vec<Beam>, Vec<Beam>)> {
        let gauge = self.gauge?;
        let slope = self.slope_of_light();
        let sheet = self.sheet(at_us).map(|sheet| gauge.sheetlit(&sheet, slope));
        let bright = |beam: &Beam| beam.volts_per_ms > FAINT_V;
        let sheet = sheet.unwrap_or_default().into_iter().filter(bright).collect();
        // The lamp is the gauge's: it stands before the eye wherever that points.
        Some((sheet, gauge.lamplit()))
    }

    /// The light's own height over the face, and its middle over the first pixel, mm; of several
    /// there is none.
    pub(super) fn middle_mm(&self, at_us: u64) -> Option<(f64, f64)> {
        if self.eye_covered || self.card.is_some() {
            return None;
        }
        let gap_mm = match self.through_gauge(at_us) {
            Some((sheet, lamp)) => {
                let lit = sheet.len() + lamp.len();
                let heights_mm = self.gauge?.heights_mm();
                (lit == 1 && heights_mm.len() == 1).then(|| heights_mm[0])?
            }
            None => self.sheet(at_us)?.middle_mm,
        };
        Some((gap_mm, gap_mm - self.eye_lift_mm() - self.head.first_pixel_mm))
    }

    /// Everything that falls on the line.
    pub(crate) fn eye_light(&mut self, at_us: u64) -> Light {
        self.advance_to(at_us);
        if self.eye_covered {
            return Light::default();
        }
        if let Some(volts_per_ms) = self.card {
            let mut room = RoomLight { slope: 0.1, curve: 0.05, ..RoomLight::even(volts_per_ms) };
            if let Some(at_mm) = self.shade_mm {
                // Below the edge a hundredth is left.
                room.volts_per_ms /= 100.0;
                room.edges.push(Edge { at_mm, change: 99.0, blur_mm: 0.8 });
            }
            return Light { room, ..Light::default() };
        }
        let (beam, mut lines) = match self.through_gauge(at_us) {
            // Of both slits at once the emitter can light one only: its sheet is not that thick.
            Some((sheet, lamp)) => (brightest(sheet), lamp),
            None => (self.sheet(at_us), Vec::new()),
        };
        lines.extend(self.neighbour);
        let sheet_mm = beam.as_ref().map_or(SHEETLESS_MM, |beam| beam.middle_mm);
        if self.has(Fault::LineOfLight) {
            lines.push(Beam {
                middle_mm: STRIPE_MM,
                thickness_mm: 1.4,
                order: 2.0,
                volts_per_ms: 0.8,
                azimuth_deg: 0.0,
                mirror: None,
            });
        }
        let mut light = Light {
            beam,
            shine: self.shine(),
            room: self.room_light(sheet_mm),
            image: self.image.light(),
            lines,
        };
        // A body that stands off the face sees everything that much lower.
        let lift_mm = self.eye_lift_mm();
        for beam in light.beam.iter_mut().chain(&mut light.lines) {
            beam.middle_mm -= lift_mm;
            if let Some(mirror) = &mut beam.mirror {
                mirror.rise_mm -= lift_mm;
            }
        }
        light
    }

    fn shine(&self) -> Shine {
        self.room.emitter.shine
    }

    fn room_light(&self, sheet_mm: f64) -> RoomLight {
        let mut room = self.light.clone();
        if self.has(Fault::TooMuchRoomLight) {
            room.volts_per_ms += 60.0;
        }
        if self.has(Fault::UnevenRoomLight) {
            room.volts_per_ms += 0.5;
            room.edges.push(Edge { at_mm: sheet_mm + 0.1, change: 0.8, blur_mm: 0.6 });
        }
        room
    }
}

fn brightest(beams: Vec<Beam>) -> Option<Beam> {
    beams.into_iter().max_by(|a, b| a.volts_per_ms.total_cmp(&b.volts_per_ms))
}

/// Where a sheet leaves the window.
const LOW_MM: f64 = 0.7;
/// Where a sheet that is too thick stands whole in the window.
const THICK_MM: f64 = 3.9;
const THICK_AT_MM: f64 = 8.0;
const THIN_MM: f64 = 0.4;
/// Where the line of light stands that is no sheet.
const STRIPE_MM: f64 = 7.0;
/// Where a shadow's edge falls when there is no sheet.
const SHEETLESS_MM: f64 = 8.0;
