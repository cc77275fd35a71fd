//! A head's stream without a head: readings with known truth, noise and disturbances, at 100 a
//! second.
#![allow(dead_code)]

use skimgauge_metrology::measure::{Limits, Observer};
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
use skimgauge_shared::message::{CalibrationCheck, Pulse, SerialNumber};
use skimgauge_shared::reading::{Absence, Reading, Sample, Tilt};
use skimgauge_shared::sequence::{Placed, Position};
use skimgauge_shared::units::{
    CentiCelsius, Microdegrees, Micrometres, Microseconds, Millivolts, PartsPerMillion,
    TenThousandths,
};

pub(crate) const TODAY: Date = Date { year: 2026, month: 6, day: 1 };
pub(crate) const HEAD: SerialNumber = SerialNumber([7; 16]);

/// Uniform and normal deviates from a seed (splitmix64; Box and Muller).
pub(crate) struct Chance(pub u64);

impl Chance {
    pub(crate) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub(crate) fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn normal(&mut self, sigma: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        sigma * radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

/// What the next reading is made of.
#[derive(Clone, Copy)]
pub(crate) struct Scene {
    pub gap_mm: f64,
    /// Slide's stand-off, mm.
    pub stand_off_mm: f64,
    pub level_deg: f64,
    pub lean_deg: f64,
    pub stand_off_noise_mm: f64,
    pub ratio_noise: f64,
    pub tilt_noise_deg: f64,
    pub temperature_c: f64,
    pub supply_v: f64,
    pub stand_off_absent: Option<Absence>,
    pub eye_absent: Option<Absence>,
    pub tilt_absent: Option<Absence>,
}

impl Default for Scene {
    fn default() -> Self {
        Self {
            gap_mm: 3.0,
            stand_off_mm: 27.9,
            level_deg: 0.1,
            lean_deg: -0.2,
            stand_off_noise_mm: 0.012,
            ratio_noise: 0.008,
            tilt_noise_deg: 0.004,
            temperature_c: 21.0,
            supply_v: 4.98,
            stand_off_absent: None,
            eye_absent: None,
            tilt_absent: None,
        }
    }
}

pub(crate) fn calibration() -> Calibration {
    let mut calibration = Calibration::nominal(HEAD);
    calibration.date = Date { year: 2026, month: 5, day: 1 };
    calibration.zero = Micrometres(-25_000);
    calibration.zero_u = Micrometres(25);
    calibration.stand_off.slope_u = PartsPerMillion(2_000);
    calibration.stand_off.temperature_nm_per_k = 1_000;
    calibration.eye.scale = Micrometres(1_500);
    calibration.eye.scale_u = Micrometres(40);
    calibration.tilt_offset = Tilt { level: Microdegrees(120_000), lean: Microdegrees(-50_000) };
    calibration
}

pub(crate) struct Stream {
    pub observer: Observer,
    pub chance: Chance,
    pub scene: Scene,
    pub number: u32,
    pub at_us: u64,
    /// Host time less head time, s.
    pub offset_s: f64,
    pub filtered: [f64; 2],
    /// Readings lost before the next one.
    pub lost: u32,
}

impl Stream {
    pub(crate) fn new(seed: u64) -> Self {
        Self::with(
            seed,
            Limits::default(),
            CalibrationState { check: CalibrationCheck::Good, calibration: calibration() },
        )
    }

    pub(crate) fn with(seed: u64, limits: Limits, state: CalibrationState) -> Self {
        let mut observer = Observer::new(limits, TODAY);
        observer.greeted(Some(HEAD));
        observer.calibrated(state);
        Self {
            observer,
            chance: Chance(seed),
            scene: Scene::default(),
            number: 0,
            at_us: 5_000_000,
            offset_s: 1_000.0,
            filtered: [0.0; 2],
            lost: 0,
        }
    }

    pub(crate) fn now_s(&self) -> f64 {
        self.at_us as f64 * 1e-6 + self.offset_s + 0.002
    }

    /// The next reading, 10 ms on.
    pub(crate) fn step(&mut self) {
        self.step_with(|_| {});
    }

    pub(crate) fn step_with(&mut self, change: impl FnOnce(&mut Reading)) {
        self.at_us += 10_000;
        self.number += 1;
        let scene = self.scene;
        let scale_mm = calibration().eye.scale.mm();
        let light_mm = scene.gap_mm - (scene.stand_off_mm - 25.0);
        let ratio = (light_mm / scale_mm).clamp(-1.0, 1.0) + self.chance.normal(scene.ratio_noise);
        let stand_off = scene.stand_off_mm + self.chance.normal(scene.stand_off_noise_mm);
        // The inclinometer's filter: a first-order pole near 10 Hz.
        for axis in 0..2 {
            let fresh = self.chance.normal(scene.tilt_noise_deg * 1.8);
            self.filtered[axis] += 0.47 * (fresh - self.filtered[axis]);
        }
        let step = 90.0 / 16_384.0;
        let coded = |deg: f64| Microdegrees::from_degrees((deg / step).round() * step);
        let sample = |absent: Option<Absence>| absent.map_or(Sample::Value(()), Sample::Absent);
        let mut reading = Reading {
            sequence: self.number as u8,
            at_low_us: self.at_us as u32,
            stand_off: sample(scene.stand_off_absent).map(|()| Micrometres::from_mm(stand_off)),
            eye: sample(scene.eye_absent)
                .map(|()| TenThousandths::from_ratio(ratio.clamp(-1.0, 1.0))),
            tilt: sample(scene.tilt_absent).map(|()| Tilt {
                level: coded(scene.level_deg + self.filtered[0]),
                lean: coded(scene.lean_deg + self.filtered[1]),
            }),
        };
        change(&mut reading);
        let placed = Placed {
            position: Position { number: self.number, at: Microseconds(self.at_us) },
            lost: std::mem::take(&mut self.lost),
        };
        let now_s = self.now_s();
        self.observer.reading(&reading, placed, now_s);
        if self.number.is_multiple_of(20) {
            let pulse = Pulse {
                at: Microseconds(self.at_us),
                made: self.number,
                unsent: 0,
                refused_frames: 0,
                temperature: Sample::Value(CentiCelsius::from_celsius(
                    (scene.temperature_c * 18.9).round() / 18.9,
                )),
                supply: Sample::Value(Millivolts((scene.supply_v * 1e3) as u16)),
                light: Sample::Value(9_000),
                latest_start_us: 0,
            };
            self.observer.pulse(&pulse, now_s);
        }
    }

    pub(crate) fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds * 100.0).round() as usize {
            self.step();
        }
    }
}
