//! Turns of an adjuster in words that a hand understands.

use crate::unit::Turns;

/// Which way an adjuster is turned, as seen from its head.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Rotation {
    /// As a clock's hands go.
    Clockwise,
    /// The other way.
    Anticlockwise,
}

impl Rotation {
    /// `clockwise` or `anticlockwise`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Clockwise => "clockwise",
            Self::Anticlockwise => "anticlockwise",
        }
    }

    /// `↻` or `↺`.
    pub fn arrow(self) -> char {
        match self {
            Self::Clockwise => '\u{21bb}',
            Self::Anticlockwise => '\u{21ba}',
        }
    }

    /// The other one.
    #[must_use]
    pub fn reversed(self) -> Self {
        match self {
            Self::Clockwise => Self::Anticlockwise,
            Self::Anticlockwise => Self::Clockwise,
        }
    }
}

/// Less than this is no turn: a hand does not make it.
const NONE: f64 = 0.005;
/// Less than this is felt more than seen: about ten degrees.
const TOUCH: f64 = 0.03;
/// So near to an eighth of a turn, about seven degrees, a hand makes it an eighth.
const AT: f64 = 0.02;
const EIGHTH: f64 = 0.125;

impl Turns {
    /// Which way; `None` for so little that it is no turn, or for what is not a number.
    pub fn rotation(self) -> Option<Rotation> {
        match self.0 {
            turns if turns >= NONE => Some(Rotation::Clockwise),
            turns if turns <= -NONE => Some(Rotation::Anticlockwise),
            _ => None,
        }
    }
}

/// How much, in eighths of a turn at the finest: `2 turns and a quarter`, `nearly three quarters of
/// a turn`, `a touch`.
pub(crate) fn amount(turns: f64) -> String {
    let turns = turns.abs();
    if let Some(word) = crate::digits::word(turns) {
        return word.to_owned();
    }
    match turns {
        turns if turns < NONE => return "no turn".to_owned(),
        turns if turns < TOUCH => return "a touch".to_owned(),
        turns if turns < EIGHTH - AT => return "less than an eighth of a turn".to_owned(),
        _ => {}
    }
    let eighths = (turns / EIGHTH).round();
    let over = turns - eighths * EIGHTH;
    let hedge = match over {
        over if over < -AT => "nearly ",
        over if over > AT => "a little over ",
        _ => "",
    };
    let (whole, part) = (eighths as u64 / 8, eighths as u64 % 8);
    let turn = if whole == 1 { "turn" } else { "turns" };
    let said = match (whole, PARTS[part as usize]) {
        (0, (alone, _)) => alone.to_owned(),
        (whole, (_, "")) => format!("{whole} {turn}"),
        (whole, (_, behind)) => format!("{whole} {turn} and {behind}"),
    };
    format!("{hedge}{said}")
}

/// Eighths of a turn, alone and behind whole turns.
const PARTS: [(&str, &str); 8] = [
    ("no turn", ""),
    ("an eighth of a turn", "an eighth"),
    ("a quarter of a turn", "a quarter"),
    ("three eighths of a turn", "three eighths"),
    ("half a turn", "a half"),
    ("five eighths of a turn", "five eighths"),
    ("three quarters of a turn", "three quarters"),
    ("seven eighths of a turn", "seven eighths"),
];

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn turns_are_said_as_a_hand_makes_them() {
        for (turns, said) in [
            (2.25, "2 turns and a quarter"),
            (0.72, "nearly three quarters of a turn"),
            (0.75, "three quarters of a turn"),
            (-0.5, "half a turn"),
            (1.0, "1 turn"),
            (1.04, "a little over 1 turn"),
            (0.97, "nearly 1 turn"),
            (1.5, "1 turn and a half"),
            (2.95, "nearly 3 turns"),
            (0.125, "an eighth of a turn"),
            (0.16, "a little over an eighth of a turn"),
            (0.07, "less than an eighth of a turn"),
            (0.01, "a touch"),
            (0.004, "no turn"),
            (f64::NAN, "not known"),
            (f64::NEG_INFINITY, "too large"),
        ] {
            assert_eq!(amount(turns), said, "{turns}");
        }
    }

    #[test]
    fn the_sense_is_as_seen_from_the_head() {
        assert_eq!(Turns(0.25).rotation(), Some(Rotation::Clockwise));
        assert_eq!(Turns(-0.25).rotation(), Some(Rotation::Anticlockwise));
        assert_eq!((Turns(0.001).rotation(), Turns(f64::NAN).rotation()), (None, None));
        assert_eq!(Rotation::Clockwise.reversed().word(), "anticlockwise");
    }

    /// What the words say, turns: for holding words and numbers together.
    fn meant(said: &str) -> f64 {
        match said {
            "no turn" => return 0.0,
            "a touch" => return 0.02,
            "less than an eighth of a turn" => return 0.07,
            _ => {}
        }
        let (said, hedge) = match said {
            said if said.starts_with("nearly ") => (&said["nearly ".len()..], -0.04),
            said if said.starts_with("a little over ") => (&said["a little over ".len()..], 0.04),
            said => (said, 0.0),
        };
        let part = |text: &str| {
            PARTS.iter().position(|(alone, behind)| text == *alone || text == *behind).unwrap()
        };
        let whole = said.split(' ').next().and_then(|word| word.parse::<f64>().ok());
        let behind = said.split_once(" and ").map(|(_, behind)| behind);
        hedge
            + whole.unwrap_or(0.0)
            + EIGHTH * part(behind.unwrap_or(if whole.is_some() { "" } else { said })) as f64
    }

    proptest! {
        /// Words are within a tenth of a turn of the number, and more turns are never said with less words' worth.
        #[test]
        fn words_follow_the_number(turns in 0.0..30.0_f64, more in 0.0..1.0_f64) {
            prop_assert!((meant(&amount(turns)) - turns).abs() <= 0.05, "{turns}: {}", amount(turns));
            prop_assert!(meant(&amount(turns)) <= meant(&amount(turns + more)), "{turns} and {more} more");
        }

        #[test]
        fn no_number_panics(turns in any::<f64>()) {
            prop_assert!(!amount(turns).is_empty());
        }
    }
}
