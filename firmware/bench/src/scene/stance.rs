//! How the head stands: its three feet on the face, and where that brings laser's spot and eye.
//!
//! One rigid body: what lifts it moves stand-off and middle together. What remains of a seat in
//! their sum is the body's lean times the distance from spot to eye.

use super::{Scene, VIBRATION_MM};
use crate::head::{Place, STANCE_ACROSS_MM, STANCE_UP_MM, UPPER_FOOT_MM};
use crate::room::fault::Fault;
use core::f64::consts::TAU;

/// The plane of the feet over the face's frame, with the eye's place as its origin.
#[derive(Debug, Clone, Copy)]
struct Feet {
    at_eye_mm: f64,
    along_x: f64,
    along_y: f64,
}

impl Feet {
    fn at(&self, (x_mm, y_mm): (f64, f64)) -> f64 {
        self.at_eye_mm + self.along_x * x_mm + self.along_y * y_mm
    }
}

impl Scene {
    /// Height of the face so far from the eye's place, mm in the board's (or plate's) frame.
    fn face_mm(&self, (dx_mm, dy_mm): (f64, f64)) -> f64 {
        match self.place {
            Place::Board { x_mm, y_mm } => self.room.board.shape_mm(x_mm + dx_mm, y_mm + dy_mm),
            Place::Plate(_) | Place::Emitter | Place::Hand => 0.0,
        }
    }

    /// The plane through the feet, each so far off the face.
    fn feet(&self, off_mm: [f64; 3]) -> Feet {
        let lower_y_mm = -(UPPER_FOOT_MM + STANCE_UP_MM);
        let half_mm = STANCE_ACROSS_MM / 2.0;
        let upper = self.face_mm((0.0, -UPPER_FOOT_MM)) + off_mm[0];
        let left = self.face_mm((-half_mm, lower_y_mm)) + off_mm[1];
        let right = self.face_mm((half_mm, lower_y_mm)) + off_mm[2];
        let lower = f64::midpoint(left, right);
        let along_y = (upper - lower) / STANCE_UP_MM;
        let along_x = (right - left) / STANCE_ACROSS_MM;
        Feet { at_eye_mm: lower - along_y * lower_y_mm, along_x, along_y }
    }

    /// As this seat and what happened to it have them.
    fn standing(&self) -> Feet {
        let [mut upper_mm, mut left_mm, mut right_mm] = self.seat.feet_mm;
        if self.has(Fault::NotSeated) {
            upper_mm += STANCE_UP_MM * NOT_SEATED_DEG.to_radians().tan();
        }
        if self.has(Fault::Knocked) {
            upper_mm += KNOCKED_MM + STANCE_UP_MM * KNOCKED_DEG.to_radians().tan();
            left_mm += KNOCKED_MM;
            right_mm += KNOCKED_MM;
        }
        self.feet([upper_mm, left_mm, right_mm].map(|foot_mm| foot_mm + self.lift_mm))
    }

    /// From the laser distance sensor's datum to the face at its spot, mm.
    pub(super) fn standoff_mm(&self) -> Option<f64> {
        let (block_mm, spot_mm) = match self.place {
            Place::Board { .. } => (0.0, self.head.spot_mm()),
            Place::Plate(plate) => (plate.block_mm, self.head.spot_mm()),
            Place::Emitter | Place::Hand => return None,
        };
        let over_face_mm = self.standing().at(spot_mm) - self.face_mm(spot_mm);
        Some(self.head.standoff_mm + over_face_mm - block_mm)
    }

    /// What the surface does to the laser here, mm.
    pub(super) fn laser_mm(&self) -> f64 {
        let steady_mm = match self.place {
            Place::Board { .. } => self.room.board.material.laser_mm,
            Place::Plate(plate) => plate.laser_mm,
            Place::Emitter | Place::Hand => 0.0,
        };
        steady_mm + self.seat.laser_mm
    }

    /// How far the eye stands off the face at its own place beyond what it does when the feet stand
    /// on a flat one, mm.
    pub(super) fn eye_lift_mm(&self) -> f64 {
        self.standing().at_eye_mm + self.seat.swivel_mm - self.face_mm((0.0, 0.0))
    }

    /// The emitter's touch plane over the face at the eye, mm.
    pub(super) fn gap_mm(&self, at_us: u64) -> Option<f64> {
        let Place::Board { x_mm, y_mm } = self.place else { return None };
        let cold_mm = self.room.emitter.cold_mm(y_mm, self.cold(at_us));
        let gap_mm = self.room.gap_mm(x_mm, y_mm) + cold_mm + self.give_mm(at_us, x_mm, y_mm);
        Some(gap_mm + self.shake(at_us) * VIBRATION_MM)
    }

    /// Slope of the touch plane against the face along the light's way to the eye, mm per mm.
    pub(super) fn slope_of_light(&self) -> f64 {
        let Place::Board { x_mm, y_mm } = self.place else { return 0.0 };
        let (feet, plane) = (self.feet([0.0; 3]), self.room.emitter.touch_plane());
        let emitter = &self.room.emitter;
        let length_mm = emitter.distance_mm(x_mm, y_mm).max(1.0);
        ((plane.p - feet.along_x) * (x_mm - emitter.x_mm)
            + (plane.q - feet.along_y) * (y_mm - emitter.y_mm))
            / length_mm
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

    /// True level and lean of the face under the feet, degrees.
    pub(super) fn face_deg(&self, at_us: u64) -> [f64; 2] {
        let board = &self.room.board;
        match self.place {
            Place::Board { x_mm, y_mm } => {
                let give = if self.leaning_since_us.is_some() {
                    let over = |dy_mm: f64| self.give_mm(at_us, x_mm, y_mm + dy_mm);
                    (over(30.0) - over(-30.0)) / 60.0
                } else {
                    0.0
                };
                let slope = self.feet([0.0; 3]).along_y - give;
                [board.level_deg, board.lean_deg + slope.atan().to_degrees()]
            }
            Place::Plate(plate) => [plate.level_deg, plate.lean_deg],
            Place::Emitter => [self.room.emitter.level_deg, self.room.emitter_lean_deg()],
            Place::Hand => [0.0, 0.0],
        }
    }

    /// How the body stands against that face, degrees: level and lean.
    pub(super) fn seat_deg(&self) -> [f64; 2] {
        let lean = self.standing().along_y - self.feet([0.0; 3]).along_y;
        let knocked = if self.has(Fault::Knocked) { KNOCKED_DEG } else { 0.0 };
        [self.seat.level_deg + knocked, lean.atan().to_degrees()]
    }
}

const NOT_SEATED_DEG: f64 = 0.8;
const KNOCKED_DEG: f64 = 0.15;
const KNOCKED_MM: f64 = 0.3;
