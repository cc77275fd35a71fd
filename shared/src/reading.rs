//! A reading: per channel a value or a named absence, never a sentinel, never an old number passed
//! on.

use crate::units::{Microdegrees, Micrometres, TenThousandths};
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

macro_rules! absences {
    ($($(#[$doc:meta])* $name:ident = $code:literal),* $(,)?) => {
        /// Why a channel has no value. The numbers are the wire's and never change their meaning.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[serde(into = "u8", try_from = "u8")]
        #[repr(u8)]
        pub enum Absence { $($(#[$doc])* $name = $code),* }

        impl Absence {
            /// Every absence there is.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            /// The absence with this number on the wire.
            pub fn from_code(code: u8) -> Option<Self> {
                match code { $($code => Some(Self::$name),)* _ => None }
            }
        }
    };
}

absences! {
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
    /// Too much light: a cell is at its stop.
    Saturated = 9,
    /// The same code again and again, which a live sensor never gives.
    Frozen = 10,
    /// No light in the eye.
    NoLight = 11,
    /// Some light in the eye, not enough to trust.
    TooLittleLight = 12,
}

impl From<Absence> for u8 {
    fn from(absence: Absence) -> Self {
        absence as u8
    }
}

impl TryFrom<u8> for Absence {
    type Error = &'static str;

    fn try_from(code: u8) -> Result<Self, Self::Error> {
        Self::from_code(code).ok_or("an absence without a name")
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
    /// Beyond this on either axis the head reports [`Absence::OutOfRange`].
    pub const LIMIT: Microdegrees = Microdegrees(60_000_000);
}

/// One reading. On the wire at most [`Reading::MAX_WIRE_BYTES`], framing included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(into = "Packed", try_from = "Packed")]
pub struct Reading {
    /// The low byte of the number of readings made since the head started; [`crate::sequence`]
    /// makes it long again.
    pub sequence: u8,
    /// The middle of the measurement: the low 32 bits of the head's clock, microseconds.
    pub at_low_us: u32,
    /// Slide to board face, after calibration, at this head's temperature.
    pub stand_off: Sample<Micrometres>,
    /// The eye's `(A - B)/(A + B)`, dark offsets taken off; positive when the light is high (outer
    /// cell).
    pub eye: Sample<TenThousandths>,
    /// The head's tilt.
    pub tilt: Sample<Tilt>,
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
    eye: i16,
    level: i32,
    lean: i32,
}

const STAND_OFF_ABSENT: u8 = 1;
const EYE_ABSENT: u8 = 2;
const TILT_ABSENT: u8 = 4;

/// Stand-offs beyond this (a metre) are no stand-offs; it bounds the wire's length.
const STAND_OFF_LIMIT: i32 = 1_000_000;
const RATIO_LIMIT: i16 = 10_000;

impl From<Reading> for Packed {
    fn from(reading: Reading) -> Self {
        let mut absent = 0;
        let mut pack = |flag: u8, sample: Sample<i32>| match sample {
            Sample::Value(value) => value,
            Sample::Absent(absence) => {
                absent |= flag;
                i32::from(absence as u8)
            }
        };
        let bounded = |value: i32, limit: i32| value.clamp(-limit, limit);
        let stand_off =
            pack(STAND_OFF_ABSENT, reading.stand_off.map(|s| bounded(s.0, STAND_OFF_LIMIT)));
        let eye =
            pack(EYE_ABSENT, reading.eye.map(|r| bounded(i32::from(r.0), i32::from(RATIO_LIMIT))))
                as i16;
        let level = pack(TILT_ABSENT, reading.tilt.map(|t| bounded(t.level.0, Tilt::LIMIT.0)));
        let lean = match reading.tilt {
            Sample::Value(tilt) => bounded(tilt.lean.0, Tilt::LIMIT.0),
            Sample::Absent(_) => 0,
        };
        Self {
            sequence: reading.sequence,
            at_low_us: reading.at_low_us,
            absent,
            stand_off,
            eye,
            level,
            lean,
        }
    }
}

impl TryFrom<Packed> for Reading {
    type Error = &'static str;

    fn try_from(packed: Packed) -> Result<Self, Self::Error> {
        if packed.absent & !(STAND_OFF_ABSENT | EYE_ABSENT | TILT_ABSENT) != 0 {
            return Err("a flag that no channel has");
        }
        let unpack = |flag: u8, value: i32, limit: i32| {
            if packed.absent & flag == 0 {
                if (-limit..=limit).contains(&value) {
                    Ok(Sample::Value(value))
                } else {
                    Err("a value out of range")
                }
            } else {
                u8::try_from(value)
                    .ok()
                    .and_then(Absence::from_code)
                    .map(Sample::Absent)
                    .ok_or("an absence without a name")
            }
        };
        let stand_off =
            unpack(STAND_OFF_ABSENT, packed.stand_off, STAND_OFF_LIMIT)?.map(Micrometres);
        let eye = unpack(EYE_ABSENT, i32::from(packed.eye), i32::from(RATIO_LIMIT))?
            .map(|r| TenThousandths(r as i16));
        let level = unpack(TILT_ABSENT, packed.level, Tilt::LIMIT.0)?;
        if !(-Tilt::LIMIT.0..=Tilt::LIMIT.0).contains(&packed.lean) {
            return Err("a value out of range");
        }
        let tilt =
            level.map(|level| Tilt { level: Microdegrees(level), lean: Microdegrees(packed.lean) });
        Ok(Self { sequence: packed.sequence, at_low_us: packed.at_low_us, stand_off, eye, tilt })
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
        assert_eq!(Absence::from_code(0), None);
        assert_eq!(Absence::from_code(Absence::ALL.len() as u8 + 1), None);
    }

    #[test]
    fn an_unknown_absence_or_flag_is_refused() {
        let packed = |absent, stand_off| Packed {
            sequence: 0,
            at_low_us: 0,
            absent,
            stand_off,
            eye: 0,
            level: 0,
            lean: 0,
        };
        assert!(Reading::try_from(packed(STAND_OFF_ABSENT, 0)).is_err());
        assert!(Reading::try_from(packed(STAND_OFF_ABSENT, 99)).is_err());
        assert!(Reading::try_from(packed(8, 1)).is_err());
        assert!(Reading::try_from(packed(0, STAND_OFF_LIMIT + 1)).is_err());
        assert!(Reading::try_from(packed(0, 25_000)).is_ok());
    }
}
