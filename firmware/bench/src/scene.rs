//! The head in the room: what its sensors feel and put out at a time.
//!
//! Axes of the inclinometer in the head: X to the right, Y into the board, Z up; so that on an
//! upright head `ANG_X` is the level (positive: right side high) and `ANG_Y` the lean (positive:
//! top toward the viewer).

use crate::head::{
    Attitude, CELL_STOP_V, Head, NO_SPOT_V, Place, STANDOFF_FAR_MM, STANDOFF_NEAR_MM,
    STANDOFF_V_AT_NEAR, STANDOFF_V_PER_MM, SUPPLY_V, Seat, TOO_NEAR_V,
};
use crate::noise::{Drift, Noise};
use crate::part::{Analog, Motion};
use crate::room::Room;
use crate::room::fault::Fault;
use crate::room::profile::{Beam, Light, RoomLight, Shine};
use crate::room::sheet::Sheet;
use core::f64::consts::TAU;
use std::collections::BTreeSet;

/// Ends of the slide's travel: stand-off, mm. A little beyond what the sensor measures.
pub const SLIDE_MM: (f64, f64) = (18.0, 39.0);
/// Noise of the converter itself, V (about a third of a code at its 4.096 V range).
const CONVERTER_NOISE_V: f64 = 40e-6;
/// Standard gravity, m/s^2 (3rd CGPM, exact).
const STANDARD_GRAVITY: f64 = 9.806_65;

/// What is true at a moment, without noise: what a reading is held against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// Touch plane over the spot under the head, mm; `None` where there is no light.
    pub gap_mm: Option<f64>,
    /// Laser distance sensor to that spot, mm; `None` where there is no spot.
    pub standoff_mm: Option<f64>,
    /// Light's middle over the eye's centre, mm.
    pub offset_mm: Option<f64>,
    /// Level of the face that the head stands on, degrees.
    pub level_deg: f64,
    /// Lean of the face that the head stands on, degrees.
    pub lean_deg: f64,
    /// Temperature of the head, degrees Celsius.
    pub temperature_c: f64,
}

/// The head in the room.
#[derive(Debug, Clone)]
pub struct Scene {
    /// The room.
    pub room: Room,
    /// The head.
    pub head: Head,
    /// Temperature of the room, degrees Celsius.
    pub air_c: f64,
    /// Steady stray light on each cell, V.
    pub stray_v: f64,
    place: Place,
    attitude: Attitude,
    seat: Seat,
    slide_mm: f64,
    faults: BTreeSet<Fault>,
    leaning_since_us: Option<u64>,
    powered_at_us: u64,
    noise: Noise,
    standoff_drift: Drift,
    air_drift: Drift,
    hand_drift: [Drift; 2],
    flicker: f64,
    flicker_at_us: Option<u64>,
    held_standoff_v: Option<f64>,
    last_standoff_v: f64,
    now_us: u64,
}

impl Scene {
    /// The scene of a seed: room, head, and the head clipped to the top of the image with the slide
    /// at mid-travel.
    pub fn new(seed: u64) -> Self {
        Self::with(Room::new(seed), Head::new(seed), seed)
    }

    /// A scene of a given room and head; `seed` for the noise alone.
    pub fn with(room: Room, head: Head, seed: u64) -> Self {
        let mut noise = Noise::new(seed, 3);
        let air_k = if head.standoff_noise_mm > 0.0 { 0.2 } else { 0.0 };
        let mut scene = Self {
            standoff_drift: Drift::new(head.standoff_drift_mm, 60.0, &mut noise),
            air_drift: Drift::new(air_k, 900.0, &mut noise),
            hand_drift: [Drift::new(3.0, 0.5, &mut noise), Drift::new(3.0, 0.5, &mut noise)],
            room,
            head,
            air_c: 21.0,
            stray_v: 0.003,
            place: Place::Hand,
            attitude: Attitude::Upright,
            seat: Seat::default(),
            slide_mm: 28.5,
            faults: BTreeSet::new(),
            leaning_since_us: None,
            powered_at_us: 0,
            noise,
            flicker: 0.0,
            flicker_at_us: None,
            held_standoff_v: None,
            last_standoff_v: TOO_NEAR_V,
            now_us: 0,
        };
        scene.clip(0.0, 0.0);
        scene
    }

    /// Clips the head to the board at a point, with the scatter of a new clipping.
    pub fn clip(&mut self, x_mm: f64, y_mm: f64) {
        self.put(Place::Board { x_mm, y_mm }, Attitude::Upright);
    }

    /// Puts the head somewhere, turned somehow, with the scatter of a new seat.
    pub fn put(&mut self, place: Place, attitude: Attitude) {
        self.place = place;
        self.attitude = attitude;
        self.seat = Seat::random(self.room.errors.seating_mm, &mut self.noise);
    }

    /// Turns the head on the seat it has: level and lean of the seat stay what they are.
    /// (Reversal.)
    pub fn turn_head(&mut self, attitude: Attitude) {
        self.attitude = attitude;
    }

    /// Where the head stands.
    pub fn place(&self) -> Place {
        self.place
    }

    /// How it is turned.
    pub fn attitude(&self) -> Attitude {
        self.attitude
    }

    /// What this clipping brought with it.
    pub fn seat(&self) -> Seat {
        self.seat
    }

    /// Puts the seat's scatter to a known value.
    pub fn set_seat(&mut self, seat: Seat) {
        self.seat = seat;
    }

    /// The slide's place: true stand-off over a plain face, mm.
    pub fn slide_mm(&self) -> f64 {
        self.slide_mm
    }

    /// Rolls the slide to a place, mm, as far as its travel goes.
    pub fn set_slide_mm(&mut self, slide_mm: f64) {
        if slide_mm.is_finite() {
            self.slide_mm = slide_mm.clamp(SLIDE_MM.0, SLIDE_MM.1);
        }
    }

    /// Rolls the slide until the light meets the eye's centre, within what a thumb manages
    /// (`off_mm` beside it).
    pub fn roll_to_light(&mut self, off_mm: f64) {
        if let Some((gap_mm, eye_mm)) = self.gap_mm(self.now_us).zip(self.eye_mm()) {
            self.set_slide_mm(self.slide_mm + gap_mm - eye_mm + off_mm);
        }
    }

    /// Sets or takes back a fault. Those of parts, bus and memory are carried out by
    /// [`crate::bench::Bench`].
    pub fn set_fault(&mut self, fault: Fault, on: bool) {
        if on {
            self.faults.insert(fault);
        } else {
            self.faults.remove(&fault);
        }
        match fault {
            Fault::StandoffFrozen => self.held_standoff_v = on.then_some(self.last_standoff_v),
            Fault::SomeoneLeaning => self.leaning_since_us = on.then_some(self.now_us),
            _ => {}
        }
    }

    /// Whether a fault is set.
    pub fn has(&self, fault: Fault) -> bool {
        self.faults.contains(&fault)
    }

    /// All faults that are set.
    pub fn faults(&self) -> impl Iterator<Item = Fault> + '_ {
        self.faults.iter().copied()
    }

    /// The head was switched on at `at_us`: warm-up counts from here.
    pub fn switch_on(&mut self, at_us: u64) {
        self.powered_at_us = at_us;
    }

    /// Lets the scene's own clock come to `now_us`: for events that need to know when they begin.
    pub fn advance_to(&mut self, now_us: u64) {
        self.now_us = self.now_us.max(now_us);
    }

    /// What is true at `at_us`.
    pub fn truth(&self, at_us: u64) -> Truth {
        let [level_deg, lean_deg] = self.face_deg(at_us);
        let gap_mm = if self.light_v() > 0.0 { self.gap_mm(at_us) } else { None };
        Truth {
            gap_mm,
            standoff_mm: self.standoff_mm(),
            offset_mm: gap_mm.zip(self.eye_mm()).map(|(gap_mm, eye_mm)| gap_mm - eye_mm),
            level_deg,
            lean_deg,
            temperature_c: self.steady_temperature_c(at_us),
        }
    }

    /// How far the surface under the laser's spot rises over the face that the feet stand on, mm.
    fn face_rise_mm(&self) -> Option<f64> {
        match self.place {
            Place::Board { .. } => Some(0.0),
            Place::Plate(plate) => Some(plate.block_mm),
            Place::Emitter | Place::Hand => None,
        }
    }

    fn lift_mm(&self) -> f64 {
        let not_seated = if self.has(Fault::NotSeated) { 0.5 } else { 0.0 };
        let knocked = if self.has(Fault::Knocked) { 0.3 } else { 0.0 };
        not_seated + knocked
    }

    fn standoff_mm(&self) -> Option<f64> {
        Some(self.slide_mm - self.face_rise_mm()?)
    }

    /// Height of the eye's centre over the surface under the spot, mm. An unseated or knocked head
    /// tips: the eye rises over the board while the laser's spot, nearer the standing feet,
    /// does not.
    fn eye_mm(&self) -> Option<f64> {
        Some(self.standoff_mm()? + self.head.z0_mm + self.seat.gap_mm + self.lift_mm())
    }

    fn gap_mm(&self, at_us: u64) -> Option<f64> {
        let steady_mm = match self.place {
            Place::Board { x_mm, y_mm } => {
                self.room.gap_mm(x_mm, y_mm) + self.give_mm(at_us, x_mm, y_mm)
            }
            Place::Plate(plate) => plate.light_mm? - plate.block_mm,
            Place::Emitter | Place::Hand => return None,
        };
        Some(steady_mm + self.shake(at_us) * VIBRATION_MM)
    }

    /// How far the board gives way at a point to someone who leans on it, mm.
    fn give_mm(&self, at_us: u64, x_mm: f64, y_mm: f64) -> f64 {
        let Some(since_us) = self.leaning_since_us else {
            return 0.0;
        };
        let seconds = at_us.saturating_sub(since_us) as f64 * 1e-6;
        let sway = 1.0 - (-seconds / 0.3).exp() + 0.15 * (TAU * 0.4 * seconds).sin();
        let (from_x_mm, from_y_mm) = (x_mm - 200.0, y_mm + self.room.board.height_mm / 2.0);
        0.8 * sway * (-(from_x_mm.powi(2) + from_y_mm.powi(2)) / (2.0 * 600.0f64.powi(2))).exp()
    }

    fn shake(&self, at_us: u64) -> f64 {
        if self.has(Fault::Vibration) {
            (TAU * VIBRATION_HZ * at_us as f64 * 1e-6).sin()
        } else {
            0.0
        }
    }

    /// True level and lean of the face under the feet, degrees.
    fn face_deg(&self, at_us: u64) -> [f64; 2] {
        let board = &self.room.board;
        match self.place {
            Place::Board { x_mm, y_mm } => {
                let slope_y = board.slope(x_mm, y_mm).1;
                let give = if self.leaning_since_us.is_some() {
                    let over = |dy_mm: f64| self.give_mm(at_us, x_mm, y_mm + dy_mm);
                    (over(30.0) - over(-30.0)) / 60.0
                } else {
                    0.0
                };
                [board.level_deg, board.lean_deg + (slope_y - give).atan().to_degrees()]
            }
            Place::Plate(plate) => [plate.level_deg, plate.lean_deg],
            Place::Emitter => [self.room.emitter.level_deg, self.room.emitter_lean_deg()],
            Place::Hand => [0.0, 0.0],
        }
    }

    fn steady_temperature_c(&self, at_us: u64) -> f64 {
        if self.has(Fault::TooHot) {
            return 58.0;
        }
        if self.has(Fault::TooCold) {
            return -8.0;
        }
        let seconds = at_us.saturating_sub(self.powered_at_us) as f64 * 1e-6;
        self.air_c + self.head.warm_up_k * (1.0 - (-seconds / self.head.warm_up_s).exp())
    }

    fn temperature(&mut self, at_us: u64) -> f64 {
        self.steady_temperature_c(at_us) + self.air_drift.at(at_us, &mut self.noise)
    }

    /// Volts that the whole sheet would give where the head stands.
    fn light_v(&self) -> f64 {
        if self.has(Fault::NoLight) {
            return 0.0;
        }
        match self.place {
            Place::Board { x_mm, y_mm } if self.room.emitter.on => {
                self.room.sheet.volts_at(self.room.emitter.distance_mm(x_mm, y_mm))
            }
            Place::Plate(plate) => plate.light_v,
            _ => 0.0,
        }
    }

    /// The sheet where the head stands, and the distance to look it up at.
    fn local_sheet(&self) -> (Sheet, f64) {
        match self.place {
            Place::Board { x_mm, y_mm } => {
                (self.room.sheet, self.room.emitter.distance_mm(x_mm, y_mm))
            }
            Place::Plate(plate) => (
                Sheet {
                    thickness_mm: plate.thickness_mm,
                    spread_mm_per_m: 0.0,
                    volts_at_1_m: plate.light_v,
                },
                0.0,
            ),
            Place::Emitter | Place::Hand => (self.room.sheet, 0.0),
        }
    }

    /// What falls on the eye's line of pixels, heights over the face that the feet stand on.
    pub(crate) fn eye_light(&mut self, at_us: u64) -> Light {
        self.advance_to(at_us);
        let (sheet, distance_mm) = self.local_sheet();
        let lifted_mm = self.seat.gap_mm + self.lift_mm();
        let volts_per_ms = self.light_v();
        let beam = self.gap_mm(at_us).filter(|_| volts_per_ms > 0.0).map(|gap_mm| Beam {
            middle_mm: gap_mm - lifted_mm,
            // The raised cosine's feet are 5.5 of its standard deviations apart (pi / sqrt(pi^2/12 - 1/2)).
            thickness_mm: sheet.thickness_at_mm(distance_mm) * 4.0 / 5.532,
            order: 2.0,
            volts_per_ms,
            azimuth_deg: 0.0,
            mirror: None,
        });
        let glare_v = if self.has(Fault::TooMuchLight) { 40.0 } else { 0.0 };
        Light { beam, shine: Shine::STEADY, room: RoomLight::even(self.stray_v + glare_v) }
    }

    fn standoff_v(&mut self, at_us: u64) -> f64 {
        if let Some(held_v) = self.held_standoff_v {
            return held_v;
        }
        let temperature_c = self.temperature(at_us);
        let drift_mm = self.standoff_drift.at(at_us, &mut self.noise);
        let mut noise_mm = self.noise.normal(self.head.standoff_noise_mm);
        if self.has(Fault::SlideOutOfRange) {
            return TOO_NEAR_V;
        }
        let lost =
            self.has(Fault::SpotLost) || self.has(Fault::GlossyPatch) && self.noise.chance(0.2);
        if self.has(Fault::GlossyPatch) {
            noise_mm += self.noise.normal(0.4);
        }
        match self.standoff_mm().filter(|_| !lost) {
            None => NO_SPOT_V,
            Some(near_mm) if near_mm < STANDOFF_NEAR_MM => TOO_NEAR_V,
            Some(far_mm) if far_mm > STANDOFF_FAR_MM => NO_SPOT_V,
            Some(standoff_mm) => {
                let error_mm = self.head.standoff_error.at_mm(standoff_mm, temperature_c);
                let seen_mm = standoff_mm + error_mm + drift_mm + noise_mm;
                STANDOFF_V_AT_NEAR + (seen_mm - STANDOFF_NEAR_MM) * STANDOFF_V_PER_MM
            }
        }
    }

    fn cell_v(&mut self, inner: usize, at_us: u64) -> f64 {
        let noise_v = self.noise.normal(self.head.cell_noise_v);
        let (sheet, distance_mm) = self.local_sheet();
        let share = match self.gap_mm(at_us).zip(self.eye_mm()) {
            Some((gap_mm, eye_mm)) => {
                let (a, b) = sheet.shares(distance_mm, gap_mm - eye_mm, self.head.cell_mm, eye_mm);
                [a, b][inner]
            }
            None => 0.0,
        };
        let steady_v = self.head.dark_v[inner] + self.stray_v;
        let glare_v = if self.has(Fault::TooMuchLight) { 5.0 } else { 0.0 };
        let light_v =
            self.light_v() * (1.0 + self.flicker(at_us)) * share * self.head.cell_gain[inner];
        (steady_v + glare_v + light_v + noise_v).clamp(0.0, CELL_STOP_V)
    }

    /// The emitter's light flickers a little, alike for both cells when they are looked at within
    /// 50 us.
    fn flicker(&mut self, at_us: u64) -> f64 {
        if self.head.cell_noise_v <= 0.0 {
            return 0.0;
        }
        if self.flicker_at_us.is_none_or(|last_us| at_us.saturating_sub(last_us) > 50) {
            self.flicker = self.noise.normal(0.003);
            self.flicker_at_us = Some(at_us);
        }
        self.flicker
    }
}

const VIBRATION_HZ: f64 = 17.0;
const VIBRATION_MM: f64 = 0.05;

impl Analog for Scene {
    fn volts(&mut self, channel: u8, at_us: u64) -> f64 {
        self.advance_to(at_us);
        let is_exact = self.head.standoff_noise_mm <= 0.0;
        let converter_v = if is_exact { 0.0 } else { self.noise.normal(CONVERTER_NOISE_V) };
        let volts = match channel {
            0 => {
                self.last_standoff_v = self.standoff_v(at_us);
                self.last_standoff_v
            }
            1 => self.cell_v(0, at_us),
            2 => self.cell_v(1, at_us),
            _ => {
                let supply_v = if self.has(Fault::SupplyLow) { 4.2 } else { SUPPLY_V };
                supply_v / 2.0 + if is_exact { 0.0 } else { self.noise.normal(0.001) }
            }
        };
        volts + converter_v
    }
}

impl Motion for Scene {
    fn acceleration_g(&mut self, at_us: u64) -> [f64; 3] {
        self.advance_to(at_us);
        let [mut level_deg, mut lean_deg] = self.face_deg(at_us);
        level_deg += self.seat.tilt_deg[0];
        lean_deg += self.seat.tilt_deg[1];
        if self.place == Place::Hand {
            let Self { hand_drift: [level, lean], noise, .. } = self;
            level_deg += level.at(at_us, noise);
            lean_deg += lean.at(at_us, noise);
        }
        if self.has(Fault::NotSeated) {
            lean_deg += 0.8;
        }
        if self.has(Fault::Knocked) {
            lean_deg += 0.15;
            level_deg += 0.15;
        }
        let (level, lean) = (level_deg.to_radians(), lean_deg.to_radians());
        let upright = [level.sin() * lean.cos(), lean.sin(), level.cos() * lean.cos()];
        let [x, y, z] = match self.attitude {
            Attitude::Upright => upright,
            Attitude::Reversed => [-upright[0], -upright[1], upright[2]],
            Attitude::UpsideDown => [-upright[0], upright[1], -upright[2]],
        };
        // The part sits turned by the offsets: first lean (about X), then level (about Y).
        let [level_offset, lean_offset] = self.head.tilt_offset_deg.map(f64::to_radians);
        let (y, z) = (
            y * lean_offset.cos() + z * lean_offset.sin(),
            z * lean_offset.cos() - y * lean_offset.sin(),
        );
        let (x, z) = (
            x * level_offset.cos() + z * level_offset.sin(),
            z * level_offset.cos() - x * level_offset.sin(),
        );
        let warmth_k = self.steady_temperature_c(at_us) - 20.0;
        let bias_g =
            [0, 1].map(|k| self.head.tilt_bias_g[k] + self.head.tilt_bias_g_per_k[k] * warmth_k);
        let shake_g = self.shake(at_us) * VIBRATION_MM * 1e-3 * (TAU * VIBRATION_HZ).powi(2)
            / STANDARD_GRAVITY;
        [x + bias_g[0], y + bias_g[1] + shake_g, z]
    }

    fn temperature_c(&mut self, at_us: u64) -> f64 {
        self.advance_to(at_us);
        self.temperature(at_us)
    }
}
