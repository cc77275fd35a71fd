//! A head's stream without a head: readings with known truth, noise and disturbances, at 90 a
//! second.
#![allow(dead_code)]

use skimgauge_metrology::measure::{Limits, Observer};
use skimgauge_numbers::Numbers;
use skimgauge_shared::calibration::{Calibration, CalibrationState, Date};
use skimgauge_shared::light::{Fault as Scan, Light, LightState, Shape, Sheet, Trust};
use skimgauge_shared::message::{CalibrationCheck, Pulse, SerialNumber};
use skimgauge_shared::reading::{Absence, Reading, Sample, Tilt, TiltSteps};
use skimgauge_shared::sequence::{Placed, Position};
use skimgauge_shared::units::{
    CentiCelsius, Microdegrees, Micrometres, Microseconds, Millivolts, PartsPerMillion,
};

/// From reading to reading, us.
pub(crate) const PERIOD_US: u64 = 11_111;

pub(crate) const TODAY: Date = Date { year: 2026, month: 6, day: 1 };
pub(crate) const HEAD: SerialNumber = SerialNumber([7; 16]);

/// What the next reading is made of.
#[derive(Clone, Copy)]
pub(crate) struct Scene {
    pub gap_mm: f64,
    /// The head's stand-off, mm.
    pub stand_off_mm: f64,
    pub level_deg: f64,
    pub lean_deg: f64,
    pub stand_off_noise_mm: f64,
    pub middle_noise_mm: f64,
    pub tilt_noise_deg: f64,
    pub temperature_c: f64,
    pub supply_v: f64,
    pub stand_off_absent: Option<Absence>,
    pub middle_absent: Option<Absence>,
    pub tilt_absent: Option<Absence>,
    /// What the eye says of the light.
    pub scan: Option<Scan>,
    pub light: Light,
    pub trust: Trust,
    /// A mirrored sheet is seen.
    pub second: bool,
    pub exposure_us: u64,
    pub height: u16,
}

impl Default for Scene {
    fn default() -> Self {
        Self {
            gap_mm: 3.0,
            stand_off_mm: 33.0,
            level_deg: 0.1,
            lean_deg: -0.2,
            stand_off_noise_mm: 0.012,
            middle_noise_mm: 0.006,
            tilt_noise_deg: 0.004,
            temperature_c: 21.0,
            supply_v: 4.98,
            stand_off_absent: None,
            middle_absent: None,
            tilt_absent: None,
            scan: None,
            light: Light::Seen,
            trust: Trust::Sure,
            second: false,
            exposure_us: 2_000,
            height: 2_000,
        }
    }
}

pub(crate) fn calibration() -> Calibration {
    let mut calibration = Calibration::nominal(HEAD);
    calibration.date = Date { year: 2026, month: 5, day: 1 };
    calibration.zero = Micrometres(-32_600);
    calibration.zero_u = Micrometres(15);
    calibration.stand_off.slope_u = PartsPerMillion(2_000);
    calibration.stand_off.temperature_nm_per_k = 1_000;
    calibration.tilt_offset = Tilt { level: Microdegrees(120_000), lean: Microdegrees(-50_000) };
    calibration
}

pub(crate) struct Stream {
    pub observer: Observer,
    pub chance: Numbers,
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
            chance: Numbers(seed),
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

    /// The next reading, a ninetieth of a second on.
    pub(crate) fn step(&mut self) {
        self.step_with(|_| {});
    }

    pub(crate) fn step_with(&mut self, change: impl FnOnce(&mut Reading)) {
        self.at_us += PERIOD_US;
        self.number += 1;
        let scene = self.scene;
        let middle = scene.gap_mm - scene.stand_off_mm - calibration().zero.mm()
            + self.chance.normal(scene.middle_noise_mm);
        let stand_off = scene.stand_off_mm + self.chance.normal(scene.stand_off_noise_mm);
        // The inclinometer's filter: a first-order pole near 10 Hz.
        for axis in 0..2 {
            let fresh = self.chance.normal(scene.tilt_noise_deg * 1.8);
            self.filtered[axis] += 0.47 * (fresh - self.filtered[axis]);
        }
        let offset = calibration().tilt_offset;
        let coded = |deg: f64, offset: Microdegrees| {
            ((deg + offset.degrees()) * 16_384.0 / 90.0).round() as i16
        };
        let no_middle = scene.middle_absent.or(scene.scan.map(|_| Absence::NoMiddle));
        let sample = |absent: Option<Absence>| absent.map_or(Sample::Value(()), Sample::Absent);
        let mut reading = Reading {
            sequence: self.number as u8,
            at_low_us: self.at_us as u32,
            stand_off: sample(scene.stand_off_absent).map(|()| Micrometres::from_mm(stand_off)),
            middle: sample(no_middle).map(|()| Micrometres::from_mm(middle)),
            tilt: sample(scene.tilt_absent).map(|()| TiltSteps {
                level: coded(scene.level_deg + self.filtered[0], offset.level),
                lean: coded(scene.lean_deg + self.filtered[1], offset.lean),
            }),
            state: LightState::new(scene.scan, scene.light, scene.trust, scene.second),
        };
        change(&mut reading);
        let placed = Placed {
            position: Position { number: self.number, at: Microseconds(self.at_us) },
            lost: std::mem::take(&mut self.lost),
        };
        let now_s = self.now_s();
        self.observer.reading(&reading, placed, now_s);
        if self.number.is_multiple_of(18) {
            let pulse = Pulse {
                at: Microseconds(self.at_us),
                made: self.number,
                unsent: 0,
                refused_frames: 0,
                temperature: Sample::Value(CentiCelsius::from_celsius(
                    (scene.temperature_c * 18.9).round() / 18.9,
                )),
                supply: Sample::Value(Millivolts((scene.supply_v * 1e3) as u16)),
                tilt_status: 0,
                latest_start_us: 0,
            };
            self.observer.pulse(&pulse, now_s);
            let shape =
                Shape { width: Micrometres(1_500), height: scene.height, scatter: Micrometres(4) };
            let sheet = Sheet {
                sequence: self.number as u8,
                exposure: Some(Microseconds(scene.exposure_us)),
                room: 100,
                brightest: scene.height + 100,
                trust: scene.trust,
                shape: scene.scan.is_none().then_some(shape),
                second: None,
                bad_pixel: None,
            };
            self.observer.sheet(&sheet, now_s);
        }
    }

    pub(crate) fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds * 1e6 / PERIOD_US as f64).round() as usize {
            self.step();
        }
    }
}
