//! What the eye says of the sheet besides its middle: whether the emitter's light is there, what is
//! wrong with it, whether the middle can be relied upon.

use crate::coded::coded;
use crate::units::{Micrometres, Microseconds};
use serde::{Deserialize, Serialize};

coded! {
    "a fault without a name";
    /// Why a scan has no middle, or none to rely on. The numbers never change their meaning.
    pub enum Fault {
        /// How long the pixels gathered light is not known.
        ExposureUnknown = 1,
        /// The same scan twice, which live pixels never give.
        Frozen = 2,
        /// Pixels are at their stop where the light is.
        TooMuchLight = 3,
        /// The room's light alone fills the pixels, or is so strong that their inequality hides the
        /// sheet's middle.
        TooMuchRoomLight = 4,
        /// A pixel that stands out from its neighbours as no light does: dead, stuck or covered.
        BadPixels = 5,
        /// Nothing that could be a sheet.
        NoLight = 6,
        /// A sheet, too weak for a middle.
        TooLittleLight = 7,
        /// The sheet, or what shows that nothing else is beside it, leaves the window.
        Cut = 8,
        /// Thicker than this emitter's sheet.
        Wider = 9,
        /// Thinner than this emitter's sheet.
        Narrower = 10,
        /// A second sheet, mirrored by the board, too near or too strong to read past; or the sheet is
        /// lopsided, as two on top of each other are.
        TwoSheets = 11,
        /// A shadow's edge under the sheet, or another light that a slope does not describe.
        UnevenRoomLight = 12,
    }
}

/// What is known of the emitter's light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Light {
    /// In this scan or a little before.
    Seen,
    /// None in the last scans, which may have lain between an emitter's pulses; or nothing that
    /// could tell.
    Waiting,
    /// None.
    No,
}

/// Whether the middle can be relied upon.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Trust {
    /// Pulled by too little to matter, at 95 %.
    Sure,
    /// Not enough scans yet for the light that there is.
    NotYet,
    /// The room's light pulls the middle.
    RoomLight,
    /// The sheet is lopsided: something is under it.
    Lopsided,
}

/// A reading's byte of what the eye says.
///
/// | bits | what |
/// | --- | --- |
/// | 0 to 3 | the [`Fault`]'s number; 0: none |
/// | 4, 5 | the emitter's light: 0 not known, 1 there, 2 not there |
/// | 6 | the middle can be relied upon |
/// | 7 | a second sheet is seen |
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(try_from = "u8", into = "u8")]
pub struct LightState(u8);

impl LightState {
    /// Nothing is known: the eye does not run.
    pub const UNKNOWN: Self = Self(0);

    /// From what the eye says.
    pub const fn new(fault: Option<Fault>, light: Light, trust: Trust, second: bool) -> Self {
        let fault = match fault {
            Some(fault) => fault as u8,
            None => 0,
        };
        let light = match light {
            Light::Waiting => 0,
            Light::Seen => 1,
            Light::No => 2,
        };
        Self(fault | light << 4 | (matches!(trust, Trust::Sure) as u8) << 6 | (second as u8) << 7)
    }

    /// What is wrong with the light, if anything.
    pub const fn fault(self) -> Option<Fault> {
        Fault::from_code(self.0 & 0x0F)
    }

    /// Whether the emitter's light is there.
    pub const fn light(self) -> Light {
        match self.0 >> 4 & 3 {
            1 => Light::Seen,
            2 => Light::No,
            _ => Light::Waiting,
        }
    }

    /// Whether the middle can be relied upon; [`Sheet::trust`] says why not.
    pub const fn is_sure(self) -> bool {
        self.0 & 0x40 != 0
    }

    /// Whether a second sheet is seen.
    pub const fn second(self) -> bool {
        self.0 & 0x80 != 0
    }
}

impl From<LightState> for u8 {
    fn from(state: LightState) -> Self {
        state.0
    }
}

impl TryFrom<u8> for LightState {
    type Error = &'static str;

    fn try_from(byte: u8) -> Result<Self, Self::Error> {
        let state = Self(byte);
        if byte & 0x0F != 0 && state.fault().is_none() {
            return Err("a fault without a name");
        }
        if byte >> 4 & 3 == 3 {
            return Err("a state of the light without a name");
        }
        Ok(state)
    }
}

/// What the profile shows besides its middle: five times a second, and at once when
/// [`Reading::state`](crate::reading::Reading::state) changes. Light is in whole codes of the pixels'
/// converter (12 bits over 3.3 V).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sheet {
    /// Of the reading that was made of the same scan.
    pub sequence: u8,
    /// How long the pixels gathered light; `None`: not known.
    pub exposure: Option<Microseconds>,
    /// The room's light: unlit level over the pixels' level in the dark.
    pub room: i16,
    /// The brightest pixel that has a neighbour as bright.
    pub brightest: u16,
    /// Whether the middle can be relied upon, and why not.
    pub trust: Trust,
    /// The sheet's own; `None`: there is no sheet that has one.
    pub shape: Option<Shape>,
    /// A second sheet that can be read past: the board's mirror image of the first.
    pub second: Option<Second>,
    /// The pixel that stands out, with [`Fault::BadPixels`].
    pub bad_pixel: Option<u8>,
}

/// How thick and how bright a sheet is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Shape {
    /// Four standard deviations of the profile: D4sigma of ISO 11146-1.
    pub width: Micrometres,
    /// Peak over the unlit level, codes.
    pub height: u16,
    /// Standard deviation of the middle from scan to scan, as this scan's own scatter has it.
    pub scatter: Micrometres,
}

/// A second sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Second {
    /// Where, to a pixel or so (64 um), as a reading's middle.
    pub middle: Micrometres,
    /// Peak over the unlit level, codes.
    pub height: u16,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_state_survives_its_byte() {
        let faults = Fault::ALL.iter().copied().map(Some).chain([None]);
        let mut seen = std::collections::HashSet::new();
        for fault in faults {
            for light in [Light::Seen, Light::Waiting, Light::No] {
                for trust in [Trust::Sure, Trust::NotYet] {
                    for second in [false, true] {
                        let state = LightState::new(fault, light, trust, second);
                        assert_eq!(LightState::try_from(u8::from(state)), Ok(state));
                        let read = (state.fault(), state.light(), state.is_sure(), state.second());
                        assert_eq!(read, (fault, light, trust == Trust::Sure, second));
                        assert!(seen.insert(u8::from(state)));
                    }
                }
            }
        }
    }

    #[test]
    fn a_byte_without_a_meaning_is_refused() {
        for byte in [0x0D, 0x0E, 0x0F, 0x30, 0xF6] {
            assert!(LightState::try_from(byte).is_err(), "{byte:#x}");
        }
        assert_eq!(LightState::try_from(0), Ok(LightState::UNKNOWN));
    }

    /// The numbers as they went out first; four bits hold them.
    #[test]
    fn every_fault_keeps_its_number() {
        let numbers: Vec<u8> = Fault::ALL.iter().map(|fault| *fault as u8).collect();
        assert_eq!(numbers, (1..=12).collect::<Vec<_>>());
        assert_eq!(Fault::from_code(6), Some(Fault::NoLight));
        assert_eq!(Fault::from_code(12), Some(Fault::UnevenRoomLight));
    }
}
