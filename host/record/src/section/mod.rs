//! The results of work beside the gaps, each in a form of its own with a version.
//!
//! | section | version | what |
//! | --- | --- | --- |
//! | `set-out` | 2 | [`SetOut`]: where things go on the wall |
//! | `fixings` | 2 | [`Fixings`]: what the anchors carry |
//! | `square` | 2 | [`Square`]: how far the image is from its rectangle |
//! | `survey` | 2 | [`Survey`]: the board's own shape |
//! | `prove` | 1 | [`Repeats`]: how well the head repeats |
//! | `level` | 1 | [`Levelled`]: a bracket, a rail or an edge held level or plumb |
//! | `touch` | 1 | [`Touch`]: what taps and strokes on the display showed |
//! | `step` | 1 | [`StepSaid`]: a step of the job that a person closed or left out |
//!
//! In JSON each is `{"section", "data_version", "data"}`. Version 1 of the first four had its
//! sentences as texts in millimetres; since version 2 they are kept [piece by piece](Said), so that
//! they can be shown in inches. Both are read. A section or a version that is not in this table, or
//! data that is not as its version says, is [`Other`]: kept as it stands and shown by the names of
//! its keys.
//!
//! To add one: a file here with its struct, a line in `sections!` and a row above.

mod fixings;
mod level;
mod repeats;
mod set_out;
mod square;
mod step;
mod survey;
mod touch;

use serde::de::DeserializeOwned;
use serde::ser::{Error, SerializeStruct};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::Value;
use skimgauge_quantity::{Say, Sentence, Style, parts};

pub use fixings::{AnchorLoad, Fixings, PlateLoad, ProofFound, ProofLoad, WithinAllowed};
pub use level::{Known, Levelled, Line, Tool};
pub use repeats::Repeats;
pub use set_out::{Clearance, Fit, Mark, Reach, SetOut};
pub use square::{
    BothWays, CornerFound, FittedLength, Found, SideBow, Square, TapeChecked, Turnable,
};
pub use step::{SaidHow, StepSaid};
pub use survey::{Best, Height, Plane, Proposed, Survey};
pub use touch::{Touch, TouchMap, TouchMark, TouchPart, TouchPlace};

/// A sentence as the record keeps it: piece by piece. Read from a text as well.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Said(#[serde(with = "parts")] pub Sentence);

impl From<Sentence> for Said {
    fn from(sentence: Sentence) -> Self {
        Self(sentence)
    }
}

impl Said {
    /// In millimetres, as typed.
    pub fn text_in_mm(&self) -> String {
        self.0.text(Style::default())
    }

    /// What is said, as a sentence.
    pub fn of(said: &(impl Say + ?Sized)) -> Self {
        Self(Sentence::new().and(said))
    }
}

/// From one table: the enum, each section's word and the version that is written.
macro_rules! sections {
    ($($(#[$doc:meta])* $variant:ident($form:ident) = $word:literal, version $version:literal;)*) => {
        /// The result of one piece of work beside the gaps.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Section {
            $($(#[$doc])* $variant(Box<$form>),)*
            /// Of a kind, a version or a form that this program does not know.
            Other(Other),
        }

        impl Section {
            /// Every section that this program writes: its word and its version.
            pub const WORDS: &'static [(&'static str, u32)] = &[$(($word, $version)),*];

            /// Its word in the record.
            pub fn word(&self) -> &str {
                match self {
                    $(Self::$variant(_) => $word,)*
                    Self::Other(other) => &other.section,
                }
            }

            /// The version of its data.
            pub fn data_version(&self) -> u32 {
                match self {
                    $(Self::$variant(_) => $version,)*
                    Self::Other(other) => other.data_version,
                }
            }

            fn data(&self) -> serde_json::Result<Value> {
                match self {
                    $(Self::$variant(data) => serde_json::to_value(data),)*
                    Self::Other(other) => Ok(other.data.clone()),
                }
            }

            /// In its own form, if the version is one of those that are read and the data has it.
            fn typed(Other { section, data_version, data }: &Other) -> Option<Self> {
                match section.as_str() {
                    $($word if (1..=$version).contains(data_version) => form(data).map(Self::$variant),)*
                    _ => None,
                }
            }
        }

        $(impl From<$form> for Section {
            fn from(data: $form) -> Self { Self::$variant(Box::new(data)) }
        })*
    };
}

sections! {
    /// Where things go on the wall.
    SetOut(SetOut) = "set-out", version 2;
    /// Anchors and what they carry.
    Fixings(Fixings) = "fixings", version 2;
    /// How far the image is from its rectangle.
    Square(Square) = "square", version 2;
    /// The board's own shape.
    Survey(Survey) = "survey", version 2;
    /// How well the head repeats.
    Prove(Repeats) = "prove", version 1;
    /// What was held level or plumb.
    Level(Levelled) = "level", version 1;
    /// Touch, proved on the display.
    Touch(Touch) = "touch", version 1;
    /// A step that a person closed or left out.
    Step(StepSaid) = "step", version 1;
}

/// A section that this program does not know, as it stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Other {
    /// Its word.
    pub section: String,
    /// Version of its data.
    pub data_version: u32,
    /// Its data.
    pub data: Value,
}

/// Every form refuses keys that it has no place for, so that nothing is lost where it is read.
fn form<T: DeserializeOwned>(data: &Value) -> Option<T> {
    T::deserialize(data).ok()
}

impl Serialize for Section {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut fields = serializer.serialize_struct("Section", 3)?;
        fields.serialize_field("section", self.word())?;
        fields.serialize_field("data_version", &self.data_version())?;
        fields.serialize_field("data", &self.data().map_err(S::Error::custom)?)?;
        fields.end()
    }
}

impl<'de> Deserialize<'de> for Section {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let other = Other::deserialize(deserializer)?;
        Ok(Self::typed(&other).unwrap_or(Self::Other(other)))
    }
}

#[cfg(test)]
mod tests;
