//! What each measured thing may be: one table, held to `hardware/`'s documents by a test there.

use serde::Serialize;
use skimgauge_quantity::{Deg, Figure, Mm, Sentence, plain, say};

/// In what a check's value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub enum Unit {
    /// Millimetres.
    #[serde(rename = "mm")]
    Mm,
    /// Degrees.
    #[serde(rename = "deg")]
    Deg,
    /// Volts.
    #[serde(rename = "V")]
    Volt,
    /// A count.
    #[serde(rename = "1")]
    Count,
}

impl Unit {
    /// A value of this unit, in words.
    pub fn say(self, value: f64) -> Sentence {
        match self {
            Self::Volt => say!("{} V", self.figure(value)),
            _ => say!("{}", self.figure(value)),
        }
    }

    fn figure(self, value: f64) -> Figure {
        match self {
            Self::Mm => Mm(value).fine(),
            Self::Deg => Deg(value).fine(),
            Self::Volt => plain(value, 2),
            Self::Count => plain(value, 0),
        }
    }

    fn between(self, low: f64, high: f64) -> Sentence {
        let pair = self.figure(low).to(self.figure(high));
        if self == Self::Volt { say!("{} V", pair) } else { say!("{}", pair) }
    }

    /// As a program reads it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Deg => "deg",
            Self::Volt => "V",
            Self::Count => "1",
        }
    }
}

/// What a value may be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limit {
    /// At least; `None`: any.
    pub low: Option<f64>,
    /// At most; `None`: any.
    pub high: Option<f64>,
    /// In this unit.
    pub unit: Unit,
    /// Where the figure is from.
    pub from: &'static str,
}

impl Limit {
    const fn between(low: f64, high: f64, unit: Unit, from: &'static str) -> Self {
        Self { low: Some(low), high: Some(high), unit, from }
    }

    const fn at_most(high: f64, unit: Unit, from: &'static str) -> Self {
        Self { low: None, high: Some(high), unit, from }
    }

    const fn at_least(low: f64, unit: Unit, from: &'static str) -> Self {
        Self { low: Some(low), high: None, unit, from }
    }

    /// Whether a value is as it may be; a value that is no number is not.
    pub fn holds(&self, value: f64) -> bool {
        value.is_finite()
            && self.low.is_none_or(|low| value >= low)
            && self.high.is_none_or(|high| value <= high)
    }

    /// In words.
    pub fn say(&self) -> Sentence {
        match (self.low, self.high) {
            (Some(low), Some(high)) => self.unit.between(low, high),
            (None, Some(high)) => say!("{} at most", self.unit.say(high)),
            (Some(low), None) => say!("{} at least", self.unit.say(low)),
            (None, None) => Sentence::new(),
        }
    }
}

/// 5 V behind the fuse.
pub const SUPPLY: Limit = Limit::between(4.5, 5.5, Unit::Volt, "hardware/test/bring-up.md, TP1");
/// Below this share of the lowest supply the head would not run: it is the divider that is wrong.
pub const SUPPLY_RUNS_V: f64 = 3.6;
/// On paper, feet down: the body's 33.0 mm, and 2 mm for the sensor's own offset, the nominal curve
/// and the divider; common practice, no source.
pub const STAND_OFF: Limit = Limit::between(
    31.0,
    35.0,
    Unit::Mm,
    "hardware/body/params.toml, laser_standoff, 2 mm off at most",
);
/// Standard deviation of single readings on paper: "steady to a few hundredths".
pub const STAND_OFF_NOISE: Limit = Limit::at_most(
    0.03,
    Unit::Mm,
    "hardware/assembly/6-first-start.md, steady to a few hundredths",
);
/// A sheet of paper is 0.1 mm thick.
pub const STAND_OFF_MOVES: Limit = Limit::at_least(
    0.05,
    Unit::Mm,
    "hardware/assembly/6-first-start.md, a sheet of paper under all three feet",
);
/// Standard deviation of single readings at rest; common practice, no source.
pub const TILT_NOISE: Limit = Limit::at_most(0.05, Unit::Deg, "common practice, no source");
/// Left side lifted, level falls; top leaned back, lean falls.
pub const TILT_FALLS: Limit =
    Limit::at_most(-3.0, Unit::Deg, "hardware/assembly/6-first-start.md, signs of tilt");
/// The eye's output in the dark, at the eye's plug.
pub const DARK: Limit =
    Limit::between(0.05, 0.4, Unit::Volt, "hardware/test/bring-up.md, TP7 in the dark");
/// The eye's output rises by so much before a lamp, at the eye's plug: well over the dark's own
/// spread; common practice, no source.
pub const LIGHT: Limit = Limit::at_least(0.2, Unit::Volt, "hardware/test/bring-up.md, TP8 rises");
/// Pixels that stand out.
pub const PIXELS: Limit =
    Limit::at_most(0.0, Unit::Count, "host/metrology: a pixel that stands out spoils a take");
/// Times that the head restarted or was gone during the walk.
pub const RESTARTS: Limit =
    Limit::at_most(0.0, Unit::Count, "hardware/assembly/6-first-start.md, restarts");

/// The divider between the eye's output and the board's converter: R23 of R22 and R23.
pub const EYE_DIVIDER: f64 = 2.1 / (1.5 + 2.1);

/// Pixels that are clocked out differ by more than this, codes (standard deviation): 4 mV of noise
/// each are five, the converter's own are 1.2 (from memory).
pub(super) const ALIVE_CODES: f64 = 2.5;
