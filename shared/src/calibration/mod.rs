//! A head's constants, and the way from raw codes to engineering values. Integer arithmetic: the
//! head has no floating-point unit, and both ends get the same number from the same codes.

use crate::check::crc32;
use crate::frame::MAX_FRAME;
use crate::identity::SerialNumber;
use crate::pixels::UNCOMPARED_DIGEST;
use crate::reading::{Absence, Sample, Tilt, TiltSteps};
use crate::units::{CentiCelsius, Microdegrees, Micrometres, Millivolts, PartsPerMillion};
use heapless::String;
use serde::{Deserialize, Serialize};

/// Converter full scale is 4.096 V over 32 768 codes: 125 uV a code (ADS1115, PGA 001).
pub const CODE_UV: i32 = 125;

/// Means of codes are carried in sixteenths of a code.
pub const CODE_PARTS: i32 = 16;

/// The code about which the stand-off curve is written, near the middle of its span.
pub const PIVOT_CODE: i32 = 10_000;

/// The nominal stand-off sensor's output stays between these while it sees its spot in range,
/// codes: 1 V to 5 V through the head's divider (0.5485) is 0.549 V to 2.743 V, with 0.03 V to spare.
pub const STAND_OFF_CODES: core::ops::RangeInclusive<i16> = 4_160..=22_200;

/// At and above this (2.95 V) the nominal sensor says that it has lost its spot.
pub const NO_SPOT_CODE: i16 = 23_600;

/// A calendar day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Date {
    /// Common era.
    pub year: u16,
    /// 1 to 12.
    pub month: u8,
    /// 1 to 31.
    pub day: u8,
}

impl core::fmt::Display for Date {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

/// A head's constants, found by `zero`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Calibration {
    /// The head it was made for.
    pub head: SerialNumber,
    /// When.
    pub date: Date,
    /// By whom.
    pub by: String<16>,
    /// Stand-off curve.
    pub stand_off: StandOffCurve,
    /// Of the pixels' table that belongs to these constants, its
    /// [`digest`](crate::pixels::Pixels::digest); [`UNCOMPARED_DIGEST`]: there is none.
    pub pixels: u32,
    /// `z0`: `gap = s + m + z0`, `s` the stand-off and `m` the sheet's middle.
    pub zero: Micrometres,
    /// Standard uncertainty of `zero`.
    pub zero_u: Micrometres,
    /// What the inclinometer reads when the head is level and plumb; taken off.
    pub tilt_offset: Tilt,
}

/// `s = origin + slope (c - PIVOT_CODE) + curvature (c - PIVOT_CODE)^2 + temperature (T - T_ref)`,
/// `c` in codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StandOffCurve {
    /// Stand-off at the pivot.
    pub origin: Micrometres,
    /// Picometres per code; negative where the sensor's output falls with the distance.
    pub slope_pm_per_code: i32,
    /// Femtometres per code squared.
    pub curvature_fm_per_code2: i32,
    /// Standard uncertainty of the slope.
    pub slope_u: PartsPerMillion,
    /// Nanometres per kelvin.
    pub temperature_nm_per_k: i32,
    /// The temperature at which the rest was found.
    pub reference: CentiCelsius,
    /// The lowest code that a sensor in range gives.
    pub lowest: i16,
    /// The highest.
    pub highest: i16,
    /// How the sensor says that it has lost its spot.
    pub lost: Lost,
}

/// The codes by which a stand-off sensor says that it has lost its spot: beyond one end of its
/// range. A sensor that does not say so gets a code that never comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Lost {
    /// This code and those above.
    From(i16),
    /// This code and those below: a sensor that goes to zero.
    Below(i16),
}

impl Lost {
    fn says(self, code: i32) -> bool {
        match self {
            Self::From(lost) => code >= i32::from(lost),
            Self::Below(lost) => code <= i32::from(lost),
        }
    }
}

/// What is known of a head's calibration.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum CalibrationCheck {
    /// Read and whole.
    Good,
    /// None was ever written: nominal constants are in use.
    Missing,
    /// Both places are damaged: nominal constants are in use.
    Damaged,
    /// It was written for another head: nominal constants are in use.
    OtherHead,
    /// The memory does not answer: nominal constants are in use.
    Unreadable,
}

/// A calibration and whether it is one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CalibrationState {
    /// Whether the constants are the head's own or nominal.
    pub check: CalibrationCheck,
    /// The constants in use.
    pub calibration: Calibration,
}

impl Calibration {
    /// The constants of a head that nobody has zeroed: from the parts' nominal values, with
    /// uncertainties to match.
    pub fn nominal(head: SerialNumber) -> Self {
        Self {
            head,
            date: Date { year: 2000, month: 1, day: 1 },
            by: String::new(),
            // 1 V to 5 V over 20 mm to 50 mm, through a divider of 0.5485: 0.0731 V a millimetre,
            // 1709.2 nm a code; 1.25 V at the pivot.
            stand_off: StandOffCurve {
                origin: Micrometres(29_592),
                slope_pm_per_code: 1_709_207,
                curvature_fm_per_code2: 0,
                slope_u: PartsPerMillion(10_000),
                temperature_nm_per_k: 0,
                reference: CentiCelsius(2_000),
                lowest: *STAND_OFF_CODES.start(),
                highest: *STAND_OFF_CODES.end(),
                lost: Lost::From(NO_SPOT_CODE),
            },
            pixels: UNCOMPARED_DIGEST,
            // The body's figures: the sensor's front 33 mm from the board, the first pixel 0.4 mm.
            zero: Micrometres(-32_600),
            zero_u: Micrometres(500),
            tilt_offset: Tilt::default(),
        }
    }

    /// CRC-32/ISO-HDLC of the constants as the wire carries them: what is staged is committed by
    /// it.
    pub fn check(&self) -> u32 {
        let mut bytes = [0; MAX_FRAME];
        // No constants are longer than a frame: they come in one.
        postcard::to_slice(self, &mut bytes).map_or(0, |bytes| crc32(bytes))
    }

    /// Within what the arithmetic below and a real head allow; a calibration that is not is refused
    /// before it is staged.
    pub fn plausible(&self) -> bool {
        let curve = &self.stand_off;
        (1..=12).contains(&self.date.month)
            && (1..=31).contains(&self.date.day)
            && (2000..=2200).contains(&self.date.year)
            && (0..=100_000).contains(&curve.origin.0)
            && (400_000..=4_000_000).contains(&curve.slope_pm_per_code.unsigned_abs())
            && curve.curvature_fm_per_code2.abs() <= 20_000_000
            && curve.temperature_nm_per_k.abs() <= 100_000
            && (-4_000..=8_500).contains(&curve.reference.0)
            && (0..=1_000_000).contains(&curve.slope_u.0)
            && 0 <= curve.lowest
            && curve.lowest < curve.highest
            && !curve.lost.says(i32::from(curve.lowest))
            && !curve.lost.says(i32::from(curve.highest))
            && self.zero.0.abs() <= 100_000
            && (0..=10_000).contains(&self.zero_u.0)
            && self.tilt_offset.level.abs() <= Microdegrees(10_000_000)
            && self.tilt_offset.lean.abs() <= Microdegrees(10_000_000)
    }

    /// Stand-off from a mean converter code in sixteenths. Without a temperature the curve's own is
    /// assumed.
    pub fn stand_off(
        &self,
        code_16: i32,
        temperature: Option<CentiCelsius>,
    ) -> Sample<Micrometres> {
        let code = code_16 / CODE_PARTS;
        let curve = &self.stand_off;
        if curve.lost.says(code) {
            return Sample::Absent(Absence::NoSpot);
        }
        if !(i32::from(curve.lowest)..=i32::from(curve.highest)).contains(&code) {
            return Sample::Absent(Absence::OutOfRange);
        }
        let from_pivot = i64::from(code_16 - PIVOT_CODE * CODE_PARTS);
        let parts = i64::from(CODE_PARTS);
        let linear_pm = from_pivot * i64::from(curve.slope_pm_per_code) / parts;
        let curved_fm =
            from_pivot * from_pivot / (parts * parts) * i64::from(curve.curvature_fm_per_code2);
        let warmth = temperature.map_or(0, |t| i64::from(t.0) - i64::from(curve.reference.0));
        let warm_pm = warmth * i64::from(curve.temperature_nm_per_k) * 10;
        let off_pivot_um = rounded(linear_pm + curved_fm / 1_000 + warm_pm, 1_000_000);
        Sample::Value(Micrometres(curve.origin.0.saturating_add(off_pivot_um as i32)))
    }

    /// `gap = s + m + z0`, exact to the micrometre.
    pub fn gap(&self, stand_off: Micrometres, middle: Micrometres) -> Micrometres {
        stand_off + middle + self.zero
    }

    /// Tilt from the inclinometer's own steps: its offset taken off.
    pub fn tilt(&self, steps: TiltSteps) -> Sample<Tilt> {
        let tilt = Tilt {
            level: angle(steps.level) - self.tilt_offset.level,
            lean: angle(steps.lean) - self.tilt_offset.lean,
        };
        if tilt.level.abs() > Tilt::LIMIT || tilt.lean.abs() > Tilt::LIMIT {
            return Sample::Absent(Absence::OutOfRange);
        }
        Sample::Value(tilt)
    }
}

/// An SCL3300 angle code: two's complement, 90 degrees / 2^14 a code.
pub fn angle(code: i16) -> Microdegrees {
    Microdegrees(rounded(i64::from(code) * 90_000_000, 1 << 14) as i32)
}

/// An SCL3300 temperature code: `code / 18.9 - 273` degrees Celsius.
pub fn temperature(code: u16) -> CentiCelsius {
    let centi = rounded(i64::from(code) * 1_000, 189) - 27_300;
    CentiCelsius(centi.clamp(i64::from(i16::MIN), i64::from(i16::MAX)) as i16)
}

/// Supply from the converter's code behind its halving divider.
pub fn supply(code: i16) -> Millivolts {
    let mv = i32::from(code.max(0)) * CODE_UV * 2 / 1_000;
    Millivolts(mv as u16)
}

fn rounded(value: i64, by: i64) -> i64 {
    let half = by / 2;
    if value < 0 { (value - half) / by } else { (value + half) / by }
}

#[cfg(test)]
mod tests;
