//! The head as a piece of hardware: its true constants, which a zero has to find, and how it is
//! held.

use crate::noise::Noise;

/// Nominal slope of the laser distance sensor, V per mm.
pub const STANDOFF_V_PER_MM: f64 = 0.15;
/// Nominal output at [`STANDOFF_NEAR_MM`], V.
pub const STANDOFF_V_AT_NEAR: f64 = 0.25;
/// Nearest stand-off that the sensor measures, mm.
pub const STANDOFF_NEAR_MM: f64 = 20.0;
/// Farthest stand-off that the sensor measures, mm.
pub const STANDOFF_FAR_MM: f64 = 37.0;
/// Output when the spot is lost or too far, V.
pub const NO_SPOT_V: f64 = 3.10;
/// Output when the board is too near, V.
pub const TOO_NEAR_V: f64 = 0.05;
/// A cell's amplifier ends here, V.
pub const CELL_STOP_V: f64 = 3.0;
/// Supply when all is well, V.
pub const SUPPLY_V: f64 = 5.0;

/// How the laser distance sensor's reading differs from the truth:
/// `offset + scale (s - 28.5) + quadratic ((s - 28.5) / 8.5)^2 + per_k (T - 20)`, mm.
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
        let from_middle_mm = standoff_mm - 28.5;
        self.offset_mm
            + self.scale * from_middle_mm
            + self.quadratic_mm * (from_middle_mm / 8.5).powi(2)
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
    /// Eye's centre above the board face minus stand-off, mm: `gap = s + e + z0`.
    pub z0_mm: f64,
    /// Error of the laser distance sensor.
    pub standoff_error: StandoffError,
    /// Height of each cell along the normal, mm.
    pub cell_mm: f64,
    /// Relative gain of the outer and the inner cell.
    pub cell_gain: [f64; 2],
    /// Outputs of the cells in the dark, V.
    pub dark_v: [f64; 2],
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
    /// White noise of one conversion of a cell, V.
    pub cell_noise_v: f64,
}

impl Head {
    /// A head without any error or noise.
    pub fn exact() -> Self {
        Self {
            serial: *b"\x0aSKIM-HEAD-0000\x00",
            inclinometer_serial: [0x1234, 0x5678],
            z0_mm: -25.0,
            standoff_error: StandoffError::default(),
            cell_mm: 4.0,
            cell_gain: [1.0; 2],
            dark_v: [0.0; 2],
            tilt_offset_deg: [0.0; 2],
            tilt_bias_g: [0.0; 2],
            tilt_bias_g_per_k: [0.0; 2],
            converter_period_error: 0.0,
            warm_up_k: 0.0,
            warm_up_s: 480.0,
            standoff_noise_mm: 0.0,
            standoff_drift_mm: 0.0,
            cell_noise_v: 0.0,
        }
    }

    /// The head of a seed.
    pub fn new(seed: u64) -> Self {
        let mut noise = Noise::new(seed, 2);
        let mut serial = [0; 16];
        for byte in &mut serial {
            *byte = noise.bits() as u8;
        }
        // The family's serial numbers begin with a fixed maker and density code (from memory).
        serial[..2].copy_from_slice(&[0x29, 0x0C]);
        let mut pair =
            |sigma: f64, middle: f64| [noise.normal(sigma) + middle, noise.normal(sigma) + middle];
        let cell_gain = pair(0.01, 1.0);
        let dark_v = pair(0.004, 0.03);
        let tilt_offset_deg = pair(0.3, 0.0);
        let tilt_bias_g = pair(1e-3, 0.0);
        let tilt_bias_g_per_k = pair(20e-6, 0.0);
        Self {
            serial,
            inclinometer_serial: [noise.bits() as u16, noise.bits() as u16],
            z0_mm: -25.0 + noise.normal(0.2),
            standoff_error: StandoffError {
                offset_mm: noise.normal(0.15),
                scale: noise.normal(0.004),
                quadratic_mm: noise.normal(0.02),
                per_k_mm: noise.normal(0.002),
            },
            cell_gain,
            dark_v,
            tilt_offset_deg,
            tilt_bias_g,
            tilt_bias_g_per_k,
            converter_period_error: noise.uniform(-0.1, 0.1),
            warm_up_k: noise.uniform(3.0, 5.0),
            standoff_noise_mm: 0.010,
            standoff_drift_mm: 0.005,
            cell_noise_v: 0.0015,
            ..Self::exact()
        }
    }
}

/// Where the head stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    /// Clipped to the board at a point of the image's frame.
    Board {
        /// Right of the image's middle, mm.
        x_mm: f64,
        /// Above the image's top edge, mm.
        y_mm: f64,
    },
    /// On the zero plate.
    Plate(Plate),
    /// Held against the emitter, to take its lean and level; laser and eye see nothing.
    Emitter,
    /// In the hand: laser and eye see nothing, the tilt wanders.
    Hand,
}

/// A flat plate with two parallel faces and a sheet of light at a known height: the rig on which a
/// head is zeroed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plate {
    /// Gauge block that lies on the plate under the laser's spot, mm; 0 for none. With a block,
    /// its top takes the place of the board face: the gap is `light_mm - block_mm`.
    pub block_mm: f64,
    /// Height of the light over the plate, mm; `None` for no light.
    pub light_mm: Option<f64>,
    /// Thickness of that light, mm.
    pub thickness_mm: f64,
    /// Volts that both cells together give in it.
    pub light_v: f64,
    /// True level and lean of the plate's front face, degrees. -90 lean is a plate that lies face
    /// up.
    pub level_deg: f64,
    /// See `level_deg`.
    pub lean_deg: f64,
}

impl Default for Plate {
    fn default() -> Self {
        Self {
            block_mm: 0.0,
            light_mm: Some(5.0),
            thickness_mm: 5.0,
            light_v: 1.2,
            level_deg: 0.0,
            lean_deg: 0.0,
        }
    }
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
    /// Error of the eye's height over the spot, mm.
    pub gap_mm: f64,
    /// Errors of level and lean, degrees.
    pub tilt_deg: [f64; 2],
}

impl Seat {
    /// A fresh clipping: `seating_mm` of gap, 0.01 degrees of tilt.
    pub fn random(seating_mm: f64, noise: &mut Noise) -> Self {
        Self {
            gap_mm: noise.normal(seating_mm),
            tilt_deg: [noise.normal(0.01), noise.normal(0.01)],
        }
    }
}
