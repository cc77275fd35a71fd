//! What is gathered while nothing moves: raw codes of the stand-off, tilt, whole profiles.

use super::slits::{self, Line};
use crate::measure::allan;
use serde::{Deserialize, Serialize};
use skimgauge_shared::calibration::StandOffCurve;
use skimgauge_shared::pixels::{PIXELS, Pixels};
use skimgauge_shared::reading::{Absence, Sample, TiltSteps};
use thiserror::Error;

/// Fewest readings that make a mean.
const LEAST: usize = 50;
/// Fewest profiles that make one.
const LEAST_PROFILES: usize = 5;
/// Between the first and the last third the stand-off may move by so many codes (about 0.02 mm)...
const MOVED_CODES: f64 = 12.0;
/// ...of which the nominal sensor has so many a millimetre.
const CODES_A_MM: f64 = 585.0;
/// And the tilt by so many steps (about 0.03 degrees).
const TURNED_STEPS: f64 = 6.0;
/// A line of light stands where it stood in the scan before, to this, mm.
const SAME_LINE_MM: f64 = 0.3;
/// Codes from here on are at the converter's or the pixels' stop.
const STOP: u16 = 3_400;

/// Mean of whole profiles.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mean {
    /// Of each pixel, raw codes.
    pub codes: Vec<f64>,
    /// Standard uncertainty of a pixel's mean by its scatter from scan to scan, codes.
    pub noise: f64,
    /// Scans.
    pub scans: u32,
    /// Standard uncertainty of a line's mean middle by its scatter from scan to scan, mm.
    pub line_u_mm: f64,
    /// Some pixels were at their stop.
    pub at_stop: bool,
}

impl Mean {
    /// Of some scans.
    pub fn of(scans: &[Vec<u16>]) -> Option<Self> {
        if scans.is_empty() || scans.iter().any(|scan| scan.len() != PIXELS) {
            return None;
        }
        let n = scans.len() as f64;
        let codes: Vec<f64> = (0..PIXELS)
            .map(|at| scans.iter().map(|scan| f64::from(scan[at])).sum::<f64>() / n)
            .collect();
        // From one scan to the next, so that a slow change of the light is no noise: half the mean
        // square of successive differences (von Neumann).
        let squares: f64 = scans
            .windows(2)
            .flat_map(|pair| pair[0].iter().zip(&pair[1]))
            .map(|(a, b)| (f64::from(*a) - f64::from(*b)).powi(2))
            .sum();
        let pairs = (PIXELS * scans.len().saturating_sub(1)).max(1) as f64;
        // Codes are whole: less than a twelfth's root no mean is known.
        let noise = ((squares / pairs / 2.0).sqrt().max(1.0 / 12f64.sqrt())) / n.sqrt();
        let at_stop = scans.iter().flatten().filter(|code| **code >= STOP).count() > scans.len();
        let line_u_mm = line_u_mm(scans, &codes);
        Some(Self { codes, noise, scans: scans.len() as u32, line_u_mm, at_stop })
    }

    /// Lines of light in it, its pixels made equal by a table.
    pub fn lines(&self, table: Option<&Pixels>) -> Vec<Line> {
        slits::lines(&slits::equal(&self.codes, table))
    }
}

/// The widest scatter that a line of the mean has from scan to scan, over root of their number.
fn line_u_mm(scans: &[Vec<u16>], mean: &[f64]) -> f64 {
    let lines = slits::lines(mean);
    let each: Vec<Vec<Line>> = scans
        .iter()
        .map(|scan| slits::lines(&scan.iter().map(|code| f64::from(*code)).collect::<Vec<_>>()))
        .collect();
    let scatter = |line: &Line| {
        let places: Vec<f64> = each
            .iter()
            .filter_map(|lines| {
                let off = |l: &&Line| (l.middle_mm - line.middle_mm).abs();
                lines
                    .iter()
                    .min_by(|a, b| off(a).total_cmp(&off(b)))
                    .filter(|l| off(l) < SAME_LINE_MM)
            })
            .map(|line| line.middle_mm)
            .collect();
        let n = places.len() as f64;
        if places.len() < 2 {
            return 0.0;
        }
        let middle = places.iter().sum::<f64>() / n;
        (places.iter().map(|p| (p - middle).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt()
    };
    lines.iter().map(scatter).fold(0.0, f64::max)
}

/// Means over a stretch in which nothing moved.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Still {
    /// Stand-off, codes.
    pub stand_off: f64,
    /// Standard uncertainty of that mean, codes.
    pub stand_off_u: f64,
    /// Inclinometer X (level) and Y (lean), its own steps; `None` if it did not answer throughout.
    pub angles: Option<[f64; 2]>,
    /// Temperature, degrees Celsius.
    pub temperature_c: Option<f64>,
    /// Readings averaged.
    pub readings: u32,
    /// What the eye saw; `None` if too few profiles came.
    pub profile: Option<Mean>,
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
    /// Too few profiles.
    #[error(
        "Only {profiles} of the eye's profiles came; {LEAST_PROFILES} are needed. Try this step again; if it comes back, unplug the head and plug it in again."
    )]
    NoProfiles {
        /// Profiles gathered.
        profiles: usize,
    },
    /// A channel had no value.
    #[error("The head reported {0:?} in between. See what is wrong, then try this step again.")]
    Absent(Absence),
    /// The laser's spot is not where it belongs.
    #[error(
        "The distance sensor does not see its spot in range. Stand the head on the board with all three feet, nothing in the laser's way, and try this step again."
    )]
    NoSpot,
    /// Pixels are at their stop.
    #[error("{}", slits::NoSlit::TooBright)]
    TooMuchLight,
    /// The inclinometer did not answer.
    #[error(
        "The inclinometer did not answer. Unplug the head, plug it in again, and try this step again."
    )]
    NoTilt,
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
        "The head moved meanwhile (by about {mm:.2} mm). Let go of it and try this step again."
    )]
    Moved {
        /// By about so much, mm.
        mm: f64,
    },
}

impl Still {
    /// The same, if the laser saw its spot in range and the eye its profiles: what the gauge needs.
    ///
    /// # Errors
    /// What is missing.
    pub fn seeing(self, curve: &StandOffCurve) -> Result<Self, StillError> {
        let range = f64::from(curve.lowest)..=f64::from(curve.highest);
        if !range.contains(&self.stand_off) {
            return Err(StillError::NoSpot);
        }
        match &self.profile {
            None => Err(StillError::NoProfiles { profiles: 0 }),
            Some(profile) if profile.at_stop => Err(StillError::TooMuchLight),
            Some(_) => Ok(self),
        }
    }

    /// The same, if the inclinometer answered: what a reversal needs.
    ///
    /// # Errors
    /// It did not.
    pub fn tilted(self) -> Result<Self, StillError> {
        if self.angles.is_some() { Ok(self) } else { Err(StillError::NoTilt) }
    }
}

/// Gathers.
#[derive(Debug, Clone, Default)]
pub struct Gathering {
    stand_off: Vec<i32>,
    angles: Vec<[i16; 2]>,
    absent: Option<Absence>,
    tilt_absent: bool,
    temperature_c: Option<f64>,
    scans: Vec<Vec<u16>>,
}

impl Gathering {
    /// The stand-off's raw code of one reading, sixteenths.
    pub fn stand_off(&mut self, code: Sample<i32>) {
        match code {
            Sample::Value(code) => self.stand_off.push(code),
            Sample::Absent(absence) => self.absent = Some(absence),
        }
    }

    /// The inclinometer's steps of one reading.
    pub fn tilt(&mut self, tilt: Sample<TiltSteps>) {
        match tilt {
            Sample::Value(tilt) => self.angles.push([tilt.level, tilt.lean]),
            Sample::Absent(_) => self.tilt_absent = true,
        }
    }

    /// The head's temperature, degrees Celsius.
    pub fn temperature(&mut self, temperature_c: f64) {
        self.temperature_c = Some(temperature_c);
    }

    /// A whole profile, raw codes.
    pub fn profile(&mut self, codes: &[u16]) {
        if codes.len() == PIXELS {
            self.scans.push(codes.to_vec());
        }
    }

    /// Readings gathered.
    pub fn readings(&self) -> usize {
        self.stand_off.len().max(self.angles.len())
    }

    /// Profiles gathered.
    pub fn profiles(&self) -> usize {
        self.scans.len()
    }

    /// What the eye saw, whatever the other channels did: for the pixels' comparison.
    ///
    /// # Errors
    /// Too few profiles came.
    pub fn seen(&self) -> Result<Mean, StillError> {
        let few = StillError::NoProfiles { profiles: self.scans.len() };
        if self.scans.len() < LEAST_PROFILES { Err(few) } else { Mean::of(&self.scans).ok_or(few) }
    }

    /// The tilt alone, if the head did not turn: for a reversal.
    ///
    /// # Errors
    /// Why there is none.
    pub fn turned(&self) -> Result<[f64; 2], StillError> {
        if self.tilt_absent || self.angles.is_empty() {
            return Err(StillError::NoTilt);
        }
        if self.angles.len() < LEAST {
            return Err(StillError::TooFew { readings: self.angles.len() });
        }
        self.did_not_turn()?;
        Ok(self.mean_angles())
    }

    fn mean_angles(&self) -> [f64; 2] {
        [0, 1].map(|k| {
            self.angles.iter().map(|a| f64::from(a[k])).sum::<f64>() / self.angles.len() as f64
        })
    }

    fn did_not_turn(&self) -> Result<(), StillError> {
        let third = self.angles.len() / 3;
        for k in [0, 1] {
            let mean = |part: &[[i16; 2]]| {
                part.iter().map(|a| f64::from(a[k])).sum::<f64>() / part.len().max(1) as f64
            };
            let turned =
                mean(&self.angles[self.angles.len() - third..]) - mean(&self.angles[..third]);
            if third > 0 && turned.abs() > TURNED_STEPS {
                let degrees = turned.abs() * super::outcome::STEP_DEG;
                return Err(StillError::Turned { degrees });
            }
        }
        Ok(())
    }

    /// The mean of all, if nothing moved and the stand-off never failed.
    ///
    /// # Errors
    /// Why there is none.
    pub fn still(&self) -> Result<Still, StillError> {
        if let Some(absence) = self.absent {
            return Err(StillError::Absent(absence));
        }
        let n = self.stand_off.len();
        if n < LEAST {
            return Err(StillError::TooFew { readings: n });
        }
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        let stand_off: Vec<f64> = self.stand_off.iter().map(|c| f64::from(*c) / 16.0).collect();
        let moved = mean(&stand_off[n - n / 3..]) - mean(&stand_off[..n / 3]);
        if moved.abs() > MOVED_CODES {
            return Err(StillError::Moved { mm: moved.abs() / CODES_A_MM });
        }
        self.did_not_turn()?;
        let m = n / 6;
        let carried = |m: usize| {
            allan::overlapping(&stand_off, m).unwrap_or(0.0) * (m as f64 / n as f64).sqrt()
        };
        let tilted = !self.tilt_absent && !self.angles.is_empty();
        Ok(Still {
            stand_off: mean(&stand_off),
            stand_off_u: carried(1).max(carried(m)),
            angles: tilted.then(|| self.mean_angles()),
            temperature_c: self.temperature_c,
            readings: n as u32,
            profile: self.seen().ok(),
        })
    }
}
