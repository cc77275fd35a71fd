//! What can be wrong on demand.

use core::fmt;
use core::str::FromStr;

/// Something wrong with the head, the light, the seat or the memory. Each stays until it is taken
/// back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fault {
    /// The emitter is off or hidden.
    NoLight,
    /// The emitter's own light is too much for the shortest exposure.
    TooMuchLight,
    /// Sun or lamp on the eye fills its pixels.
    TooMuchRoomLight,
    /// A shadow's edge lies across the eye where the sheet stands.
    UnevenRoomLight,
    /// The board mirrors the sheet beside itself.
    TwoSheets,
    /// The sheet stands so low that a part of it leaves the eye's window.
    LightLeavesWindow,
    /// The sheet is thicker than any emitter's by a third, in the middle of the eye's window.
    SheetTooThick,
    /// The sheet is half as thick as any emitter's.
    SheetTooThin,
    /// The eye is turned 30 degrees away from the emitter.
    EyeTurnedAway,
    /// A line of light that is no sheet, whether the emitter shines or not: sun through a blind.
    LineOfLight,
    /// Pixels where the sheet stands gather nothing.
    PixelsDead,
    /// The line of pixels gives the same scan again and again.
    PixelsFrozen,
    /// The line of pixels is unplugged.
    PixelsUnplugged,
    /// Something under the laser distance sensor is too near. (Too far reads as
    /// [`Fault::SpotLost`]: the sensor cannot tell the two apart.)
    StandoffTooNear,
    /// The laser's spot is lost: a hole, an edge, a dark patch.
    SpotLost,
    /// The laser's spot is on a glossy patch: readings jump, some are lost.
    GlossyPatch,
    /// The laser distance sensor's output no longer moves; the converter still sees its own noise
    /// (about a third of a code).
    StandoffFrozen,
    /// The converter's conversion register no longer changes: identical codes on every channel.
    ConverterFrozen,
    /// The converter does not answer.
    ConverterSilent,
    /// The I2C bus is held low: nobody answers.
    BusStuck,
    /// The memory does not answer.
    MemorySilent,
    /// The inclinometer is unplugged: all bits high.
    InclinometerSilent,
    /// Every reply of the inclinometer has a wrong CRC.
    InclinometerFrames,
    /// The inclinometer's self-test output is beyond its limits.
    InclinometerSelfTest,
    /// The inclinometer answers with return status 2.
    InclinometerStatusTwo,
    /// The inclinometer answers with return status 3.
    InclinometerStatusError,
    /// The inclinometer's outputs no longer move.
    InclinometerFrozen,
    /// Supply at 4.2 V instead of 5 V.
    SupplyLow,
    /// The head stands at 58 degrees Celsius.
    TooHot,
    /// The head stands at -8 degrees Celsius.
    TooCold,
    /// One foot is off the board: 0.8 degrees of lean.
    NotSeated,
    /// The head was knocked: 0.15 degrees either way and 0.3 mm off the board from then on.
    Knocked,
    /// The memory is blank.
    CalibrationMissing,
    /// Bits in the memory have flipped.
    CalibrationDamaged,
    /// The memory is that of another head: its factory serial number is not what the content was
    /// written for.
    CalibrationOfOtherHead,
    /// Someone leans on the board: it gives way by up to 0.8 mm and sways.
    SomeoneLeaning,
    /// The wall shakes: 0.05 mm at 17 Hz between touch plane and board.
    Vibration,
}

impl Fault {
    /// All of them.
    pub const ALL: [Self; 37] = [
        Self::NoLight,
        Self::TooMuchLight,
        Self::TooMuchRoomLight,
        Self::UnevenRoomLight,
        Self::TwoSheets,
        Self::LightLeavesWindow,
        Self::SheetTooThick,
        Self::SheetTooThin,
        Self::EyeTurnedAway,
        Self::LineOfLight,
        Self::PixelsDead,
        Self::PixelsFrozen,
        Self::PixelsUnplugged,
        Self::StandoffTooNear,
        Self::SpotLost,
        Self::GlossyPatch,
        Self::StandoffFrozen,
        Self::ConverterFrozen,
        Self::ConverterSilent,
        Self::BusStuck,
        Self::MemorySilent,
        Self::InclinometerSilent,
        Self::InclinometerFrames,
        Self::InclinometerSelfTest,
        Self::InclinometerStatusTwo,
        Self::InclinometerStatusError,
        Self::InclinometerFrozen,
        Self::SupplyLow,
        Self::TooHot,
        Self::TooCold,
        Self::NotSeated,
        Self::Knocked,
        Self::CalibrationMissing,
        Self::CalibrationDamaged,
        Self::CalibrationOfOtherHead,
        Self::SomeoneLeaning,
        Self::Vibration,
    ];

    /// Its name as written in commands and tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::NoLight => "no-light",
            Self::TooMuchLight => "too-much-light",
            Self::TooMuchRoomLight => "too-much-room-light",
            Self::UnevenRoomLight => "uneven-room-light",
            Self::TwoSheets => "two-sheets",
            Self::LightLeavesWindow => "light-leaves-window",
            Self::SheetTooThick => "sheet-too-thick",
            Self::SheetTooThin => "sheet-too-thin",
            Self::EyeTurnedAway => "eye-turned-away",
            Self::LineOfLight => "line-of-light",
            Self::PixelsDead => "pixels-dead",
            Self::PixelsFrozen => "pixels-frozen",
            Self::PixelsUnplugged => "pixels-unplugged",
            Self::StandoffTooNear => "standoff-too-near",
            Self::SpotLost => "spot-lost",
            Self::GlossyPatch => "glossy-patch",
            Self::StandoffFrozen => "standoff-frozen",
            Self::ConverterFrozen => "converter-frozen",
            Self::ConverterSilent => "converter-silent",
            Self::BusStuck => "bus-stuck",
            Self::MemorySilent => "memory-silent",
            Self::InclinometerSilent => "inclinometer-silent",
            Self::InclinometerFrames => "inclinometer-frames",
            Self::InclinometerSelfTest => "inclinometer-self-test",
            Self::InclinometerStatusTwo => "inclinometer-status-two",
            Self::InclinometerStatusError => "inclinometer-status-error",
            Self::InclinometerFrozen => "inclinometer-frozen",
            Self::SupplyLow => "supply-low",
            Self::TooHot => "too-hot",
            Self::TooCold => "too-cold",
            Self::NotSeated => "not-seated",
            Self::Knocked => "knocked",
            Self::CalibrationMissing => "calibration-missing",
            Self::CalibrationDamaged => "calibration-damaged",
            Self::CalibrationOfOtherHead => "calibration-of-other-head",
            Self::SomeoneLeaning => "someone-leaning",
            Self::Vibration => "vibration",
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// The text named no [`Fault`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UnknownFault;

impl fmt::Display for UnknownFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("no such fault; the names are")?;
        Fault::ALL.iter().try_for_each(|fault| write!(f, " {fault}"))
    }
}

impl core::error::Error for UnknownFault {}

impl FromStr for Fault {
    type Err = UnknownFault;

    fn from_str(text: &str) -> Result<Self, UnknownFault> {
        Self::ALL.into_iter().find(|fault| fault.name() == text).ok_or(UnknownFault)
    }
}

#[cfg(test)]
mod tests {
    use super::Fault;

    #[test]
    fn names_lead_back_to_their_faults_and_none_is_missing() {
        for (index, fault) in Fault::ALL.into_iter().enumerate() {
            assert_eq!(fault.name().parse(), Ok(fault));
            assert_eq!(fault as usize, index);
        }
        assert!("nonsense".parse::<Fault>().is_err());
    }
}
