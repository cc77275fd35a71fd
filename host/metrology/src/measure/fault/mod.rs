//! Every fault: its name, what it means, what to do, and how it is found.

mod table;

pub use table::Fault;

use serde::{Deserialize, Serialize};
use skimgauge_shared::light::Fault as Scan;
use skimgauge_shared::message::CalibrationCheck;
use skimgauge_shared::reading::Absence;

/// What a fault does to the numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Bearing {
    /// Said, and no more.
    Notice,
    /// The gap is shown as doubtful and cannot be taken.
    Doubt,
    /// There is no gap.
    NoValue,
}

/// A channel of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Channel {
    /// The laser distance sensor, through the converter.
    StandOff,
    /// The eye's line of pixels.
    Eye,
    /// The inclinometer.
    Tilt,
}

macro_rules! faults {
    ($($name:ident, $bearing:ident, $title:literal, $sentence:literal, $remedy:literal, $found:literal;)*) => {
        /// What can be wrong with a head's readings.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub enum Fault {
            $(#[doc = $sentence] $name),*
        }

        impl Fault {
            /// Every fault there is, the gravest first where several bear on one number.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            /// Its name on screen.
            pub fn name(self) -> &'static str {
                match self { $(Self::$name => $title),* }
            }

            /// One sentence: what is wrong.
            pub fn sentence(self) -> &'static str {
                match self { $(Self::$name => $sentence),* }
            }

            /// What to do about it.
            pub fn remedy(self) -> &'static str {
                match self { $(Self::$name => $remedy),* }
            }

            /// How it is found, for the documents.
            pub fn found(self) -> &'static str {
                match self { $(Self::$name => $found),* }
            }

            /// What it does to the numbers.
            pub fn bearing(self) -> Bearing {
                match self { $(Self::$name => Bearing::$bearing),* }
            }
        }
    };
}

use faults;

impl Fault {
    /// What it means that a channel has no value, for this reason.
    pub fn of_absence(channel: Channel, absence: Absence) -> Self {
        use Channel as C;
        match (channel, absence) {
            (_, Absence::Starting) => Self::Starting,
            (C::Tilt, Absence::NotFitted | Absence::NoAnswer | Absence::BusStuck) => {
                Self::InclinometerSilent
            }
            (C::Tilt, Absence::FrameError | Absence::NoSpot | Absence::NoMiddle) => {
                Self::InclinometerFrame
            }
            (C::Tilt, Absence::SelfTestFailed) => Self::InclinometerSelfTest,
            (C::Tilt, Absence::OutOfRange) => Self::TiltOutOfRange,
            (C::Tilt, Absence::Frozen) => Self::TiltFrozen,
            (C::StandOff, Absence::BusStuck) => Self::BusStuck,
            (C::StandOff, Absence::NoSpot) => Self::SpotLost,
            (C::StandOff, Absence::OutOfRange) => Self::StandOffOutOfRange,
            (C::StandOff, Absence::Frozen) => Self::StandOffFrozen,
            // What the converter's channel should never say leaves the converter itself in doubt.
            (C::StandOff, _) => Self::ConverterSilent,
            (C::Eye, Absence::NoMiddle) => Self::NoLight,
            (C::Eye, Absence::OutOfRange) => Self::LightLeavesWindow,
            (C::Eye, Absence::Frozen) => Self::EyeFrozen,
            (C::Eye, _) => Self::EyeSilent,
        }
    }

    /// What it means that a scan of the eye shows no sheet to rely on, for this reason.
    pub fn of_scan(fault: Scan) -> Self {
        match fault {
            Scan::ExposureUnknown => Self::ExposureUnknown,
            Scan::Frozen => Self::EyeFrozen,
            Scan::TooMuchLight => Self::TooMuchLight,
            Scan::TooMuchRoomLight => Self::TooMuchRoomLight,
            Scan::BadPixels => Self::DeadPixels,
            Scan::NoLight => Self::NoLight,
            Scan::TooLittleLight => Self::EyeTurnedAway,
            Scan::Cut => Self::LightLeavesWindow,
            Scan::Wider | Scan::Narrower => Self::WrongThickness,
            Scan::TwoSheets => Self::TwoSheets,
            Scan::UnevenRoomLight => Self::UnevenRoomLight,
        }
    }

    /// What it means that a calibration is not good.
    pub fn of_calibration(check: CalibrationCheck) -> Option<Self> {
        match check {
            CalibrationCheck::Good => None,
            CalibrationCheck::Missing => Some(Self::CalibrationMissing),
            CalibrationCheck::Damaged => Some(Self::CalibrationDamaged),
            CalibrationCheck::OtherHead => Some(Self::CalibrationOtherHead),
            CalibrationCheck::Unreadable => Some(Self::CalibrationUnreadable),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_absence_and_every_fault_of_a_scan_stands_in_the_way_of_a_take() {
        for channel in [Channel::StandOff, Channel::Eye, Channel::Tilt] {
            for &absence in Absence::ALL {
                let fault = Fault::of_absence(channel, absence);
                assert!(fault.bearing() > Bearing::Notice, "{channel:?} {absence:?}");
            }
        }
        for &fault in Scan::ALL {
            assert_eq!(Fault::of_scan(fault).bearing(), Bearing::NoValue, "{fault:?}");
        }
    }

    #[test]
    fn every_fault_says_what_to_do_and_no_two_share_a_name() {
        for (at, fault) in Fault::ALL.iter().enumerate() {
            assert!(fault.sentence().ends_with('.') && fault.remedy().ends_with('.'), "{fault:?}");
            assert!(Fault::ALL[..at].iter().all(|other| other.name() != fault.name()));
        }
    }
}
