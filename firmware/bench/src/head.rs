//! The head as a piece of hardware: its body's figures, its true constants, which a zero has to
//! find, and how it is held.

use crate::noise::Noise;
use skimgauge_shared::identity::SerialNumber;

/// From the laser's spot up to the eye, mm. This and the body's other figures are those of
/// `hardware/body/params.toml`; a test holds them together.
pub const SPOT_TO_EYE_MM: f64 = 10.0;
/// Between the two lower feet, mm.
pub const STANCE_ACROSS_MM: f64 = 60.0;
/// From the line of the lower feet to the upper foot, mm.
pub const STANCE_UP_MM: f64 = 40.0;
/// From the eye down to the upper foot, mm.
pub const UPPER_FOOT_MM: f64 = 20.0;
/// Grit under a foot or unevenness of the board there, at most, mm.
pub const GRIT_MM: f64 = 0.08;
/// Play of the swivel along the board normal, either way at most, mm.
pub const SWIVEL_PLAY_MM: f64 = 0.005;
/// The swivel turns so far to either side of up, degrees.
pub const SWIVEL_RANGE_DEG: f64 = 100.0;
/// The slit in front of the pixels, mm: its width, and how far before them.
pub const SLIT_WIDTH_MM: f64 = 3.0;
/// See [`SLIT_WIDTH_MM`].
pub const SLIT_DEPTH_MM: f64 = 4.2;
/// Laser distance sensor's datum over the plane of the feet, as drawn, mm.
pub const LASER_STANDOFF_MM: f64 = 33.0;
/// The first pixel's middle over that plane, as drawn, mm.
pub const WINDOW_LOW_MM: f64 = 0.4;

/// Divider between the laser distance sensor and the converter (`hardware/sums.md`). All volts of
/// the sensor here are behind it.
const DIVIDER: f64 = 0.5485;
/// Nominal slope of the laser distance sensor, V per mm: 1 V to 5 V over its range.
pub const STANDOFF_V_PER_MM: f64 = 4.0 * DIVIDER / (STANDOFF_FAR_MM - STANDOFF_NEAR_MM);
/// Nominal output at [`STANDOFF_NEAR_MM`], V.
pub const STANDOFF_V_AT_NEAR: f64 = DIVIDER;
/// Nearest stand-off that the sensor measures, mm.
pub const STANDOFF_NEAR_MM: f64 = 20.0;
/// Farthest stand-off that the sensor measures, mm.
pub const STANDOFF_FAR_MM: f64 = 50.0;
/// Its middle, mm.
const STANDOFF_MIDDLE_MM: f64 = (STANDOFF_NEAR_MM + STANDOFF_FAR_MM) / 2.0;
/// Output when the spot is lost or too far, V.
pub const NO_SPOT_V: f64 = 3.02;
/// Output when the board is too near, V.
pub const TOO_NEAR_V: f64 = 0.05;
/// Supply when all is well, V.
pub const SUPPLY_V: f64 = 5.0;

/// What the laser distance sensor's output means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Characteristic {
    /// Output at [`STANDOFF_NEAR_MM`], V.
    pub v_at_near: f64,
    /// V per mm; below zero it falls with the distance.
    pub v_per_mm: f64,
    /// When the spot is lost or too far, V.
    pub lost_v: f64,
    /// When something is too near, V.
    pub too_near_v: f64,
}

impl Characteristic {
    /// Rises with the distance, and past its end when the spot is lost.
    pub const RISING: Self = Self {
        v_at_near: STANDOFF_V_AT_NEAR,
        v_per_mm: STANDOFF_V_PER_MM,
        lost_v: NO_SPOT_V,
        too_near_v: TOO_NEAR_V,
    };
    /// Falls with the distance, and to nothing when the spot is lost.
    pub const FALLING: Self = Self {
        v_at_near: 5.0 * DIVIDER,
        v_per_mm: -STANDOFF_V_PER_MM,
        lost_v: 0.0,
        too_near_v: NO_SPOT_V,
    };

    /// Output at a distance inside the range, V.
    pub fn volts(&self, standoff_mm: f64) -> f64 {
        self.v_at_near + (standoff_mm - STANDOFF_NEAR_MM) * self.v_per_mm
    }
}

/// How the laser distance sensor's reading differs from the truth:
/// `offset + scale (s - 35) + quadratic ((s - 35) / 15)^2 + per_k (T - 20)`, mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StandoffError {
    /// At mid-range and 20 degrees Celsius, mm.
    pub offset_mm: f64,
    /// Relative slope error.
    pub scale: f64,
    /// At either end of the range, mm.
    pub quadratic_mm: f64,
    /// Temperature coefficient, mm per kelvin.
    pub per_k_mm: f64,
}

impl StandoffError {
    /// The error at a stand-off and a temperature, mm.
    pub fn at_mm(&self, standoff_mm: f64, temperature_c: f64) -> f64 {
        let from_middle_mm = standoff_mm - STANDOFF_MIDDLE_MM;
        let half_mm = (STANDOFF_FAR_MM - STANDOFF_NEAR_MM) / 2.0;
        self.offset_mm
            + self.scale * from_middle_mm
            + self.quadratic_mm * (from_middle_mm / half_mm).powi(2)
            + self.per_k_mm * (temperature_c - 20.0)
    }
}

/// The head's true constants.
#[derive(Debug, Clone, PartialEq)]
pub struct Head {
    /// The memory's factory serial number.
    pub serial: [u8; 16],
    /// The inclinometer's SERIAL1 and SERIAL2.
    pub inclinometer_serial: [u16; 2],
    /// Laser distance sensor's datum over the plane of the feet, mm.
    pub standoff_mm: f64,
    /// The first pixel's middle over the plane of the feet, where the eye is, mm.
    pub first_pixel_mm: f64,
    /// Direction from the eye to the laser's spot off straight down, degrees.
    pub spot_off_deg: f64,
    /// What the laser distance sensor's output means.
    pub characteristic: Characteristic,
    /// Error of the laser distance sensor.
    pub standoff_error: StandoffError,
    /// Drift of the converter's gain, divider included, per kelvin from 20 degrees Celsius.
    pub converter_gain_per_k: f64,
    /// How the inclinometer sits turned in the head: level and lean, degrees. Reversal finds it.
    pub tilt_offset_deg: [f64; 2],
    /// Zero error of the inclinometer's axes X (right) and Y (into the board) at 20 degrees
    /// Celsius, g.
    pub tilt_bias_g: [f64; 2],
    /// Temperature coefficient of the zero error, g per kelvin.
    pub tilt_bias_g_per_k: [f64; 2],
    /// Relative error of the converter's sampling period.
    pub converter_period_error: f64,
    /// How much warmer than the room the head becomes, K.
    pub warm_up_k: f64,
    /// Time constant of warming up, s.
    pub warm_up_s: f64,
    /// White noise of one stand-off conversion, mm.
    pub standoff_noise_mm: f64,
    /// Slow drift of the stand-off sensor, mm.
    pub standoff_drift_mm: f64,
}

impl Head {
    /// A head without any error or noise.
    pub fn exact() -> Self {
        Self {
            serial: *b"SIM\0-HEAD-0000-0",
            inclinometer_serial: [0x1234, 0x5678],
            standoff_mm: LASER_STANDOFF_MM,
            first_pixel_mm: WINDOW_LOW_MM,
            spot_off_deg: 0.0,
            characteristic: Characteristic::RISING,
            standoff_error: StandoffError::default(),
            converter_gain_per_k: 0.0,
            tilt_offset_deg: [0.0; 2],
            tilt_bias_g: [0.0; 2],
            tilt_bias_g_per_k: [0.0; 2],
            converter_period_error: 0.0,
            warm_up_k: 0.0,
            warm_up_s: 480.0,
            standoff_noise_mm: 0.0,
            standoff_drift_mm: 0.0,
        }
    }

    /// The head of a seed, made to the body's tolerances.
    pub fn new(seed: u64) -> Self {
        let mut noise = Noise::new(seed, 2);
        let mut serial = [0; 16];
        for byte in &mut serial {
            *byte = noise.bits() as u8;
        }
        // It says that it is none of a maker's, to whatever program reads it.
        serial[..4].copy_from_slice(&SerialNumber::SIMULATED);
        let mut pair = |sigma: f64| [noise.normal(sigma), noise.normal(sigma)];
        let tilt_offset_deg = pair(0.3);
        let tilt_bias_g = pair(1e-3);
        let tilt_bias_g_per_k = pair(20e-6);
        Self {
            serial,
            inclinometer_serial: [noise.bits() as u16, noise.bits() as u16],
            standoff_mm: LASER_STANDOFF_MM + noise.uniform(-0.5, 0.5),
            first_pixel_mm: WINDOW_LOW_MM + noise.uniform(-0.1, 0.1),
            spot_off_deg: noise.uniform(-0.5, 0.5),
            standoff_error: StandoffError {
                offset_mm: noise.normal(0.15),
                scale: noise.normal(0.004),
                quadratic_mm: noise.normal(0.02),
                per_k_mm: noise.normal(0.002),
            },
            // Converter at most 40, divider at most half of 50 ppm/K (data sheets, from memory).
            converter_gain_per_k: noise.uniform(-65e-6, 65e-6),
            tilt_offset_deg,
            tilt_bias_g,
            tilt_bias_g_per_k,
            converter_period_error: noise.uniform(-0.1, 0.1),
            warm_up_k: noise.uniform(3.0, 5.0),
            standoff_noise_mm: 0.010,
            standoff_drift_mm: 0.005,
            ..Self::exact()
        }
    }

    /// Its zero: what is to be added to stand-off and middle (over the first pixel) for the gap,
    /// mm.
    pub fn z0_mm(&self) -> f64 {
        self.first_pixel_mm - self.standoff_mm
    }

    /// The laser's spot as seen from the eye: right and up, mm.
    pub fn spot_mm(&self) -> (f64, f64) {
        let (sin, cos) = self.spot_off_deg.to_radians().sin_cos();
        (SPOT_TO_EYE_MM * sin, -SPOT_TO_EYE_MM * cos)
    }
}

/// Where the head stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    /// Clipped to the board, its eye at a point of the image's frame.
    Board {
        /// Right of the image's middle, mm.
        x_mm: f64,
        /// Above the image's top edge, mm.
        y_mm: f64,
    },
    /// On a flat plate.
    Plate(Plate),
    /// Held against the emitter, to take its lean and level; laser and eye see nothing.
    Emitter,
    /// In the hand: laser and eye see nothing, the tilt wanders.
    Hand,
}

/// A flat plate with two parallel faces that no emitter shines over: where a head is turned end for
/// end, or stands before the gauge away from a board.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Plate {
    /// Gauge block that lies on the plate under the laser's spot, mm; 0 for none.
    pub block_mm: f64,
    /// The laser distance sensor reads so much more on this plate than on a gauge block, mm.
    pub laser_mm: f64,
    /// True level and lean of the plate's front face, degrees. -90 lean is a plate that lies face
    /// up.
    pub level_deg: f64,
    /// See `level_deg`.
    pub lean_deg: f64,
}

/// How the head is turned on its seat.
///
/// A turn about the face's normal changes the sign of level, but not of the zero error of the axis
/// into the board: on one upright face lean cannot be separated from that error. The other face of
/// a plate changes the sign of both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Attitude {
    /// As it is used.
    #[default]
    Upright,
    /// Turned end for end: on the other face of the plate, half a turn about the upright axis.
    Reversed,
    /// Upside down on the same face: half a turn about its normal.
    UpsideDown,
}

/// What one clipping brings with it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Seat {
    /// How far each foot stands off the face, mm: the upper one, the left and the right lower one.
    pub feet_mm: [f64; 3],
    /// Where the eye stands in its swivel's play, mm.
    pub swivel_mm: f64,
    /// What the laser reads more or less on the very spot that it hits here, mm.
    pub laser_mm: f64,
    /// Error of level (the clip, turned about the board normal), degrees. Lean comes from the feet.
    pub level_deg: f64,
}

/// How seats scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seating {
    /// Unevenness under each foot on a face that was wiped, standard deviation, mm.
    pub uneven_mm: f64,
    /// Lean that grit under the feet brings, anything up to this either way alike, as height of
    /// the upper foot over the lower two, mm.
    pub grit_mm: f64,
    /// Play of the swivel, anything up to this either way alike, mm.
    pub swivel_mm: f64,
    /// The clip's level, standard deviation, degrees.
    pub level_deg: f64,
}

impl Seating {
    /// A face that was wiped: 0.012 mm under a foot lean the head by 0.02 degrees. Common practice,
    /// no source.
    pub const WIPED: Self =
        Self { uneven_mm: 0.012, grit_mm: 0.0, swivel_mm: SWIVEL_PLAY_MM, level_deg: 0.01 };
    /// All the grit that the body's figures allow for.
    pub const GRITTY: Self = Self { grit_mm: GRIT_MM, ..Self::WIPED };
    /// Every seat the same.
    pub const EXACT: Self = Self { uneven_mm: 0.0, grit_mm: 0.0, swivel_mm: 0.0, level_deg: 0.0 };

    /// A fresh clipping on a face whose texture moves the laser by `texture_mm` (standard
    /// deviation).
    pub fn seat(&self, texture_mm: f64, noise: &mut Noise) -> Seat {
        let mut feet_mm = [0, 1, 2].map(|_| noise.normal(self.uneven_mm));
        feet_mm[0] += noise.uniform(-1.0, 1.0) * self.grit_mm;
        Seat {
            feet_mm,
            swivel_mm: noise.uniform(-1.0, 1.0) * self.swivel_mm,
            laser_mm: noise.normal(texture_mm),
            level_deg: noise.normal(self.level_deg),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Characteristic, STANDOFF_FAR_MM, STANDOFF_NEAR_MM, Seating};
    use crate::noise::Noise;

    #[test]
    fn both_characteristics_stay_within_the_converters_range_and_away_from_their_lost_levels() {
        for of in [Characteristic::RISING, Characteristic::FALLING] {
            for standoff_mm in [STANDOFF_NEAR_MM, STANDOFF_FAR_MM] {
                let volts = of.volts(standoff_mm);
                assert!((0.2..=2.9).contains(&volts));
                assert!((volts - of.lost_v).abs() > 0.2 && (volts - of.too_near_v).abs() > 0.15);
            }
        }
    }

    /// 0.08 mm over 40 mm are 2 mrad, equally likely inside: 2 / root 3.
    #[test]
    fn gritty_seats_lean_as_the_bodys_figures_allow() {
        let mut noise = Noise::new(1, 0);
        let seating = Seating { uneven_mm: 0.0, ..Seating::GRITTY };
        let leans: Vec<f64> = (0..20_000)
            .map(|_| seating.seat(0.0, &mut noise).feet_mm)
            .map(|[upper, left, right]| (upper - (left + right) / 2.0) / 40.0 * 1e3)
            .collect();
        assert!(leans.iter().all(|lean| lean.abs() <= 2.0));
        let sigma = (leans.iter().map(|lean| lean * lean).sum::<f64>() / 20_000.0).sqrt();
        assert!((sigma - 2.0 / 3f64.sqrt()).abs() < 0.02, "{sigma}");
    }
}
