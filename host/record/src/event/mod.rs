//! What can be said in a job: the kinds of event and what each carries.
//!
//! Lengths in mm, angles in degrees, turns in whole turns (clockwise positive, as seen from the
//! adjuster's head), in the image's frame: origin at the middle of the image's top edge, x right, y
//! up. The words of flags are in the table of [`TakeFlag`] and [`TurnFlag`]. A number that was not measured is absent, never zero. An event speaks of another by its
//! hash, never by a number.
//!
//! A kind or a version of a payload that this program does not know is [`Unknown`]: its bytes are
//! kept, checked against their hash, carried from record to record, and shown as written by a newer
//! program. So a new kind needs no new record format: a struct, and a line in `bodies!`. A changed
//! payload gets a new version there, and its earlier form a line in `older.rs`. What any kind may
//! rely on in programs older than itself:
//! - `job opened` (any version) opens a job and nothing else does; its payload has `id`, `name` and
//!   `job_file`;
//! - `closed` (any version) closes it;
//! - attached bytes that an unknown payload names by their 64 hexadecimal digits are carried with
//!   it;
//! - an older program adds nothing but notes and photos to a job that holds what it does not know.

mod detail;
mod end_of_turn;
mod job;
mod measured;
mod older;
mod sayer;
mod words;
mod work;

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};
use serde_json::Value;

use crate::RecordError;
use crate::chain::Hash;
pub use crate::section::Section;
pub use detail::{Agreement, Detail, JudgedPoint, Plane, Residual, Tilt};
pub use job::{
    Closed, Difference, JobOpened, JobRevised, Joined, JoinedBranch, Note, PhotoAttached, Salvaged,
    Signed,
};
pub use measured::{
    AsLeft, BudgetLine, Calibrated, CalibrationUsed, Came, EmitterOff, EmitterTilt, Head, Take,
    ZeroChecked,
};
pub use sayer::Sayer;
pub use skimgauge_model::{Phase, Point, Station, Verdict};
pub use words::{Looked, Struck, TakeFlag, TurnFlag, Unasked};
pub use work::{Judged, JudgedAt, StepUndone, StruckOut, Touched, TurnAdvised, TurnObserved};

/// From one table: the enum, and each kind's word and payload version.
macro_rules! bodies {
    ($($(#[$doc:meta])* $variant:ident = $kind:literal, version $version:literal;)*) => {
        /// An event's content.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Body {
            $($(#[$doc])* $variant($variant),)*
            /// Written by a newer program.
            Unknown(Unknown),
        }

        impl Body {
            /// The word for its kind that stands in the record.
            pub fn kind(&self) -> &str {
                match self {
                    $(Self::$variant(_) => $kind,)*
                    Self::Unknown(unknown) => &unknown.kind,
                }
            }

            /// Version of its payload's form.
            pub fn version(&self) -> u32 {
                match self {
                    // An earlier program would take it for a verdict on a board.
                    Self::Judged(judged) if judged.simulated => PRACTISED_VERDICT,
                    $(Self::$variant(_) => $version,)*
                    Self::Unknown(unknown) => unknown.version,
                }
            }

            fn to_json(&self) -> serde_json::Result<String> {
                match self {
                    $(Self::$variant(body) => serde_json::to_string(body),)*
                    Self::Unknown(unknown) => Ok(unknown.payload.clone()),
                }
            }

            fn read_today(kind: &str, version: u32, payload: &str) -> Option<serde_json::Result<Self>> {
                match (kind, version) {
                    $(($kind, $version) => Some(serde_json::from_str(payload).map(Self::$variant)),)*
                    _ => None,
                }
            }
        }

        impl Serialize for Body {
            /// As `kind`, `version` and `payload`; an unknown payload that is no JSON as a text.
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                let mut fields = serializer.serialize_struct("Body", 3)?;
                fields.serialize_field("kind", self.kind())?;
                fields.serialize_field("version", &self.version())?;
                match self {
                    $(Self::$variant(body) => fields.serialize_field("payload", body)?,)*
                    Self::Unknown(unknown) => fields.serialize_field("payload", &unknown.value())?,
                }
                fields.end()
            }
        }

        $(impl From<$variant> for Body {
            fn from(body: $variant) -> Self { Self::$variant(body) }
        })*
    };
}

bodies! {
    /// The job was opened.
    JobOpened = "job opened", version 2;
    /// The job file was changed.
    JobRevised = "job revised", version 2;
    /// The calibration in use.
    CalibrationUsed = "calibration used", version 1;
    /// A take.
    Take = "take", version 3;
    /// The emitter's tilt.
    EmitterTilt = "emitter tilt", version 2;
    /// The emitter was switched off, and looked.
    EmitterOff = "emitter off", version 1;
    /// The installation is left as these takes found it.
    AsLeft = "as left", version 1;
    /// Takes were wrong, and count no more.
    StruckOut = "struck out", version 1;
    /// Something was moved that no other event tells of.
    Touched = "touched", version 1;
    /// What was said of a step counts no more.
    StepUndone = "step undone", version 1;
    /// An adjuster was to be turned.
    TurnAdvised = "turn advised", version 2;
    /// An adjuster was turned.
    TurnObserved = "turn observed", version 4;
    /// The whole was judged.
    Judged = "verdict", version 3;
    /// The result of work beside the gaps.
    Section = "section", version 2;
    /// The head was zeroed.
    Calibrated = "calibration", version 2;
    /// The head's zero was checked on this board.
    ZeroChecked = "zero checked", version 1;
    /// A note.
    Note = "note", version 2;
    /// A photo.
    PhotoAttached = "photo attached", version 1;
    /// The job was closed.
    Closed = "closed", version 1;
    /// A closed job was signed.
    Signed = "signed", version 2;
    /// Branches of the job were joined.
    Joined = "joined", version 1;
    /// An event from behind a break.
    Salvaged = "salvaged", version 1;
}

/// The version of a verdict's payload that says that a simulated head read what it rests on.
const PRACTISED_VERDICT: u32 = 4;

/// An event of a kind, or in a version, that this program does not know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unknown {
    /// Its kind.
    pub kind: String,
    /// Version of its payload.
    pub version: u32,
    /// Its payload, byte for byte.
    pub payload: String,
}

impl Unknown {
    /// The payload as JSON; as a text where it is none.
    pub fn value(&self) -> Value {
        serde_json::from_str(&self.payload).unwrap_or_else(|_| Value::String(self.payload.clone()))
    }
}

/// A reader's words, which quote what they could not read: no more of them than a person reads.
fn short(words: &str) -> String {
    const MOST: usize = 200;
    match words.char_indices().nth(MOST) {
        Some((end, _)) => format!("{} …", &words[..end]),
        None => words.to_owned(),
    }
}

/// The hashes that a text names: each whole run of 64 lower-case hexadecimal digits.
pub fn hashes_in(text: &str) -> Vec<Hash> {
    let is_digit = |c: char| c.is_ascii_digit() || ('a'..='f').contains(&c);
    text.split(|c| !is_digit(c)).filter_map(Hash::parse).collect()
}

impl Body {
    /// The payload as the record keeps it.
    ///
    /// # Errors
    /// [`RecordError::BadEvent`] when it would not read back equal: a number that is infinite or no
    /// number at all.
    pub fn payload(&self) -> Result<String, RecordError> {
        let text = self.to_json().map_err(|error| RecordError::BadEvent(error.to_string()))?;
        match Self::read(self.kind(), self.version(), &text, &[]) {
            Ok(back) if back == *self => Ok(text),
            _ => Err(RecordError::BadEvent(format!(
                "a number in \"{}\" is infinite or missing",
                self.kind()
            ))),
        }
    }

    /// Reads a payload as the record holds it, in any version so far; `earlier` are the hashes of
    /// the events before it in its job, in their order, of which earlier versions spoke by
    /// number.
    ///
    /// # Errors
    /// What does not fit, as a clause.
    pub fn read(kind: &str, version: u32, payload: &str, earlier: &[Hash]) -> Result<Self, String> {
        let read = match Self::read_today(kind, version, payload) {
            Some(read) => Some(read.map_err(|error| error.to_string())),
            None => older::read(kind, version, payload, earlier),
        };
        match read {
            Some(read) => read.map_err(|error| {
                format!("the content of \"{kind}\" cannot be read ({})", short(&error))
            }),
            None => Ok(Self::Unknown(Unknown {
                kind: kind.to_owned(),
                version,
                payload: payload.to_owned(),
            })),
        }
    }

    /// Whether it closes its job, also in a version that is not known.
    pub fn closes(&self) -> bool {
        match self {
            Self::Closed(_) => true,
            Self::Unknown(unknown) => unknown.kind == "closed",
            _ => false,
        }
    }

    /// Whether it opens its job, also in a version that is not known.
    pub fn opens(&self) -> bool {
        match self {
            Self::JobOpened(_) => true,
            Self::Unknown(unknown) => unknown.kind == "job opened",
            _ => false,
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use proptest::prelude::*;
    use skimgauge_quantity::{Celsius, Deg, Mm};

    pub(crate) fn take(station: &str, gap_mm: f64) -> Take {
        Take {
            station: station.to_owned(),
            x: Mm(-1000.0),
            y: Mm(0.0),
            phase: Phase::AsFound,
            round: 1,
            gap: Mm(gap_mm),
            u_gap: Mm(0.02),
            dof: Some(12.0),
            readings: 400,
            window_s: 4.0,
            tilt: Some(Deg(0.12)),
            level: None,
            lean: None,
            temperature: Some(Celsius(21.5)),
            verdict: Some(Verdict::Unsure),
            head: Head {
                serial: "SG-0007".to_owned(),
                firmware: "0.1.0".to_owned(),
                calibration_date: Some("2026-11-20".to_owned()),
                calibration_sha256: Some(Hash::of(b"constants")),
            },
            flags: Vec::new(),
            supersedes: None,
            came: None,
            by: None,
        }
    }

    #[test]
    fn a_number_that_is_none_is_refused() {
        for gap_mm in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(Body::from(take("top", gap_mm)).payload().is_err());
        }
        let blank = Take { tilt: Some(Deg(f64::NAN)), ..take("top", 3.0) };
        assert!(Body::from(blank).payload().is_err());
    }

    #[test]
    fn an_unknown_kind_or_version_keeps_its_bytes() {
        for (kind, version, payload) in
            [("dance", 1, "{ \"a\":1 }"), ("note", 9, r#"{"text":"x"}"#), ("dance", 1, "no JSON")]
        {
            let body = Body::read(kind, version, payload, &[]).unwrap();
            assert_eq!(
                (body.kind(), body.version(), body.payload().unwrap().as_str()),
                (kind, version, payload)
            );
            assert!(matches!(body, Body::Unknown(_)));
        }
        for version in [1, 2] {
            assert!(Body::read("note", version, r#"{"text":1}"#, &[]).is_err());
            assert!(Body::read("note", version, "", &[]).is_err());
        }
    }

    #[test]
    fn an_earlier_version_is_read_its_numbers_as_hashes() {
        let earlier = [Hash::of(b"one"), Hash::of(b"two")];
        let read = |version, about: &str| {
            Body::read("note", version, &format!(r#"{{"text":"x","about":{about}}}"#), &earlier)
        };
        let note = |about| Body::from(Note { text: "x".to_owned(), about });
        assert_eq!(read(1, "2"), Ok(note(Some(earlier[1]))));
        assert_eq!(read(1, "null"), Ok(note(None)));
        assert_eq!(read(2, &format!("\"{}\"", earlier[0])), Ok(note(Some(earlier[0]))));
        for wrong in [(1, "0"), (1, "3"), (1, "-1"), (1, "1.5"), (1, "\"x\""), (2, "1")] {
            assert!(read(wrong.0, wrong.1).is_err(), "{wrong:?}");
        }
    }

    proptest! {
        #[test]
        fn every_finite_number_comes_back_to_the_last_bit(bits in any::<u64>(), text in ".*") {
            let gap_mm = f64::from_bits(bits);
            prop_assume!(gap_mm.is_finite());
            let body = Body::from(take(&text, gap_mm));
            let back = Body::read(body.kind(), body.version(), &body.payload().unwrap(), &[]).unwrap();
            let Body::Take(back) = back else { panic!("another kind") };
            prop_assert_eq!(back.gap.0.to_bits(), bits);
            prop_assert_eq!(back.station, text);
        }

        #[test]
        fn no_payload_panics(kind in ".*", version in any::<u32>(), payload in ".*") {
            let _ = Body::read(&kind, version, &payload, &[]);
            for version in [1, 2, 3] {
                let _ = Body::read("take", version, &payload, &[Hash::NONE]);
            }
        }
    }
}
