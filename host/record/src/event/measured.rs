//! What was measured, and with what.

use serde::{Deserialize, Serialize};
use serde_json::Value;
use skimgauge_model::{Phase, Verdict};
use skimgauge_quantity::{Celsius, Deg, Mm};

use super::{Looked, Sayer, TakeFlag};
use crate::chain::Hash;

/// The instrument that measured.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// Serial number.
    pub serial: String,
    /// Firmware version.
    pub firmware: String,
    /// Day of its last zero, `2026-11-20`.
    pub calibration_date: Option<String>,
    /// Hash of its calibration constants as the head holds them.
    pub calibration_sha256: Option<Hash>,
}

/// The calibration with which takes from here on were computed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CalibrationUsed {
    /// Whose.
    pub head: Head,
    /// Constant added to every gap.
    #[serde(rename = "zero_mm")]
    pub zero: Mm,
    /// Standard uncertainty of it.
    #[serde(rename = "u_zero_mm")]
    pub u_zero: Mm,
    /// Its degrees of freedom; absent when not limited.
    pub dof: Option<f64>,
    /// All constants, as the computing part names them.
    pub constants: Value,
}

/// How it was known that the head had come to the station since the take before.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "how", rename_all = "kebab-case")]
pub enum Came {
    /// Nothing was taken before since the program began: nobody knew where the head stood, and
    /// nobody was asked.
    First,
    /// The last take was made at this station as well.
    Same,
    /// The laser's spot was lost and found again since the last take.
    Seen,
    /// The person was asked whether the head is at this station, and said that it is.
    Said {
        /// The station where the head was last known to be, if it was known at all.
        last_at: Option<String>,
    },
}

/// One settled, accepted reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Take {
    /// Name of the station.
    pub station: String,
    /// Right of the image's middle.
    #[serde(rename = "x_mm")]
    pub x: Mm,
    /// Above the image's top edge.
    #[serde(rename = "y_mm")]
    pub y: Mm,
    /// Which state of the installation.
    pub phase: Phase,
    /// Which round over the stations, from 1.
    pub round: u32,
    /// Touch plane to board face.
    #[serde(rename = "gap_mm")]
    pub gap: Mm,
    /// Standard uncertainty of the gap, of this take alone (what all takes share is not in it).
    #[serde(rename = "u_gap_mm")]
    pub u_gap: Mm,
    /// Its degrees of freedom; absent when not limited.
    pub dof: Option<f64>,
    /// Readings averaged.
    pub readings: u32,
    /// Length of the window they were averaged over, s.
    pub window_s: f64,
    /// Tilt of the head along the station's edge.
    #[serde(rename = "tilt_deg")]
    pub tilt: Option<Deg>,
    /// Level: turn in the board's plane.
    #[serde(rename = "level_deg")]
    pub level: Option<Deg>,
    /// Lean toward the board.
    #[serde(rename = "lean_deg")]
    pub lean: Option<Deg>,
    /// Temperature in the head.
    #[serde(rename = "temperature_c")]
    pub temperature: Option<Celsius>,
    /// How this station alone stands, with all seats so far.
    pub verdict: Option<Verdict>,
    /// What measured.
    pub head: Head,
    /// What the person should know of it.
    pub flags: Vec<TakeFlag>,
    /// The earlier take that this one replaces. That one stays in the record.
    pub supersedes: Option<Hash>,
    /// How it was known that the head had come to the station; absent in records that did not ask.
    pub came: Option<Came>,
    /// By which way the word for it came; absent in records that did not keep it.
    pub by: Option<Sayer>,
}

/// The tilt of the emitter, taken with the head on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EmitterTilt {
    /// Which state of the installation.
    pub phase: Phase,
    /// Which round, from 1.
    pub round: u32,
    /// Level: turn in the board's plane.
    #[serde(rename = "level_deg")]
    pub level: Deg,
    /// Lean toward the board.
    #[serde(rename = "lean_deg")]
    pub lean: Deg,
    /// Standard uncertainty of either.
    #[serde(rename = "u_deg")]
    pub u: Deg,
    /// What measured.
    pub head: Head,
    /// By which way the word for it came; absent in records that did not keep it.
    pub by: Option<Sayer>,
}

/// The emitter was switched off for a moment, to see whether a line of light stays that is no sheet;
/// or nobody looked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EmitterOff {
    /// What was seen.
    pub saw: Looked,
    /// The gap that a line of light reads as.
    #[serde(rename = "gap_mm")]
    pub gap: Option<Mm>,
    /// What looked.
    pub head: Head,
}

/// The installation is left as these takes found it. They are referred to, not written again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AsLeft {
    /// The takes that stand, each once.
    pub takes: Vec<Hash>,
    /// The emitter's tilt that stands, if it was taken.
    pub tilt: Option<Hash>,
}

/// One line of an uncertainty budget, after JCGM 100 (GUM) 5.1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BudgetLine {
    /// Where it comes from.
    pub source: String,
    /// The figure as found, in `unit`.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// `normal`, `rectangular`, `triangular`.
    pub distribution: String,
    /// What turns the figure into a standard uncertainty.
    pub divisor: f64,
    /// Change of the result per unit.
    pub sensitivity: f64,
    /// Standard uncertainty of the result from this source, in the result's unit.
    pub contribution: f64,
    /// Its degrees of freedom; absent when not limited.
    pub dof: Option<f64>,
    /// Its share of the variance, 0 to 1.
    pub share: f64,
}

/// The head's constants were found anew.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Calibrated {
    /// The head, as it was before.
    pub head: Head,
    /// Constants before.
    pub before: Option<Value>,
    /// Constants after; absent when the head was left as it was.
    pub after: Option<Value>,
    /// What it was held against: block, its size, its certificate.
    pub reference: String,
    /// The budget of the new zero.
    pub budget: Vec<BudgetLine>,
    /// How the gap scattered from seat to seat on the board: each less the mean of all. Empty where
    /// nothing was read there, and in what earlier programs wrote.
    #[serde(rename = "seats_mm")]
    pub seats: Vec<Mm>,
}

/// The head's zero was held against the gauge on this job's board, and the head left as it was.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ZeroChecked {
    /// The head.
    pub head: Head,
    /// Its constants, as the computing part names them.
    pub constants: Value,
    /// What it was held against.
    pub reference: String,
    /// The gap that was known there.
    #[serde(rename = "known_mm")]
    pub known: Mm,
    /// What the head said, less that.
    #[serde(rename = "error_mm")]
    pub error: Mm,
    /// Expanded uncertainty of it (95 %).
    #[serde(rename = "expanded_u_mm")]
    pub expanded_u: Mm,
    /// Within: the zero holds; outside: it does not.
    pub verdict: Verdict,
}
