//! What can be wrong with a head as it was built: a wire, a part the wrong way round, a part that
//! is missing. Faults of a head in use are [`Fault`](crate::Fault)s.

use core::fmt;
use core::str::FromStr;

/// Something wired, soldered or glued wrong. Each stays until it is taken back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Wiring {
    /// The inclinometer is glued in a quarter turn about the upright: X lies where Y should.
    TiltSwapped,
    /// Half a turn about the axis into the board: X points left, Z down.
    TiltXReversed,
    /// Half a turn about X: Y points out of the board, Z down.
    TiltYReversed,
    /// It lies with Z toward the viewer, Y up.
    TiltLying,
    /// The clock does not come to the line of pixels: its output stands still.
    PixelClock,
    /// The line of pixels is soldered in with its first pixel away from the board.
    PixelsUpsideDown,
    /// The divider behind the line of pixels is open at ground: its output stands at its stop.
    PixelsAtStop,
    /// One resistor of the supply's divider is three times its value: half of what is there is read.
    SupplyDivider,
    /// The lower resistor of the stand-off's divider is 10 k instead of 14.7 k.
    StandOffDivider,
    /// The button's wire touches ground: always pressed.
    ButtonStuck,
    /// The button's wire is off: never pressed.
    ButtonOpen,
    /// The lamp is the wrong way round.
    LampDark,
    /// The buzzer's wire is off.
    BuzzerSilent,
}

impl Wiring {
    /// All of them.
    pub const ALL: [Self; 13] = [
        Self::TiltSwapped,
        Self::TiltXReversed,
        Self::TiltYReversed,
        Self::TiltLying,
        Self::PixelClock,
        Self::PixelsUpsideDown,
        Self::PixelsAtStop,
        Self::SupplyDivider,
        Self::StandOffDivider,
        Self::ButtonStuck,
        Self::ButtonOpen,
        Self::LampDark,
        Self::BuzzerSilent,
    ];

    /// Its name as written in commands and tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::TiltSwapped => "tilt-swapped",
            Self::TiltXReversed => "tilt-x-reversed",
            Self::TiltYReversed => "tilt-y-reversed",
            Self::TiltLying => "tilt-lying",
            Self::PixelClock => "pixel-clock",
            Self::PixelsUpsideDown => "pixels-upside-down",
            Self::PixelsAtStop => "pixels-at-stop",
            Self::SupplyDivider => "supply-divider",
            Self::StandOffDivider => "stand-off-divider",
            Self::ButtonStuck => "button-stuck",
            Self::ButtonOpen => "button-open",
            Self::LampDark => "lamp-dark",
            Self::BuzzerSilent => "buzzer-silent",
        }
    }
}

impl fmt::Display for Wiring {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// The text named no [`Wiring`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UnknownWiring;

impl fmt::Display for UnknownWiring {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("no such fault of the wiring; the names are")?;
        Wiring::ALL.iter().try_for_each(|wiring| write!(f, " {wiring}"))
    }
}

impl core::error::Error for UnknownWiring {}

impl FromStr for Wiring {
    type Err = UnknownWiring;

    fn from_str(text: &str) -> Result<Self, UnknownWiring> {
        Self::ALL.into_iter().find(|wiring| wiring.name() == text).ok_or(UnknownWiring)
    }
}

#[cfg(test)]
mod tests {
    use super::Wiring;

    #[test]
    fn names_lead_back_to_their_faults_and_none_is_missing() {
        for (index, wiring) in Wiring::ALL.into_iter().enumerate() {
            assert_eq!(wiring.name().parse(), Ok(wiring));
            assert_eq!(wiring as usize, index);
        }
        assert!("nonsense".parse::<Wiring>().is_err());
    }
}
