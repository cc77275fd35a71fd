//! A reading: per channel a value or a named absence, never a sentinel, never an old number passed
//! on.

use crate::coded::coded;
use crate::light::LightState;
use crate::units::{Microdegrees, Micrometres};
use serde::{Deserialize, Serialize};

/// What a channel has to say: a value, or why there is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Sample<T> {
    /// Measured in this very reading.
    Value(T),
    /// Not measured, because.
    Absent(Absence),
}

impl<T> Sample<T> {
    /// The value, if there is one.
    pub fn value(self) -> Option<T> {
        match self {
            Self::Value(value) => Some(value),
            Self::Absent(_) => None,
        }
    }

    /// Why there is no value, if there is none.
    pub fn absence(&self) -> Option<Absence> {
        match self {
            Self::Value(_) => None,
            Self::Absent(absence) => Some(*absence),
        }
    }

    /// The same absence, or the value changed.
    pub fn map<U>(self, change: impl FnOnce(T) -> U) -> Sample<U> {
        match self {
            Self::Value(value) => Sample::Value(change(value)),
            Self::Absent(absence) => Sample::Absent(absence),
        }
    }
}

// 9, 11 and 12 were the two cells' (at their stop; no light; too little): never again.
coded! {
    "an absence without a name";
    /// Why a channel has no value. The numbers are the wire's and never change their meaning.
    pub enum Absence {
        /// The part is still starting.
        Starting = 1,
        /// This head does not have the part.
        NotFitted = 2,
        /// The part does not answer.
        NoAnswer = 3,
        /// A line of the bus is held low.
        BusStuck = 4,
        /// The part answers, but its frame check fails.
        FrameError = 5,
        /// The part's own diagnosis reports an error.
        SelfTestFailed = 6,
        /// Beyond what the part can measure.
        OutOfRange = 7,
        /// The laser's spot is lost: nothing there, too dark, or too glossy.
        NoSpot = 8,
        /// The same code again and again, which a live sensor never gives.
        Frozen = 10,
        /// What the eye sees gives no middle: the reading's state says why.
        NoMiddle = 13,
    }
}

/// The head's tilt against gravity, after its calibration. Valid within 60 degrees of upright on
/// each axis.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Tilt {
    /// Roll in the board's plane; positive when the right side is high.
    pub level: Microdegrees,
    /// Tilt toward the board; positive when the top comes toward the viewer.
    pub lean: Microdegrees,
}

impl Tilt {
    /// Beyond this on either axis it is [`Absence::OutOfRange`].
    pub const LIMIT: Microdegrees = Microdegrees(60_000_000);
}

/// The inclinometer's own angle codes, 90 degrees / 16384, nothing taken off:
/// [`Calibration::tilt`](crate::calibration::Calibration::tilt) makes a [`Tilt`] of them.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TiltSteps {
    /// X: roll in the board's plane.
    pub level: i16,
    /// Y: tilt toward the board.
    pub lean: i16,
}

/// One reading. On the wire at most [`Reading::MAX_WIRE_BYTES`], framing included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(into = "Packed", try_from = "Packed")]
pub struct Reading {
    /// The low byte of the number of readings made since the head started; [`crate::sequence`]
    /// makes it long again.
    pub sequence: u8,
    /// The middle of the exposure, about which the stand-off was sampled: the low 32 bits of the
    /// head's clock, microseconds.
    pub at_low_us: u32,
    /// Body to board face, after calibration, at this head's temperature.
    pub stand_off: Sample<Micrometres>,
    /// The sheet's middle along the line of pixels: from the first pixel's middle, away from the
    /// board, in the body's frame. `gap = stand_off + middle + zero`.
    pub middle: Sample<Micrometres>,
    /// The head's tilt.
    pub tilt: Sample<TiltSteps>,
    /// What the eye says of the light, and whether the middle can be relied upon.
    pub state: LightState,
}

impl Reading {
    /// The longest a reading gets on the wire, separator included, whatever it says.
    pub const MAX_WIRE_BYTES: usize = 28;
}

/// The wire's shape: a bit per absent channel, and in the place of an absent value its reason.
/// Three flags in a byte instead of three tags are what fits a whole reading in its 28 bytes.
#[derive(Serialize, Deserialize)]
struct Packed {
    sequence: u8,
    at_low_us: u32,
    absent: u8,
    stand_off: i32,
    middle: i32,
    level: i16,
    lean: i16,
    state: LightState,
}

const STAND_OFF_ABSENT: u8 = 1;
const MIDDLE_ABSENT: u8 = 2;
const TILT_ABSENT: u8 = 4;

/// Lengths beyond this (a metre) are none; it bounds the wire's length.
const LIMIT: i32 = 1_000_000;

impl From<Reading> for Packed {
    fn from(reading: Reading) -> Self {
        let mut absent = 0;
        let mut pack = |flag: u8, sample: Sample<i32>| match sample {
            Sample::Value(value) => value.clamp(-LIMIT, LIMIT),
            Sample::Absent(absence) => {
                absent |= flag;
                i32::from(absence as u8)
            }
        };
        let stand_off = pack(STAND_OFF_ABSENT, reading.stand_off.map(|s| s.0));
        let middle = pack(MIDDLE_ABSENT, reading.middle.map(|m| m.0));
        let level = pack(TILT_ABSENT, reading.tilt.map(|t| i32::from(t.level))) as i16;
        let lean = reading.tilt.value().map_or(0, |tilt| tilt.lean);
        let Reading { sequence, at_low_us, state, .. } = reading;
        Self { sequence, at_low_us, absent, stand_off, middle, level, lean, state }
    }
}

impl TryFrom<Packed> for Reading {
    type Error = &'static str;

    fn try_from(packed: Packed) -> Result<Self, Self::Error> {
        if packed.absent & !(STAND_OFF_ABSENT | MIDDLE_ABSENT | TILT_ABSENT) != 0 {
            return Err("a flag that no channel has");
        }
        let unpack = |flag: u8, value: i32| {
            if packed.absent & flag == 0 {
                let fits = (-LIMIT..=LIMIT).contains(&value);
                fits.then_some(Sample::Value(value)).ok_or("a value out of range")
            } else {
                u8::try_from(value)
                    .ok()
                    .and_then(Absence::from_code)
                    .map(Sample::Absent)
                    .ok_or("an absence without a name")
            }
        };
        let stand_off = unpack(STAND_OFF_ABSENT, packed.stand_off)?.map(Micrometres);
        let middle = unpack(MIDDLE_ABSENT, packed.middle)?.map(Micrometres);
        let tilt = unpack(TILT_ABSENT, i32::from(packed.level))?
            .map(|_| TiltSteps { level: packed.level, lean: packed.lean });
        let Packed { sequence, at_low_us, state, .. } = packed;
        Ok(Self { sequence, at_low_us, stand_off, middle, tilt, state })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_absence_keeps_its_number() {
        for absence in Absence::ALL {
            assert_eq!(Absence::from_code(*absence as u8), Some(*absence));
        }
        for none in [0, 9, 11, 12, 14] {
            assert_eq!(Absence::from_code(none), None);
        }
        assert_eq!(Absence::NoMiddle as u8, 13);
    }

    #[test]
    fn an_unknown_absence_or_flag_is_refused() {
        let packed = |absent, stand_off| Packed {
            sequence: 0,
            at_low_us: 0,
            absent,
            stand_off,
            middle: 0,
            level: 0,
            lean: 0,
            state: LightState::UNKNOWN,
        };
        assert!(Reading::try_from(packed(STAND_OFF_ABSENT, 0)).is_err());
        assert!(Reading::try_from(packed(STAND_OFF_ABSENT, 99)).is_err());
        assert!(Reading::try_from(packed(8, 1)).is_err());
        assert!(Reading::try_from(packed(0, LIMIT + 1)).is_err());
        assert!(Reading::try_from(packed(0, 25_000)).is_ok());
    }
}
