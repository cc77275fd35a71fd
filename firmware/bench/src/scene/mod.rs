//! The head in the room: what its sensors feel and put out at a time.
//!
//! | module | subject |
//! | --- | --- |
//! | `stance` | where feet, laser's spot and eye come to be on the face |
//! | `lit` | what falls on the eye's line of pixels |
//! | `felt` | volts and accelerations |
//!
//! Axes of the inclinometer in the head: X to the right, Y into the board, Z up; so that on an
//! upright head `ANG_X` is the level (positive: right side high) and `ANG_Y` the lean (positive:
//! top toward the viewer).

mod felt;
mod lit;
mod stance;

use crate::head::{Attitude, Head, Place, SWIVEL_RANGE_DEG, Seat, Seating, TOO_NEAR_V};
use crate::noise::{Drift, Noise};
use crate::room::fault::Fault;
use crate::room::gauge::Gauge;
use crate::room::profile::{Beam, Image, RoomLight};
use crate::room::{Plan, Room};
use crate::wiring::Wiring;
use core::f64::consts::TAU;
use std::collections::BTreeSet;

/// What is true at a moment, without noise: what a reading is held against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// Touch plane over the board face where the eye is, mm (before the gauge: its slit's height);
    /// `None` where there is no light.
    pub gap_mm: Option<f64>,
    /// Laser distance sensor to the face at its spot, mm; `None` where there is no spot.
    pub standoff_mm: Option<f64>,
    /// Light's middle over the first pixel's, mm.
    pub middle_mm: Option<f64>,
    /// How far the eye is turned away from the emitter, degrees; positive: too far to the right.
    pub away_deg: f64,
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
    /// How its seats scatter.
    pub seating: Seating,
    /// Temperature of the room, degrees Celsius.
    pub air_c: f64,
    /// The room's light where the head is, in V per ms.
    pub light: RoomLight,
    /// The projected image.
    pub image: Image,
    /// The head stands on leaves of this height, mm; nothing else does.
    pub lift_mm: f64,
    /// A lid over the eye: no light on the line.
    pub eye_covered: bool,
    /// The light of another emitter, of a board beside this one: there whether this one's shines or not.
    pub neighbour: Option<Beam>,
    /// A lit card before the eye instead of everything else: light that is nearly even over the
    /// line, V per ms.
    pub card: Option<f64>,
    /// Something dark before the card, from the board up to this height over the face, mm.
    pub shade_mm: Option<f64>,
    place: Place,
    attitude: Attitude,
    seat: Seat,
    eye_deg: f64,
    gauge: Option<Gauge>,
    faults: BTreeSet<Fault>,
    wiring: BTreeSet<Wiring>,
    leaning_since_us: Option<u64>,
    powered_at_us: u64,
    emitter_cold_at_us: Option<u64>,
    noise: Noise,
    standoff_drift: Drift,
    air_drift: Drift,
    hand_drift: [Drift; 2],
    held_standoff_v: Option<f64>,
    last_standoff_v: f64,
    now_us: u64,
}

impl Scene {
    /// The scene of a seed: a room that can be read at every station, head, and the head clipped to
    /// the top of the image, its eye turned to the emitter.
    pub fn new(seed: u64) -> Self {
        Self::with(Room::planned(seed, &Plan::default().readable()), Head::new(seed), seed)
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
            seating: Seating::WIPED,
            air_c: 21.0,
            light: RoomLight { slope: 0.2, ..RoomLight::even(0.05) },
            image: Image::Dark,
            lift_mm: 0.0,
            eye_covered: false,
            neighbour: None,
            card: None,
            shade_mm: None,
            place: Place::Hand,
            attitude: Attitude::Upright,
            seat: Seat::default(),
            eye_deg: 0.0,
            gauge: None,
            faults: BTreeSet::new(),
            wiring: BTreeSet::new(),
            leaning_since_us: None,
            powered_at_us: 0,
            emitter_cold_at_us: None,
            noise,
            held_standoff_v: None,
            last_standoff_v: TOO_NEAR_V,
            now_us: 0,
        };
        scene.clip(0.0, 0.0);
        scene.turn_eye_to_emitter(0.0);
        scene
    }

    /// Clips the head to the board with its eye at a point, with the scatter of a new clipping. The
    /// eye stays turned as it is.
    pub fn clip(&mut self, x_mm: f64, y_mm: f64) {
        self.put(Place::Board { x_mm, y_mm }, Attitude::Upright);
    }

    /// Puts the head somewhere, turned somehow, with the scatter of a new seat.
    pub fn put(&mut self, place: Place, attitude: Attitude) {
        self.place = place;
        self.attitude = attitude;
        self.seat = self.seating.seat(self.room.board.material.texture_mm, &mut self.noise);
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

    /// Where the eye's pointer points: degrees from "up", positive toward the right.
    pub fn eye_deg(&self) -> f64 {
        self.eye_deg
    }

    /// Turns the eye, as far as its swivel goes.
    pub fn turn_eye(&mut self, azimuth_deg: f64) {
        if azimuth_deg.is_finite() {
            self.eye_deg = azimuth_deg.clamp(-SWIVEL_RANGE_DEG, SWIVEL_RANGE_DEG);
        }
    }

    /// Azimuth of the emitter from where the head stands, degrees; 0 where there is none.
    pub fn emitter_deg(&self) -> f64 {
        match self.place {
            Place::Board { x_mm, y_mm } => self.room.emitter.azimuth_deg(x_mm, y_mm),
            Place::Plate(_) | Place::Emitter | Place::Hand => 0.0,
        }
    }

    /// Turns the eye to the emitter, within what a hand manages (`off_deg` beside it).
    pub fn turn_eye_to_emitter(&mut self, off_deg: f64) {
        self.turn_eye(self.emitter_deg() + off_deg);
    }

    /// Stands the gauge before the eye, or takes it away.
    pub fn set_gauge(&mut self, gauge: Option<Gauge>) {
        self.gauge = gauge;
    }

    /// The gauge before the eye.
    pub fn gauge(&self) -> Option<Gauge> {
        self.gauge
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

    /// Sets or takes back something wrong with how the head was built.
    pub fn set_wiring(&mut self, wiring: Wiring, on: bool) {
        if on {
            self.wiring.insert(wiring);
        } else {
            self.wiring.remove(&wiring);
        }
    }

    /// Whether the head was built so.
    pub fn is_wired(&self, wiring: Wiring) -> bool {
        self.wiring.contains(&wiring)
    }

    /// All faults that are set.
    pub fn faults(&self) -> impl Iterator<Item = Fault> + '_ {
        self.faults.iter().copied()
    }

    /// The head was switched on at `at_us`: warm-up counts from here.
    pub fn switch_on(&mut self, at_us: u64) {
        self.powered_at_us = at_us;
    }

    /// The emitter, cold, is switched on now. Without this it has long been warm.
    pub fn start_emitter_cold(&mut self) {
        self.room.emitter.on = true;
        self.emitter_cold_at_us = Some(self.now_us);
    }

    /// Lets the scene's own clock come to `now_us`: for events that need to know when they begin.
    pub fn advance_to(&mut self, now_us: u64) {
        self.now_us = self.now_us.max(now_us);
    }

    /// What is true at `at_us`.
    pub fn truth(&self, at_us: u64) -> Truth {
        let [level_deg, lean_deg] = self.face_deg(at_us);
        let middle_mm = self.middle_mm(at_us);
        Truth {
            gap_mm: middle_mm.map(|(gap_mm, _)| gap_mm),
            standoff_mm: self.standoff_mm(),
            middle_mm: middle_mm.map(|(_, middle_mm)| middle_mm),
            away_deg: self.away_deg(),
            level_deg,
            lean_deg,
            temperature_c: self.steady_temperature_c(at_us),
        }
    }

    fn away_deg(&self) -> f64 {
        let forced = if self.has(Fault::EyeTurnedAway) { 30.0 } else { 0.0 };
        self.eye_deg - self.emitter_deg() + forced
    }

    fn shake(&self, at_us: u64) -> f64 {
        if self.has(Fault::Vibration) {
            (TAU * VIBRATION_HZ * at_us as f64 * 1e-6).sin()
        } else {
            0.0
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

    /// How much of the emitter's warming up is still to come.
    fn cold(&self, at_us: u64) -> f64 {
        self.emitter_cold_at_us.map_or(0.0, |since_us| {
            self.room.emitter.warm_up.left(at_us.saturating_sub(since_us) as f64 * 1e-6)
        })
    }
}

const VIBRATION_HZ: f64 = 17.0;
const VIBRATION_MM: f64 = 0.05;
