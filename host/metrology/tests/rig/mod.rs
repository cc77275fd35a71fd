//! A head of known constants before a gauge of known errors, without a head: raw codes and whole
//! profiles as they would come.

use skimgauge_metrology::zero::{Gathering, Gauge, Lamp, Mean, Session, Stand, Still};
use skimgauge_numbers::Numbers;
use skimgauge_shared::calibration::{Calibration, Date, PIVOT_CODE};
use skimgauge_shared::message::SerialNumber;
use skimgauge_shared::pixels::PIXELS;
use skimgauge_shared::reading::{Sample, TiltSteps};

pub(crate) const HEAD: SerialNumber = SerialNumber([7; 16]);
pub(crate) const DAY: Date = Date { year: 2026, month: 7, day: 2 };
pub(crate) const LABEL_MM: [f64; 2] = [3.002, 9.004];
const PITCH_MM: f64 = 0.0635;

/// What is true.
pub(crate) struct Rig {
    pub chance: Numbers,
    /// mm a code; falling if negative.
    pub slope: f64,
    /// Bend, mm per code squared.
    pub bend: f64,
    /// Height of the first pixel over the board when the head stands on it, mm.
    pub first_mm: f64,
    /// The stand-off's code there.
    pub home: f64,
    /// Slits' true heights, mm.
    pub slits_mm: [f64; 2],
    /// Light behind each, codes.
    pub light: [f64; 2],
    /// A second image of a slit, mm over the board, and its light.
    pub ghost: Option<(f64, f64)>,
    /// From a line's middle to where it is dark, mm.
    pub half_mm: f64,
    /// A seat's scatter, mm, and what leaves under the feet add.
    pub seat_mm: f64,
    /// See above.
    pub leaves_mm: f64,
    pub response: Vec<f64>,
    pub dark: f64,
    pub noise: f64,
    pub level_offset_deg: f64,
}

impl Rig {
    pub(crate) fn new(seed: u64) -> Self {
        let mut chance = Numbers(seed);
        Self {
            slope: 1.709_207e-3 * (1.0 + chance.normal(0.006)),
            bend: 0.0,
            first_mm: 0.4 + chance.normal(0.15),
            home: 11_990.0 + chance.normal(100.0),
            slits_mm: LABEL_MM,
            light: [1_900.0, 2_100.0],
            ghost: None,
            half_mm: 0.2,
            seat_mm: 0.0,
            leaves_mm: 0.0,
            response: (0..PIXELS).map(|_| 1.0 + chance.normal(0.03).clamp(-0.06, 0.06)).collect(),
            dark: 70.0 + chance.normal(10.0),
            noise: 5.0,
            level_offset_deg: chance.normal(0.3),
            chance,
        }
    }

    /// A scan with the first pixel so high over the board.
    fn scan(&mut self, first_mm: f64) -> Vec<u16> {
        let half_mm = self.half_mm;
        let mut lines: Vec<(f64, f64)> = self.slits_mm.into_iter().zip(self.light).collect();
        lines.extend(self.ghost);
        (0..PIXELS)
            .map(|at| {
                // A slit of 0.3 mm, its edges widened to 0.1 mm: the share of the pixel's height
                // that is lit, in 16 places.
                let lit = |place: f64, slit_mm: f64| {
                    let off = (first_mm + place * PITCH_MM - slit_mm).abs();
                    ((half_mm - off) / 0.1).clamp(0.0, 1.0)
                };
                let light: f64 = (0..16)
                    .map(|k| at as f64 - 0.5 + (f64::from(k) + 0.5) / 16.0)
                    .map(|place| {
                        lines.iter().map(|(mm, l)| l * lit(place, *mm)).sum::<f64>() / 16.0
                    })
                    .sum();
                self.code(at, light)
            })
            .collect()
    }

    fn code(&mut self, at: usize, light: f64) -> u16 {
        let code = self.dark + light * self.response[at] + self.chance.normal(self.noise);
        code.round().clamp(0.0, 3_475.0) as u16
    }

    /// A stretch on a stand.
    pub(crate) fn gathered(&mut self, lift_mm: f64) -> Gathering {
        let leaves_mm = if lift_mm > 0.0 { self.leaves_mm } else { 0.0 };
        let seat_mm = self.chance.normal(self.seat_mm.hypot(leaves_mm));
        // Stand-off by the true curve about where the head stands on the board.
        let d =
            (0..20).fold(lift_mm / self.slope, |d, _| (lift_mm - self.bend * d * d) / self.slope);
        let mut gathering = Gathering::default();
        for _ in 0..180 {
            let code = self.home + d + self.chance.normal(5.0);
            gathering.stand_off(Sample::Value((code * 16.0).round() as i32));
            gathering.tilt(Sample::Value(TiltSteps { level: 55, lean: -36 }));
        }
        gathering.temperature(21.0);
        for _ in 0..10 {
            let scan = self.scan(self.first_mm + lift_mm + seat_mm);
            gathering.profile(&scan);
        }
        gathering
    }

    pub(crate) fn still(&mut self, lift_mm: f64) -> Still {
        self.gathered(lift_mm).still().unwrap()
    }

    pub(crate) fn stand(&mut self, lift_mm: f64) -> Stand {
        Stand { lifted: lift_mm > 0.0, still: self.still(lift_mm) }
    }

    /// The eye covered, or before even light that falls off to one end and bends.
    pub(crate) fn lit(&mut self, light: f64) -> Mean {
        let scans: Vec<Vec<u16>> = (0..30)
            .map(|_| {
                (0..PIXELS)
                    .map(|at| {
                        let along = at as f64 / 127.5 - 1.0;
                        self.code(at, light * (1.0 + 0.1 * along - 0.08 * along * along))
                    })
                    .collect()
            })
            .collect();
        Mean::of(&scans).unwrap()
    }

    pub(crate) fn session(&mut self) -> Session {
        let stands = [0.0, 0.0, 0.0, 0.6, 1.2].map(|lift_mm| self.stand(lift_mm)).to_vec();
        let steps =
            |deg: f64, rig: &Self| [(deg + rig.level_offset_deg) / (90.0 / 16_384.0), -36.0];
        let level =
            skimgauge_metrology::zero::Pair { first: steps(0.7, self), second: steps(-0.7, self) };
        Session {
            head: HEAD.to_string(),
            gauge: Some(gauge()),
            seat_u_mm: 0.012,
            stands,
            level: Some(level),
            dark: Some(self.lit(0.0)),
            even: Some(self.lit(1_800.0)),
        }
    }

    /// What the constants say of a true gap with the head on the board, less the truth, mm.
    pub(crate) fn error_mm(&self, constants: &Calibration, lift_mm: f64) -> f64 {
        let code = self.home + lift_mm / self.slope;
        let curve = &constants.stand_off;
        let d = code - f64::from(PIVOT_CODE);
        let s = curve.origin.mm()
            + d * f64::from(curve.slope_pm_per_code) * 1e-9
            + d * d * f64::from(curve.curvature_fm_per_code2) * 1e-12;
        s + constants.zero.mm() - (self.first_mm + lift_mm)
    }
}

pub(crate) fn gauge() -> Gauge {
    Gauge { heights_mm: LABEL_MM.to_vec(), u_mm: 0.006, lamp: Lamp::Own }
}
