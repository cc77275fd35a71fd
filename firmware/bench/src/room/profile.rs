//! What the eye's line of pixels sees: the sheet's profile along the board normal, its mirror image
//! in a glossy board, lines of light that are no sheet, the room's light and that of the projected
//! image; all of it over an exposure, so that pulses and flicker count as they fall.
//!
//! Light is in volts that it would give a pixel in a millisecond. Heights are over the board face,
//! mm. Sizes without a source are the design's (sheets of 0.8 mm to 3 mm, room light to 2 V, pulses
//! of 0.1 kHz to 2 kHz); a reading is never better known than they are.

use crate::head::{SLIT_DEPTH_MM, SLIT_WIDTH_MM};
use core::f64::consts::{FRAC_1_SQRT_2, TAU};

/// Width of a pixel across the line, mm (data sheets: 0.056 by 0.2 mm).
const PIXEL_ACROSS_MM: f64 = 0.2;

/// The sheet where the eye stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beam {
    /// Its middle over the board face, mm.
    pub middle_mm: f64,
    /// Four standard deviations of its profile (D4sigma, ISO 11146-1), mm.
    pub thickness_mm: f64,
    /// Shape: `exp(-|z/a|^order)`; 2 is a bell, 8 nearly a flat top.
    pub order: f64,
    /// At its middle, V per ms while the emitter shines, in an eye that faces it.
    pub volts_per_ms: f64,
    /// How far the eye is turned away from the emitter, degrees.
    pub azimuth_deg: f64,
    /// The board's mirror image of it.
    pub mirror: Option<Mirror>,
}

/// A glossy board between emitter and eye.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mirror {
    /// How much higher the face lies where the light meets it than under the head, mm.
    pub rise_mm: f64,
    /// Share of light that a perfectly smooth face of this material would mirror that this one
    /// does: 0 matt, 1 glass.
    pub gloss: f64,
    /// Angle between light and face, mrad.
    pub grazing_mrad: f64,
}

impl Mirror {
    /// Share of the light that is mirrored: gloss times the mean of Fresnel's two formulas, for an
    /// index of 1.5.
    pub fn strength(&self) -> f64 {
        let (sin, cos) = (self.grazing_mrad * 1e-3).sin_cos();
        let inside = (1.5f64 * 1.5 - cos * cos).sqrt();
        let s = (sin - inside) / (sin + inside);
        let p = (2.25 * sin - inside) / (2.25 * sin + inside);
        self.gloss * (s * s + p * p) / 2.0
    }
}

impl Beam {
    /// Height over the face at which the mirrored sheet's middle stands, mm: as far below the
    /// mirroring place as the sheet is above it.
    pub fn mirrored_mm(&self) -> Option<f64> {
        self.mirror.map(|mirror| 2.0 * mirror.rise_mm - self.middle_mm)
    }

    /// The light at a height, V per ms while the emitter shines.
    pub fn profile(&self) -> impl Fn(f64) -> f64 + use<> {
        let a_mm = self.thickness_mm / 4.0 / sigma_of_unit(self.order);
        let (order, middle_mm) = (self.order, self.middle_mm);
        // Most pixels are far from the sheet: what would be below 1e-17 of it is not worked out.
        let reach_mm = a_mm * 40f64.powf(1.0 / order);
        let shape = move |off_mm: f64| {
            let off_mm = off_mm.abs();
            if off_mm > reach_mm { 0.0 } else { (-(off_mm / a_mm).powf(order)).exp() }
        };
        let image = self.mirror.map(|mirror| mirror.strength()).zip(self.mirrored_mm());
        let volts_per_ms = self.volts_per_ms * self.facing();
        move |z_mm| {
            let mirrored = image.map_or(0.0, |(strength, at_mm)| strength * shape(z_mm - at_mm));
            volts_per_ms * (shape(z_mm - middle_mm) + mirrored)
        }
    }

    /// What is left of the light in an eye that is turned away: the cosine, the slit, which shuts at
    /// about 20 degrees, and the filter. An interference filter's band moves to shorter waves for
    /// light at a slant, by `sqrt(1 - (sin/n)^2)` (textbook; n = 2, and a bell-shaped band of 50 nm
    /// full width at 850 nm that was centred for light from in front: from memory; coloured glass
    /// does better).
    pub fn facing(&self) -> f64 {
        let angle = self.azimuth_deg.to_radians();
        if angle.cos() <= 0.0 {
            return 0.0;
        }
        let moved_nm = 850.0 * (1.0 - (1.0 - (angle.sin() / 2.0).powi(2)).sqrt());
        let filter = (-4.0 * core::f64::consts::LN_2 * (moved_nm / 50.0).powi(2)).exp();
        // How far beside the pixel the middle of the slit's light falls.
        let beside_mm = SLIT_DEPTH_MM * angle.tan().abs();
        let edge_mm = (SLIT_WIDTH_MM + PIXEL_ACROSS_MM) / 2.0;
        let slit = ((edge_mm - beside_mm) / PIXEL_ACROSS_MM).clamp(0.0, 1.0);
        angle.cos() * slit * filter
    }
}

/// Standard deviation of `exp(-|u|^order)`: `sqrt(Gamma(3/order)/Gamma(1/order))`, summed instead
/// of looked up but for a bell.
fn sigma_of_unit(order: f64) -> f64 {
    if order == 2.0 {
        return FRAC_1_SQRT_2;
    }
    let (mut whole, mut square) = (0.0, 0.0);
    // Midpoints of something that is smooth and as much on the other side: to 1e-5 with so few.
    for k in 0..250 {
        let u = (f64::from(k) + 0.5) * 0.02;
        let weight = (-u.powf(order)).exp();
        whole += weight;
        square += u * u * weight;
    }
    (square / whole).sqrt()
}

/// How the emitter shines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shine {
    /// Pulses a second; 0: steady.
    pub hz: f64,
    /// Share of the time that a pulse lasts, 0 to 1. While it lasts the light is `1/duty` of the
    /// mean.
    pub duty: f64,
    /// Start of a pulse, as a share of the period.
    pub phase: f64,
    /// It dims to this share...
    pub idle: f64,
    /// ...for the second half of so many seconds; 0: never.
    pub idle_every_s: f64,
}

impl Shine {
    /// All the time.
    pub const STEADY: Self = Self { hz: 0.0, duty: 1.0, phase: 0.0, idle: 1.0, idle_every_s: 0.0 };

    /// Light between two times, in ms of the mean.
    pub fn between(&self, from_us: f64, to_us: f64) -> f64 {
        let shining_ms = if self.hz > 0.0 && self.duty < 1.0 {
            let period_us = 1e6 / self.hz;
            let lit = |at_us: f64| {
                let cycles = at_us / period_us - self.phase;
                (cycles.floor() * self.duty + (cycles - cycles.floor()).min(self.duty)) * period_us
            };
            (lit(to_us) - lit(from_us)) * 1e-3 / self.duty
        } else {
            (to_us - from_us) * 1e-3
        };
        let middle_s = (from_us + to_us) * 0.5e-6;
        let idles = self.idle_every_s > 0.0 && (middle_s / self.idle_every_s).fract() >= 0.5;
        if idles { shining_ms * self.idle } else { shining_ms }
    }
}

/// An edge of a shadow across the eye.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Its height over the board face, mm.
    pub at_mm: f64,
    /// What is added beyond it, as a share of the light that is there.
    pub change: f64,
    /// From a tenth to nine tenths, mm.
    pub blur_mm: f64,
}

/// The room's light.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomLight {
    /// In the line's middle, V per ms.
    pub volts_per_ms: f64,
    /// From one end to the other, as a share.
    pub slope: f64,
    /// The ends' lack against the middle, as a share.
    pub curve: f64,
    /// Shadows.
    pub edges: Vec<Edge>,
    /// Flicker: twice the mains' frequency, or 0.
    pub flicker_hz: f64,
    /// Flicker's amplitude, as a share.
    pub flicker: f64,
    /// Its phase, as a share of the period.
    pub phase: f64,
}

impl RoomLight {
    /// As bright everywhere and always.
    pub fn even(volts_per_ms: f64) -> Self {
        Self {
            volts_per_ms,
            slope: 0.0,
            curve: 0.0,
            edges: Vec::new(),
            flicker_hz: 0.0,
            flicker: 0.0,
            phase: 0.0,
        }
    }

    /// At a height, with `along` from -1 at the line's first end to 1 at its last, V per ms.
    pub fn at(&self, z_mm: f64, along: f64) -> f64 {
        // ln 9 either way of a logistic's middle are a tenth and nine tenths.
        let past = |edge: &Edge| match (z_mm - edge.at_mm) * 2.0 * 9f64.ln() / edge.blur_mm {
            far if far > 40.0 => 1.0,
            far if far < -40.0 => 0.0,
            near => 1.0 / (1.0 + (-near).exp()),
        };
        let smooth = 1.0 + self.slope * along / 2.0 - self.curve * along * along;
        let share =
            smooth * self.edges.iter().map(|edge| 1.0 + edge.change * past(edge)).product::<f64>();
        self.volts_per_ms * share.max(0.0)
    }

    /// Light between two times, in ms of the mean.
    pub fn between(&self, from_us: f64, to_us: f64) -> f64 {
        if self.flicker_hz <= 0.0 {
            return (to_us - from_us) * 1e-3;
        }
        let w = TAU * self.flicker_hz * 1e-6;
        let swing = |at_us: f64| (w * at_us + TAU * self.phase).sin() / w;
        (to_us - from_us + self.flicker * (swing(to_us) - swing(from_us))) * 1e-3
    }
}

/// What a projected page's light does at the eye.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Image {
    /// No projector, or its lens is covered.
    #[default]
    None,
    /// A black page: what the projector's dark still lets through.
    Dark,
    /// A white page.
    Bright,
}

impl Image {
    /// Its light at the eye: brighter near the board, whose face throws it back, and chopped at the
    /// picture's rate. How much of it comes through the filter is a guess: 0.1 V in a millisecond
    /// for white, a fiftieth of it for black.
    pub fn light(self) -> RoomLight {
        let volts_per_ms = match self {
            Self::None => 0.0,
            Self::Dark => 0.002,
            Self::Bright => 0.1,
        };
        let even = RoomLight::even(volts_per_ms);
        RoomLight { slope: -0.6, curve: -0.1, flicker_hz: 120.0, flicker: 0.5, ..even }
    }
}

/// All the light that falls on the line.
#[derive(Debug, Clone, PartialEq)]
pub struct Light {
    /// The sheet; `None`: the emitter is off or hidden.
    pub beam: Option<Beam>,
    /// How the emitter shines.
    pub shine: Shine,
    /// The room.
    pub room: RoomLight,
    /// The projected image.
    pub image: RoomLight,
    /// Lines of light that are not the emitter's and shine all the time: sun through a blind, a
    /// mirrored lamp, the gauge's own lamp.
    pub lines: Vec<Beam>,
}

impl Default for Light {
    /// Darkness.
    fn default() -> Self {
        Self {
            beam: None,
            shine: Shine::STEADY,
            room: RoomLight::even(0.0),
            image: RoomLight::even(0.0),
            lines: Vec::new(),
        }
    }
}

impl Light {
    /// At heights `z_mm` of pixels from the first to the last, over an exposure: V for each.
    pub fn exposed(&self, z_mm: &[f64], from_us: f64, to_us: f64) -> Vec<f64> {
        let sheet_ms = self.shine.between(from_us, to_us);
        let (low_mm, high_mm) =
            (z_mm.first().copied().unwrap_or(0.0), z_mm.last().copied().unwrap_or(1.0));
        let steady_ms = (to_us - from_us) * 1e-3;
        let sheet = self.beam.iter().map(|beam| (beam, sheet_ms)).filter(|(_, ms)| *ms > 0.0);
        let lines = self.lines.iter().map(|line| (line, steady_ms));
        let lit: Vec<_> = sheet.chain(lines).map(|(beam, ms)| (beam.profile(), ms)).collect();
        let rooms = [&self.room, &self.image]
            .map(|room| (room, room.between(from_us, to_us)))
            .into_iter()
            .filter(|(room, _)| room.volts_per_ms > 0.0)
            .collect::<Vec<_>>();
        z_mm.iter()
            .map(|z_mm| {
                let along = (2.0 * z_mm - low_mm - high_mm) / (high_mm - low_mm);
                let lit: f64 = lit.iter().map(|(at, ms)| at(*z_mm) * ms).sum();
                lit + rooms.iter().map(|(room, ms)| room.at(*z_mm, along) * ms).sum::<f64>()
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BEAM: Beam = Beam {
        middle_mm: 3.0,
        thickness_mm: 1.5,
        order: 2.0,
        volts_per_ms: 1.0,
        azimuth_deg: 0.0,
        mirror: None,
    };

    #[test]
    fn thickness_is_four_standard_deviations_for_every_shape() {
        for order in [2.0, 3.0, 5.0, 8.0] {
            let at = Beam { order, ..BEAM }.profile();
            let (mut whole, mut square) = (0.0, 0.0);
            for k in -4_000..4_000 {
                let z_mm = f64::from(k) * 1e-3;
                whole += at(3.0 + z_mm);
                square += at(3.0 + z_mm) * z_mm * z_mm;
            }
            assert!((4.0 * (square / whole).sqrt() - 1.5f64).abs() < 2e-3, "{order}");
        }
    }

    /// At grazing incidence everything is mirrored; at right angles ((n-1)/(n+1))^2 = 4 %
    /// (textbook).
    #[test]
    fn a_face_mirrors_as_fresnel_says() {
        let at = |grazing_mrad| Mirror { rise_mm: 0.0, gloss: 1.0, grazing_mrad }.strength();
        assert!((at(0.0) - 1.0).abs() < 1e-12);
        assert!((at(TAU / 4.0 * 1e3) - 0.04).abs() < 1e-9);
        assert!(at(5.0) > at(50.0) && at(50.0) > at(500.0));
    }

    #[test]
    fn pulses_give_their_mean_over_whole_periods_and_nothing_between() {
        let shine = Shine { hz: 500.0, duty: 0.1, phase: 0.0, ..Shine::STEADY };
        assert!((shine.between(300.0, 300.0 + 20_000.0) - 20.0).abs() < 1e-9);
        assert!(shine.between(250.0, 1_900.0).abs() < 1e-12);
        // A pulse of 200 us, ten times the mean.
        assert!((shine.between(1_900.0, 2_300.0) - 2.0).abs() < 1e-9);
        let dims = Shine { idle: 0.25, idle_every_s: 2.0, ..Shine::STEADY };
        assert!(
            (dims.between(1.5e6, 1.501e6) - 0.25).abs() < 1e-9
                && (dims.between(2.5e6, 2.501e6) - 1.0).abs() < 1e-9
        );
    }

    #[test]
    fn flicker_is_gone_over_its_period() {
        let room = RoomLight { flicker_hz: 100.0, flicker: 0.9, ..RoomLight::even(1.0) };
        assert!((room.between(1_234.0, 11_234.0) - 10.0).abs() < 1e-9);
        assert!((room.between(0.0, 2_500.0) - 2.5).abs() > 1.0);
    }

    /// At right angles to the slit's edge: 3.0 mm wide 4.2 mm before the pixels is atan(1.5/4.2),
    /// 19.7 degrees either way.
    #[test]
    fn an_eye_turned_away_sees_less_and_beyond_its_slit_nothing() {
        let facing = |azimuth_deg| Beam { azimuth_deg, ..BEAM }.facing();
        assert!((facing(0.0) - 1.0).abs() < 1e-12);
        assert!(facing(10.0) > 0.9 && facing(-10.0) == facing(10.0));
        assert!((0.3..0.6).contains(&facing(19.65)), "{}", facing(19.65));
        for away_deg in [25.0, 86.0, 120.0, 180.0] {
            assert_eq!(facing(away_deg), 0.0);
        }
    }

    #[test]
    fn a_line_of_light_stays_when_the_emitter_goes_and_a_bright_page_adds_to_the_room() {
        let light = Light { lines: vec![BEAM], ..Light::default() };
        let places: Vec<f64> = (0..256).map(|k| 0.4 + 0.0635 * f64::from(k)).collect();
        let volts = light.exposed(&places, 0.0, 2_000.0);
        assert!((volts[41] - 2.0).abs() < 1e-3 && volts[200] < 1e-9);
        let page = Light { image: Image::Bright.light(), ..Light::default() };
        let dark = Light { image: Image::Dark.light(), ..Light::default() };
        let sum = |light: &Light| light.exposed(&places, 0.0, 1e6).iter().sum::<f64>();
        assert!(sum(&page) > 20.0 * sum(&dark) && sum(&dark) > 0.0);
        let near_and_far = page.exposed(&places, 0.0, 1e6);
        assert!(near_and_far[0] > 1.5 * near_and_far[255]);
    }
}
