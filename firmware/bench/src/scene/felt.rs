//! Volts of the converter's inputs, accelerations and temperature of the inclinometer.

use super::{Scene, VIBRATION_HZ, VIBRATION_MM};
use crate::head::{Attitude, Place, STANDOFF_FAR_MM, STANDOFF_NEAR_MM, SUPPLY_V};
use crate::part::{Analog, Motion};
use crate::room::fault::Fault;
use crate::wiring::Wiring;
use core::f64::consts::TAU;

/// Noise of the converter itself, V (about a third of a code at its 4.096 V range).
const CONVERTER_NOISE_V: f64 = 40e-6;
/// Standard gravity, m/s^2 (3rd CGPM, exact).
const STANDARD_GRAVITY: f64 = 9.806_65;
/// A divider of 12.1 k and 10 k, by one of 12.1 k and 14.7 k.
const WRONG_DIVIDER: f64 = (10.0 / 22.1) / (14.7 / 26.8);

impl Scene {
    fn standoff_v(&mut self, at_us: u64) -> f64 {
        if let Some(held_v) = self.held_standoff_v {
            return held_v;
        }
        let temperature_c = self.temperature(at_us);
        let drift_mm = self.standoff_drift.at(at_us, &mut self.noise);
        let mut noise_mm = self.noise.normal(self.head.standoff_noise_mm);
        let of = self.head.characteristic;
        if self.has(Fault::StandoffTooNear) {
            return of.too_near_v;
        }
        let lost =
            self.has(Fault::SpotLost) || self.has(Fault::GlossyPatch) && self.noise.chance(0.2);
        if self.has(Fault::GlossyPatch) {
            noise_mm += self.noise.normal(0.4);
        }
        let gain = 1.0 + self.head.converter_gain_per_k * (temperature_c - 20.0);
        let volts = match self.standoff_mm().filter(|_| !lost) {
            None => of.lost_v,
            Some(near_mm) if near_mm < STANDOFF_NEAR_MM => of.too_near_v,
            Some(far_mm) if far_mm > STANDOFF_FAR_MM => of.lost_v,
            Some(standoff_mm) => {
                let error_mm = self.head.standoff_error.at_mm(standoff_mm, temperature_c);
                of.volts(standoff_mm + error_mm + self.laser_mm() + drift_mm + noise_mm)
            }
        };
        let divided = if self.is_wired(Wiring::StandOffDivider) { WRONG_DIVIDER } else { 1.0 };
        volts * gain * divided
    }

    /// What the inclinometer feels of this along its own axes, as it was glued in.
    fn as_glued([x, y, z]: [f64; 3], wired: impl Fn(Wiring) -> bool) -> [f64; 3] {
        let mut felt = [x, y, z];
        if wired(Wiring::TiltXReversed) {
            felt = [-felt[0], felt[1], -felt[2]];
        }
        if wired(Wiring::TiltYReversed) {
            felt = [felt[0], -felt[1], -felt[2]];
        }
        if wired(Wiring::TiltSwapped) {
            felt = [felt[1], -felt[0], felt[2]];
        }
        if wired(Wiring::TiltLying) {
            felt = [felt[0], felt[2], -felt[1]];
        }
        felt
    }
}

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
            // Not wired.
            1 | 2 => 0.0,
            _ => {
                let supply_v = if self.has(Fault::SupplyLow) { 4.2 } else { SUPPLY_V };
                let divided = if self.is_wired(Wiring::SupplyDivider) { 4.0 } else { 2.0 };
                supply_v / divided + if is_exact { 0.0 } else { self.noise.normal(0.001) }
            }
        };
        volts + converter_v
    }
}

impl Motion for Scene {
    fn acceleration_g(&mut self, at_us: u64) -> [f64; 3] {
        self.advance_to(at_us);
        let [mut level_deg, mut lean_deg] = self.face_deg(at_us);
        let [seat_level_deg, seat_lean_deg] = self.seat_deg();
        level_deg += seat_level_deg;
        lean_deg += seat_lean_deg;
        if self.place == Place::Hand {
            let Self { hand_drift: [level, lean], noise, .. } = self;
            level_deg += level.at(at_us, noise);
            lean_deg += lean.at(at_us, noise);
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
        let [x, y, z] = Self::as_glued([x, y + shake_g, z], |wiring| self.is_wired(wiring));
        [x + bias_g[0], y + bias_g[1], z]
    }

    fn temperature_c(&mut self, at_us: u64) -> f64 {
        self.advance_to(at_us);
        self.temperature(at_us)
    }
}
