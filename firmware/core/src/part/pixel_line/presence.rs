//! Whether the emitter is on. A scan that holds no sheet is no verdict: the emitter may pulse, and
//! the scan may lie between two pulses.

use super::EXPOSURES_US;
use crate::profile::Fault;
pub use skimgauge_shared::light::Light;
use skimgauge_shared::units::Microseconds;

/// Without light in so many scans of nearly the longest exposure (which leave out less than the
/// period of the slowest pulses, 100 Hz) there is none.
const LONG_SCANS: u16 = 9;
/// Where the room's light forbids long ones: so many of any exposure, a second.
const ANY_SCANS: u16 = 90;

/// Counts scans without light.
#[derive(Debug, Clone, Copy, Default)]
pub struct Presence {
    dark: u16,
    dark_and_long: u16,
}

impl Presence {
    /// Nothing seen yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// A scan of a known exposure, and its fault if it has one.
    pub fn on(&mut self, exposure: Microseconds, fault: Option<Fault>) -> Light {
        match fault {
            // Says nothing of the emitter.
            Some(
                Fault::ExposureUnknown | Fault::Frozen | Fault::TooMuchRoomLight | Fault::BadPixels,
            ) => {}
            Some(Fault::NoLight) => {
                self.dark = self.dark.saturating_add(1);
                if exposure.0 * 10 >= u64::from(EXPOSURES_US.1) * 9 {
                    self.dark_and_long = self.dark_and_long.saturating_add(1);
                }
            }
            _ => *self = Self::new(),
        }
        match (self.dark, self.dark_and_long) {
            (0, _) => Light::Seen,
            (ANY_SCANS.., _) | (_, LONG_SCANS..) => Light::No,
            _ => Light::Waiting,
        }
    }
}
