//! What was noticed of a take or a turn, and why takes count no more, in words: the same in the program, in the record and here.
//!
//! | of | word | means |
//! | --- | --- | --- |
//! | take | `calibration overdue` | the head was zeroed longer ago than the job allows |
//! | take | `zeroed on another board` | the head was zeroed on another board, which is counted in its uncertainty |
//! | take | `readings lost` | some readings did not arrive |
//! | take | `weak light` | the sheet of light was weak in the head's eye |
//! | take | `mirrored sheet` | the board mirrored the sheet of light, and the eye told the two apart |
//! | look | `nothing` | with the emitter off no line of light stayed |
//! | look | `a line of light` | with the emitter off a line of light stayed, such as sun through a blind |
//! | look | `left out` | nobody looked with the emitter off |
//! | struck | `the light leaves the eye there` | read again at its own station, the take was seen to be none of that station |
//! | touched | `said so` | the person said that something was touched since |
//! | touched | `reads otherwise` | where a turn was to be watched, the gap was another than the takes and turns tell, twice |
//! | turn | `stopped before the advised gap` | the person ended the turn before the gap was where it was meant to be |
//! | turn | `went past the advised gap` | the person ended the turn when the gap was beyond where it was meant to be |
//! | turn | `works the other way round` | the gap moved the other way than the job file says of this adjuster |
//! | turn | `slips` | the gap stopped following the turn |
//! | turn | `end of travel` | the adjuster was at its end |
//! | turn | `moved` | the head or the emitter moved while it was turned |
//! | turn | `taken back` | the turn of this adjuster observed before was not made, or not so: it counts no more |
//!
//! A word that is not in the table is one of another version: it is kept and shown as it was
//! written.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use skimgauge_model::TurnNoticed;

macro_rules! words {
    ($($(#[$doc:meta])* $name:ident { $($variant:ident = $word:expr, $means:literal;)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq)]
        pub enum $name {
            $(#[doc = $means] $variant,)*
            /// A word of another version, as it was written.
            Other(String),
        }

        impl $name {
            /// Every word that this program writes, with what it means.
            pub const WORDS: &'static [(&'static str, &'static str)] = &[$(($word, $means)),*];

            /// Its word, in the record and for people.
            pub fn word(&self) -> &str {
                match self {
                    $(Self::$variant => $word,)*
                    Self::Other(word) => word,
                }
            }
        }

        impl From<&str> for $name {
            fn from(word: &str) -> Self {
                $(if word == $word {
                    return Self::$variant;
                })*
                Self::Other(word.to_owned())
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.word())
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.word())
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                String::deserialize(deserializer).map(|word| Self::from(word.as_str()))
            }
        }
    )*};
}

words! {
    /// What the person should know of a take.
    TakeFlag {
        CalibrationOverdue = "calibration overdue", "the head was zeroed longer ago than the job allows";
        ZeroedElsewhere = "zeroed on another board", "the head was zeroed on another board, which is counted in its uncertainty";
        ReadingsLost = "readings lost", "some readings did not arrive";
        WeakLight = "weak light", "the sheet of light was weak in the head's eye";
        MirroredSheet = "mirrored sheet", "the board mirrored the sheet of light, and the eye told the two apart";
    }

    /// What was seen with the emitter switched off.
    Looked {
        Nothing = "nothing", "with the emitter off no line of light stayed";
        Line = "a line of light", "with the emitter off a line of light stayed, such as sun through a blind";
        LeftOut = "left out", "nobody looked with the emitter off";
    }

    /// What shows that takes are wrong.
    Struck {
        LightLeaves = "the light leaves the eye there", "read again at its own station, the take was seen to be none of that station";
    }

    /// How it is known that something was moved that no event tells of.
    Unasked {
        SaidSo = "said so", "the person said that something was touched since";
        ReadsOtherwise = "reads otherwise", "where a turn was to be watched, the gap was another than the takes and turns tell, twice";
    }

    /// What was noticed of a turn.
    TurnFlag {
        StoppedBefore = TurnNoticed::StoppedBefore.word(), "the person ended the turn before the gap was where it was meant to be";
        WentPast = TurnNoticed::WentPast.word(), "the person ended the turn when the gap was beyond where it was meant to be";
        OtherWay = TurnNoticed::OtherWay.word(), "the gap moved the other way than the job file says of this adjuster";
        Slips = TurnNoticed::Slips.word(), "the gap stopped following the turn";
        EndOfTravel = TurnNoticed::EndOfTravel.word(), "the adjuster was at its end";
        Moved = TurnNoticed::Moved.word(), "the head or the emitter moved while it was turned";
        TakenBack = TurnNoticed::TakenBack.word(), "the turn of this adjuster observed before was not made, or not so: it counts no more";
    }
}

impl From<TurnNoticed> for TurnFlag {
    fn from(noticed: TurnNoticed) -> Self {
        match noticed {
            TurnNoticed::StoppedBefore => Self::StoppedBefore,
            TurnNoticed::WentPast => Self::WentPast,
            TurnNoticed::OtherWay => Self::OtherWay,
            TurnNoticed::Slips => Self::Slips,
            TurnNoticed::EndOfTravel => Self::EndOfTravel,
            TurnNoticed::Moved => Self::Moved,
            TurnNoticed::TakenBack => Self::TakenBack,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_that_is_noticed_of_a_turn_has_its_word_and_every_word_is_noticed() {
        let written: Vec<String> =
            TurnNoticed::ALL.map(|noticed| TurnFlag::from(noticed).word().to_owned()).into();
        let known: Vec<&str> = TurnFlag::WORDS.iter().map(|(word, _)| *word).collect();
        assert_eq!(written, known);
        // The words that stand in records written so far.
        assert_eq!(
            known,
            [
                "stopped before the advised gap",
                "went past the advised gap",
                "works the other way round",
                "slips",
                "end of travel",
                "moved",
                "taken back"
            ]
        );
    }

    /// The table above, row by row.
    fn documented() -> Vec<[String; 3]> {
        include_str!("words.rs")
            .lines()
            .filter_map(|line| line.strip_prefix("//! | "))
            .map(|row| {
                row.trim_end_matches('|').split('|').map(|cell| cell.trim().replace('`', ""))
            })
            .filter_map(|cells| cells.collect::<Vec<_>>().try_into().ok())
            .filter(|[of, ..]: &[String; 3]| {
                ["take", "look", "struck", "touched", "turn"].contains(&of.as_str())
            })
            .collect()
    }

    /// A word read and written, and whether it is none of this program's.
    fn read_back<T: Serialize + serde::de::DeserializeOwned>(
        json: &str,
        is_other: impl Fn(&T) -> bool,
    ) -> (String, bool) {
        let word: T = serde_json::from_str(json).unwrap();
        (serde_json::to_string(&word).unwrap(), is_other(&word))
    }

    #[test]
    fn the_words_in_the_documentation_are_the_words_written() {
        let table = documented();
        let written: Vec<[String; 3]> = TakeFlag::WORDS
            .iter()
            .map(|row| ("take", row))
            .chain(Looked::WORDS.iter().map(|row| ("look", row)))
            .chain(Struck::WORDS.iter().map(|row| ("struck", row)))
            .chain(Unasked::WORDS.iter().map(|row| ("touched", row)))
            .chain(TurnFlag::WORDS.iter().map(|row| ("turn", row)))
            .map(|(of, (word, means))| [of, word, means].map(str::to_owned))
            .collect();
        assert_eq!(table, written);
        for [of, word, _] in &table {
            let json = format!("\"{word}\"");
            let (back, other) = match of.as_str() {
                "take" => read_back(&json, |word| matches!(word, TakeFlag::Other(_))),
                "look" => read_back(&json, |word| matches!(word, Looked::Other(_))),
                "struck" => read_back(&json, |word| matches!(word, Struck::Other(_))),
                "touched" => read_back(&json, |word| matches!(word, Unasked::Other(_))),
                _ => read_back(&json, |word| matches!(word, TurnFlag::Other(_))),
            };
            assert_eq!((back, other), (json, false));
        }
    }

    #[test]
    fn a_word_of_another_version_stays_as_it_was_written() {
        let flag: TurnFlag = serde_json::from_str("\"turned the other way\"").unwrap();
        assert_eq!(flag, TurnFlag::Other("turned the other way".to_owned()));
        assert_eq!(serde_json::to_string(&flag).unwrap(), "\"turned the other way\"");
    }
}
