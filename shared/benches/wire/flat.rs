//! A reading as other formats carry it.

use serde::{Deserialize, Serialize};
use skimgauge_shared::light::LightState;
use skimgauge_shared::reading::{Absence, Reading, Sample, TiltSteps};
use skimgauge_shared::units::Micrometres;

/// The same reading as other formats carry it: flat, absences by their number, values absent with
/// them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Flat {
    pub(crate) sequence: u8,
    pub(crate) at_low_us: u32,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(crate) stand_off_um: Option<i32>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(crate) middle_um: Option<i32>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(crate) level_steps: Option<i16>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(crate) lean_steps: Option<i16>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(crate) absent: Option<[u8; 3]>,
    pub(crate) state: u8,
}

impl From<Reading> for Flat {
    fn from(reading: Reading) -> Self {
        let why = |absence: Option<Absence>| absence.map_or(0, |absence| absence as u8);
        let absent = [
            why(reading.stand_off.absence()),
            why(reading.middle.absence()),
            why(reading.tilt.absence()),
        ];
        let tilt = reading.tilt.value();
        Self {
            sequence: reading.sequence,
            at_low_us: reading.at_low_us,
            stand_off_um: reading.stand_off.value().map(|s| s.0),
            middle_um: reading.middle.value().map(|m| m.0),
            level_steps: tilt.map(|t| t.level),
            lean_steps: tilt.map(|t| t.lean),
            absent: (absent != [0; 3]).then_some(absent),
            state: reading.state.into(),
        }
    }
}

impl Flat {
    pub(crate) fn reading(self) -> Option<Reading> {
        fn sample<T>(value: Option<T>, why: u8) -> Option<Sample<T>> {
            match value {
                Some(value) => Some(Sample::Value(value)),
                None => Absence::from_code(why).map(Sample::Absent),
            }
        }
        let [s, e, t] = self.absent.unwrap_or_default();
        let tilt = self.level_steps.zip(self.lean_steps);
        Some(Reading {
            sequence: self.sequence,
            at_low_us: self.at_low_us,
            stand_off: sample(self.stand_off_um.map(Micrometres), s)?,
            middle: sample(self.middle_um.map(Micrometres), e)?,
            tilt: sample(tilt.map(|(level, lean)| TiltSteps { level, lean }), t)?,
            state: LightState::try_from(self.state).ok()?,
        })
    }
}
