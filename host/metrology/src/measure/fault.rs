//! Every fault: its name, what it means, what to do, and how it is found.

use serde::{Deserialize, Serialize};
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
    /// The eye's cells, through the converter.
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

faults! {
    Stale, NoValue, "no readings",
        "No reading has come for a quarter of a second.",
        "Check the cable between head and computer.",
        "arrival times on the host";
    Late, NoValue, "late readings",
        "Readings arrive more than a quarter of a second after they were made.",
        "Close what keeps this computer busy, or plug the head in without a hub.",
        "the head's clock against arrival times";
    Starting, NoValue, "starting",
        "The head's parts are still starting.",
        "Wait a moment.",
        "the head says so of a channel";
    BusStuck, NoValue, "bus stuck",
        "A line between the head's parts is held low.",
        "Unplug the head, wait five seconds, plug it in again; if it comes back, have its wiring checked.",
        "the head sees the line low and cannot free it by clocking";
    ConverterSilent, NoValue, "converter not answering",
        "The converter that reads distance and light does not answer.",
        "Unplug the head and plug it in again; if it comes back, have its wiring checked.",
        "the head gets no acknowledge, or no finished conversion";
    SpotLost, NoValue, "laser spot lost",
        "The distance sensor does not see its spot on the board.",
        "Wipe the board and the sensor's window; move the head off a dark, clear or mirror-like patch. Do not look into the beam.",
        "the sensor's output is at its lost-spot level";
    SlideOutOfRange, NoValue, "slide out of range",
        "The slide is nearer to the board or farther from it than the distance sensor can measure.",
        "Roll the slide back toward the middle of its travel.",
        "the sensor's output is beyond its working span";
    StandOffFrozen, NoValue, "distance frozen",
        "The distance sensor gives exactly the same number again and again, as no living sensor does.",
        "Unplug the head and plug it in again; if it comes back, have the sensor checked.",
        "the same code for 0.25 s, or nothing but the converter's own noise for 0.2 s";
    TooMuchLight, NoValue, "too much light",
        "Sun or a lamp blinds the eye.",
        "Shade the head with a hand or draw the curtain; switch off a lamp that shines along the board.",
        "a cell is at its stop";
    NoLight, NoValue, "no light in the eye",
        "The eye sees no light.",
        "Roll the slide until the eye meets the touch plane; check that the emitter is on and nothing stands in its light.",
        "both cells together below the dark limit";
    TooLittleLight, NoValue, "too little light",
        "The eye sees some light, not enough to trust.",
        "Roll the slide toward the touch plane; wipe the eye; check that nothing stands in the light.",
        "both cells together below the trust limit";
    EyeFrozen, NoValue, "eye frozen",
        "The eye gives exactly the same number again and again, as no living sensor does.",
        "Unplug the head and plug it in again; if it comes back, have the eye checked.",
        "the same ratio for 0.25 s";
    CalibrationAwaited, NoValue, "calibration not read yet",
        "The head has not told its calibration yet.",
        "Wait a moment; if it stays, unplug the head and plug it in again.",
        "no calibration since the link opened";
    EyeOffCentre, Doubt, "light off the eye's centre",
        "The light falls too near the edge of the eye to be trusted.",
        "Roll the slide until the light stands in the middle of the eye.",
        "the eye's ratio beyond 0.8";
    CalibrationOtherHead, Doubt, "calibration of another head",
        "The constants in this head's memory belong to another head.",
        "Zero this head: skimgauge zero.",
        "the serial number in the constants against the head's own";
    CalibrationDamaged, Doubt, "calibration damaged",
        "The head's constants are damaged; the maker's nominal ones are in use.",
        "Zero this head: skimgauge zero.",
        "the check over the constants fails in both places, or they are impossible";
    CalibrationUnreadable, Doubt, "memory not answering",
        "The head's memory does not answer; the maker's nominal constants are in use.",
        "Unplug the head and plug it in again; if it comes back, have its memory checked.",
        "the head gets no acknowledge from its memory";
    CalibrationMissing, Doubt, "calibration missing",
        "This head was never zeroed.",
        "Zero it: skimgauge zero.",
        "nothing was ever written where the constants belong";
    ZeroedAfterToday, Doubt, "zeroing dated after today",
        "The head's zeroing is dated after today: this computer's date is wrong, or it was wrong when the head was zeroed.",
        "Set this computer's date; if it is right, zero the head again: skimgauge zero.",
        "the date in the constants against today";
    SpotErratic, Doubt, "laser spot unsteady",
        "The distance jumps while nothing else moves: the spot is on a dark, glossy or dirty patch.",
        "Wipe the board there, or move the head a few millimetres along the edge.",
        "scatter of the stand-off far above the head's own, without the eye's";
    InclinometerSilent, Doubt, "inclinometer not answering",
        "The inclinometer does not answer, so nothing says whether the head is seated.",
        "Unplug the head and plug it in again; if it comes back, have its wiring checked.",
        "the head gets no frame";
    InclinometerFrame, Doubt, "inclinometer frame error",
        "What the inclinometer says arrives garbled.",
        "Keep the head away from motors and transmitters; if it stays, have its wiring checked.",
        "the check in the inclinometer's frames fails";
    InclinometerSelfTest, Doubt, "inclinometer self-test failed",
        "The inclinometer says of itself that it is not well.",
        "Hold the head still, unplug it and plug it in again; if it comes back, have the inclinometer replaced.",
        "its return status or self-test value";
    TiltFrozen, Doubt, "inclinometer frozen",
        "The inclinometer gives exactly the same numbers again and again.",
        "Unplug the head and plug it in again; if it comes back, have the inclinometer checked.",
        "the head sees the same codes again and again";
    TiltOutOfRange, Doubt, "head tipped over",
        "The head is tilted by more than 60 degrees.",
        "Clip the head upright to the board's edge.",
        "tilt beyond its limit on either axis";
    NotSeated, Doubt, "head not seated",
        "The head does not stand as the board does.",
        "Clip it again so that all three feet touch the board; look for a cable or a bead of glue under a foot.",
        "tilt against the board's";
    Knocked, Doubt, "head knocked",
        "The head was knocked or moved.",
        "Let go of it and wait until it has settled.",
        "a jump in tilt or gap after it had settled";
    SupplyLow, Doubt, "supply low",
        "The head gets too little voltage.",
        "Use a shorter cable or another port, without a hub.",
        "the supply channel against its limit";
    TemperatureOutOfRange, Doubt, "temperature out of range",
        "The head is colder or warmer than it is trusted at.",
        "Let it come to the room's temperature; keep it out of the sun.",
        "the head's own temperature against its limits";
    CalibrationOverdue, Notice, "calibration overdue",
        "The head was zeroed longer ago than this job allows.",
        "Check it on one block (skimgauge zero --check), or zero it again.",
        "the date in the constants against today";
    ReadingsLost, Notice, "readings lost",
        "More than one reading in ten is lost on the way.",
        "Plug the head in without a hub, with a shorter cable.",
        "gaps in the readings' numbers over the last second";
}

impl Fault {
    /// What it means that a channel has no value, for this reason; `None` where that is no fault (a
    /// head without an eye).
    pub fn of_absence(channel: Channel, absence: Absence) -> Option<Self> {
        use Channel as C;
        Some(match (channel, absence) {
            (C::Eye, Absence::NotFitted) => return None,
            (_, Absence::Starting) => Self::Starting,
            (C::Tilt, Absence::NotFitted | Absence::NoAnswer) => Self::InclinometerSilent,
            (C::Tilt, Absence::FrameError | Absence::NoSpot | Absence::Saturated) => {
                Self::InclinometerFrame
            }
            (C::Tilt, Absence::BusStuck) => Self::InclinometerSilent,
            (C::Tilt, Absence::SelfTestFailed | Absence::NoLight | Absence::TooLittleLight) => {
                Self::InclinometerSelfTest
            }
            (C::Tilt, Absence::OutOfRange) => Self::TiltOutOfRange,
            (C::Tilt, Absence::Frozen) => Self::TiltFrozen,
            (_, Absence::BusStuck) => Self::BusStuck,
            (C::StandOff, Absence::NoSpot) => Self::SpotLost,
            (C::StandOff, Absence::OutOfRange | Absence::Saturated) => Self::SlideOutOfRange,
            (C::StandOff, Absence::Frozen) => Self::StandOffFrozen,
            (C::Eye, Absence::Saturated | Absence::OutOfRange) => Self::TooMuchLight,
            (C::Eye, Absence::NoLight) => Self::NoLight,
            (C::Eye, Absence::TooLittleLight) => Self::TooLittleLight,
            (C::Eye, Absence::Frozen) => Self::EyeFrozen,
            // What neither converter channel should ever say leaves the converter itself in doubt.
            (
                _,
                Absence::NoAnswer
                | Absence::NotFitted
                | Absence::FrameError
                | Absence::SelfTestFailed
                | Absence::NoSpot
                | Absence::NoLight
                | Absence::TooLittleLight,
            ) => Self::ConverterSilent,
        })
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
    fn every_absence_of_every_channel_has_a_fault_except_a_head_without_an_eye() {
        for channel in [Channel::StandOff, Channel::Eye, Channel::Tilt] {
            for &absence in Absence::ALL {
                let none = channel == Channel::Eye && absence == Absence::NotFitted;
                assert_eq!(
                    Fault::of_absence(channel, absence).is_none(),
                    none,
                    "{channel:?} {absence:?}"
                );
                let fault = Fault::of_absence(channel, absence);
                assert!(
                    fault.is_none_or(|f| f.bearing() > Bearing::Notice),
                    "{channel:?} {absence:?}"
                );
            }
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
