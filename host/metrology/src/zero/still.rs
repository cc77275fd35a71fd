//! Raw codes gathered while nothing moves.

use crate::measure::allan;
use serde::{Deserialize, Serialize};
use skimgauge_shared::calibration::{CELL_STOP_CODE, STAND_OFF_CODES};
use skimgauge_shared::message::Codes;
use skimgauge_shared::reading::{Absence, Sample};
use thiserror::Error;

/// Fewest readings that make a mean.
const LEAST: usize = 50;
/// Between the first and the last third the stand-off may move by so many codes (about 0.02 mm).
const MOVED_CODES: f64 = 24.0;

/// And the tilt by so many (about 0.03 degrees).
const TURNED_CODES: f64 = 6.0;

/// Means of raw codes over a stretch in which nothing moved.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Still {
    /// Stand-off, codes.
    pub stand_off: f64,
    /// Standard uncertainty of that mean, codes.
    pub stand_off_u: f64,
    /// Outer cell, codes.
    pub outer: f64,
    /// Inner cell, codes.
    pub inner: f64,
    /// Inclinometer X (level) and Y (lean), codes; `None` if it did not answer throughout.
    pub angles: Option<[f64; 2]>,
    /// Temperature, degrees Celsius.
    pub temperature_c: Option<f64>,
    /// Readings averaged.
    pub readings: u32,
}

/// One reading while the slide is rolled, codes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RollPoint {
    /// Stand-off.
    pub stand_off: f64,
    /// Outer cell.
    pub outer: f64,
    /// Inner cell.
    pub inner: f64,
}

/// Why a stretch gives no mean.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum StillError {
    /// Too few readings.
    #[error("Only {readings} readings came; {LEAST} are needed. Hold still for another second.")]
    TooFew {
        /// Readings gathered.
        readings: usize,
    },
    /// A channel had no value.
    #[error("The head reported {0:?} in between. See what is wrong, then try this step again.")]
    Absent(Absence),
    /// The laser's spot is not where it belongs.
    #[error(
        "The distance sensor does not see its spot in range. Put the block or the plate under it, roll the slide toward the middle of its travel, and try this step again."
    )]
    NoSpot,
    /// A cell is blinded.
    #[error("The eye is blinded. Shade it from sun and lamps and try this step again.")]
    TooMuchLight,
    /// The head turned.
    #[error(
        "The head turned meanwhile (by about {degrees:.2} degrees). Let go of it and try this step again."
    )]
    Turned {
        /// By about so much, degrees.
        degrees: f64,
    },
    /// Something moved.
    #[error(
        "The head or its slide moved meanwhile (by about {mm:.2} mm). Let go of it and try this step again."
    )]
    Moved {
        /// By about so much, mm.
        mm: f64,
    },
}

impl Still {
    /// The same, if the laser saw its spot in range and no cell was blinded: what a block needs. (A
    /// reversal or the dark needs neither.)
    ///
    /// # Errors
    /// What is missing.
    pub fn seeing(self) -> Result<Self, StillError> {
        let spot = STAND_OFF_CODES.contains(&(self.stand_off.round() as i32));
        if !spot {
            return Err(StillError::NoSpot);
        }
        let stop = f64::from(CELL_STOP_CODE);
        if self.outer >= stop || self.inner >= stop {
            Err(StillError::TooMuchLight)
        } else {
            Ok(self)
        }
    }
}

/// Gathers raw codes.
#[derive(Debug, Clone, Default)]
pub struct Gathering {
    converter: Vec<[i32; 3]>,
    angles: Vec<[i16; 2]>,
    absent: Option<Absence>,
    tilt_absent: bool,
    temperature_c: Option<f64>,
}

impl Gathering {
    /// Raw codes of one reading.
    pub fn codes(&mut self, codes: &Codes) {
        match codes.converter {
            Sample::Value(codes) => self.converter.push(codes),
            Sample::Absent(absence) => self.absent = Some(absence),
        }
        match codes.angles {
            Sample::Value(angles) => self.angles.push(angles),
            Sample::Absent(_) => self.tilt_absent = true,
        }
    }

    /// The head's temperature, degrees Celsius.
    pub fn temperature(&mut self, temperature_c: f64) {
        self.temperature_c = Some(temperature_c);
    }

    /// Readings gathered.
    pub fn readings(&self) -> usize {
        self.converter.len()
    }

    /// The readings one by one, for a roll.
    pub fn roll(&self) -> Vec<RollPoint> {
        let codes = |c: i32| f64::from(c) / 16.0;
        self.converter
            .iter()
            .map(|&[s, a, b]| RollPoint { stand_off: codes(s), outer: codes(a), inner: codes(b) })
            .collect()
    }

    /// Their mean, if nothing moved and nothing failed.
    ///
    /// # Errors
    /// Why there is none.
    pub fn still(&self) -> Result<Still, StillError> {
        if let Some(absence) = self.absent {
            return Err(StillError::Absent(absence));
        }
        let n = self.converter.len();
        if n < LEAST {
            return Err(StillError::TooFew { readings: n });
        }
        let channel =
            |k: usize| self.converter.iter().map(|c| f64::from(c[k]) / 16.0).collect::<Vec<_>>();
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        let stand_off = channel(0);
        let moved = mean(&stand_off[n - n / 3..]) - mean(&stand_off[..n / 3]);
        if moved.abs() > MOVED_CODES {
            return Err(StillError::Moved { mm: moved.abs() / 1_200.0 });
        }
        let m = n / 6;
        let carried = |m: usize| {
            allan::overlapping(&stand_off, m).unwrap_or(0.0) * (m as f64 / n as f64).sqrt()
        };
        let codes = |k: usize| self.angles.iter().map(move |a| f64::from(a[k])).collect::<Vec<_>>();
        for angles in [codes(0), codes(1)] {
            let third = angles.len() / 3;
            if third > 0 {
                let turned = mean(&angles[angles.len() - third..]) - mean(&angles[..third]);
                if turned.abs() > TURNED_CODES {
                    return Err(StillError::Turned {
                        degrees: turned.abs() * super::ANGLE_STEP_DEG,
                    });
                }
            }
        }
        let tilted = !self.tilt_absent && !self.angles.is_empty();
        let angles = tilted.then(|| {
            [0, 1].map(|k| {
                self.angles.iter().map(|a| f64::from(a[k])).sum::<f64>() / self.angles.len() as f64
            })
        });
        Ok(Still {
            stand_off: mean(&stand_off),
            stand_off_u: carried(1).max(carried(m)),
            outer: mean(&channel(1)),
            inner: mean(&channel(2)),
            angles,
            temperature_c: self.temperature_c,
            readings: n as u32,
        })
    }
}
