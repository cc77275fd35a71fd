//! What can be said in a job: the kinds of event and what each carries.
//!
//! Lengths in mm, angles in degrees, turns in whole turns (clockwise positive, as seen from the screw's head), in the
//! image's frame: origin at the middle of the image's top edge, x right, y up. A number that was not measured is absent,
//! never zero.
//!
//! A kind of event or a version of a payload that a released program does not know makes a new record format: add a step
//! to [`crate::schema::STEPS`] (it may change no table), so that the older program refuses the record instead of stumbling.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::RecordError;
use crate::chain::Hash;

/// Whether a value is in its band, as judged with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum VerdictWord {
    /// Surely in the band.
    Within,
    /// Surely not in the band.
    Outside,
    /// Too close to call.
    Unsure,
}

impl VerdictWord {
    /// As it stands in the record.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Outside => "outside",
            Self::Unsure => "unsure",
        }
    }

    /// The word that stands in the record, read.
    pub fn parse(text: &str) -> Option<Self> {
        [Self::Within, Self::Outside, Self::Unsure].into_iter().find(|word| word.as_str() == text)
    }
}

/// Which state of the installation a take belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Phase {
    /// Before anything was touched.
    AsFound,
    /// In the course of the work.
    Between,
    /// As handed over.
    AsLeft,
}

impl Phase {
    /// As it stands in the record.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::AsFound => "as-found",
            Self::Between => "between",
            Self::AsLeft => "as-left",
        }
    }
}

/// The instrument that measured.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// Serial number.
    pub serial: String,
    /// Firmware version.
    pub firmware: String,
    /// Day of its last zero, `2026-11-20`.
    pub calibration_date: Option<String>,
    /// Hash of its calibration constants as the head holds them.
    pub calibration_sha256: Option<Hash>,
}

/// The job was opened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JobOpened {
    /// Name of the job, unique in its record.
    pub name: String,
    /// The job file's text, whole.
    pub job_file: String,
    /// Hash of that text.
    pub job_file_sha256: Hash,
}

/// The job file was changed in the course of the work.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JobRevised {
    /// The job file's new text, whole.
    pub job_file: String,
    /// Hash of that text.
    pub job_file_sha256: Hash,
}

/// The calibration with which takes from here on were computed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CalibrationUsed {
    /// Whose.
    pub head: Head,
    /// Constant added to every gap, mm.
    pub zero_mm: f64,
    /// Standard uncertainty of it, mm.
    pub u_zero_mm: f64,
    /// Its degrees of freedom; absent when not limited.
    pub dof: Option<f64>,
    /// All constants, as the computing part names them.
    pub constants: Value,
}

/// One settled, accepted reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Take {
    /// Name of the station.
    pub station: String,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
    /// Which state of the installation.
    pub phase: Phase,
    /// Which pass over the stations, from 1.
    pub round: u32,
    /// Touch plane to board face, mm.
    pub gap_mm: f64,
    /// Standard uncertainty of the gap, mm, of this take alone (what all takes share is not in it).
    pub u_gap_mm: f64,
    /// Its degrees of freedom; absent when not limited.
    pub dof: Option<f64>,
    /// Readings averaged.
    pub readings: u32,
    /// Length of the window they were averaged over, s.
    pub window_s: f64,
    /// Tilt of the head along the station's edge, degrees.
    pub tilt_deg: Option<f64>,
    /// Level: turn in the board's plane, degrees.
    pub level_deg: Option<f64>,
    /// Lean toward the board, degrees.
    pub lean_deg: Option<f64>,
    /// Temperature in the head, degrees Celsius.
    pub temperature_c: Option<f64>,
    /// How this station alone stands, with all seats so far.
    pub verdict: Option<VerdictWord>,
    /// What measured.
    pub head: Head,
    /// What the person should know of it: `drifting`, `far from null`.
    pub flags: Vec<String>,
    /// The earlier take that this one replaces, by its place in the job. That one stays in the record.
    pub supersedes: Option<u32>,
}

/// The tilt of the emitter, taken with the head on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EmitterTilt {
    /// Which state of the installation.
    pub phase: Phase,
    /// Which pass, from 1.
    pub round: u32,
    /// Level: turn in the board's plane, degrees.
    pub level_deg: f64,
    /// Lean toward the board, degrees.
    pub lean_deg: f64,
    /// Standard uncertainty of either, degrees.
    pub u_deg: f64,
    /// What measured.
    pub head: Head,
}

/// The program advised to turn an adjuster.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurnAdvised {
    /// Name of the adjuster.
    pub adjuster: String,
    /// How far, turns, clockwise positive.
    pub turns: f64,
    /// Station whose live gap tells when to stop.
    pub station: String,
    /// Gap to come to there, mm.
    pub target_gap_mm: f64,
    /// Which pass, from 1.
    pub round: u32,
}

/// What a turn of an adjuster did.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TurnObserved {
    /// Name of the adjuster.
    pub adjuster: String,
    /// The advice that was followed, by its place in the job.
    pub advice: Option<u32>,
    /// How far it was turned, if anyone counted, turns, clockwise positive.
    pub turns: Option<f64>,
    /// Station where the gap was watched.
    pub station: String,
    /// Gap there before, mm.
    pub gap_before_mm: f64,
    /// Gap there after, mm.
    pub gap_after_mm: f64,
    /// Gap that was predicted, mm.
    pub gap_predicted_mm: Option<f64>,
    /// What was noticed: `turned the other way`, `slipped`.
    pub flags: Vec<String>,
}

/// A place on the board with a name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// As the person knows it: `bottom left`.
    pub name: String,
    /// Right of the image's middle, mm.
    pub x_mm: f64,
    /// Above the image's top edge, mm.
    pub y_mm: f64,
}

/// The whole was judged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Judged {
    /// The verdict.
    pub verdict: VerdictWord,
    /// Which state of the installation was judged.
    pub phase: Phase,
    /// The point that decided it.
    pub worst: Option<Point>,
    /// Gap there, mm.
    pub worst_gap_mm: Option<f64>,
    /// From the gap there to the nearer end of the band, mm; negative beyond it.
    pub margin_mm: Option<f64>,
    /// Expanded uncertainty there at 95 %, mm.
    pub expanded_u_mm: Option<f64>,
    /// The rule in words.
    pub decision_rule: String,
    /// What would settle it, when it is unsure.
    pub would_settle: Option<String>,
    /// Everything else about it: plane, covariance, each control point, level and lean.
    pub detail: Value,
}

/// Which work a section tells of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SectionName {
    /// The board's own shape.
    Survey,
    /// Where things go on the wall.
    SetOut,
    /// Anchors and what they carry.
    Fixings,
    /// How far the image is from its rectangle.
    Square,
    /// How well the instrument repeats.
    Prove,
}

/// The result of one piece of work beside the gaps, as its own part computes and reads it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// Which.
    pub section: SectionName,
    /// Version of the data's own form.
    pub data_version: u32,
    /// The data.
    pub data: Value,
}

/// One line of an uncertainty budget, after JCGM 100 (GUM) 5.1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BudgetLine {
    /// Where it comes from.
    pub source: String,
    /// The figure as found, in `unit`.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// `normal`, `rectangular`, `triangular`.
    pub distribution: String,
    /// What turns the figure into a standard uncertainty.
    pub divisor: f64,
    /// Change of the result per unit.
    pub sensitivity: f64,
    /// Standard uncertainty of the result from this source, in the result's unit.
    pub contribution: f64,
    /// Its degrees of freedom; absent when not limited.
    pub dof: Option<f64>,
    /// Its share of the variance, 0 to 1.
    pub share: f64,
}

/// The head's constants were found anew.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Calibrated {
    /// The head, as it was before.
    pub head: Head,
    /// Constants before.
    pub before: Option<Value>,
    /// Constants after; absent when the head was left as it was.
    pub after: Option<Value>,
    /// What it was held against: block, its size, its certificate.
    pub reference: String,
    /// The budget of the new zero.
    pub budget: Vec<BudgetLine>,
}

/// What someone wanted to be kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Note {
    /// The text.
    pub text: String,
    /// The event it is about, by its place in the job.
    pub about: Option<u32>,
}

/// A photo or another file was attached; its bytes stand beside the events, under their hash.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PhotoAttached {
    /// Its file name.
    pub name: String,
    /// Its kind, as in `image/jpeg`.
    pub media_type: String,
    /// Length in bytes.
    pub bytes: u64,
    /// Hash of the bytes.
    pub sha256: Hash,
    /// What it shows.
    pub caption: Option<String>,
}

/// The job is done.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Closed {
    /// The last verdict on the whole, if there was one.
    pub verdict: Option<VerdictWord>,
    /// What is left to do, in the closer's words.
    pub open_points: Vec<String>,
}

/// Someone put their signature under the closed job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Signed {
    /// Place of the event that was signed: the closing one.
    pub seq: u32,
    /// Its hash.
    pub hash: Hash,
    /// The signer's public key, as OpenSSH writes it.
    pub public_key: String,
    /// The signature, in OpenSSH's armoured form.
    pub signature: String,
}

/// From one table: the enum, and each kind's word and payload version.
macro_rules! bodies {
    ($($(#[$doc:meta])* $variant:ident = $kind:literal, version $version:literal;)*) => {
        /// An event's content.
        #[derive(Debug, Clone, PartialEq, Serialize)]
        #[serde(tag = "kind", content = "payload")]
        pub enum Body {
            $($(#[$doc])* #[serde(rename = $kind)] $variant($variant),)*
        }

        impl Body {
            /// The word for its kind that stands in the record.
            pub fn kind(&self) -> &'static str {
                match self { $(Self::$variant(_) => $kind,)* }
            }

            /// Version of its payload's form.
            pub fn version(&self) -> u32 {
                match self { $(Self::$variant(_) => $version,)* }
            }

            fn to_json(&self) -> serde_json::Result<String> {
                match self { $(Self::$variant(body) => serde_json::to_string(body),)* }
            }

            /// Reads a payload as the record holds it.
            ///
            /// # Errors
            /// What does not fit, as a clause.
            pub fn read(kind: &str, version: u32, payload: &str) -> Result<Self, String> {
                match (kind, version) {
                    $(($kind, $version) => serde_json::from_str(payload).map(Self::$variant),)*
                    _ => return Err(format!("\"{kind}\" in version {version} is no event that this program knows")),
                }
                .map_err(|error| format!("the content of \"{kind}\" cannot be read ({error})"))
            }
        }

        $(impl From<$variant> for Body {
            fn from(body: $variant) -> Self { Self::$variant(body) }
        })*
    };
}

bodies! {
    /// The job was opened.
    JobOpened = "job opened", version 1;
    /// The job file was changed.
    JobRevised = "job revised", version 1;
    /// The calibration in use.
    CalibrationUsed = "calibration used", version 1;
    /// A take.
    Take = "take", version 1;
    /// The emitter's tilt.
    EmitterTilt = "emitter tilt", version 1;
    /// An adjuster was to be turned.
    TurnAdvised = "turn advised", version 1;
    /// An adjuster was turned.
    TurnObserved = "turn observed", version 1;
    /// The whole was judged.
    Judged = "verdict", version 1;
    /// Other work's result.
    Section = "section", version 1;
    /// The head was zeroed.
    Calibrated = "calibration", version 1;
    /// A note.
    Note = "note", version 1;
    /// A photo.
    PhotoAttached = "photo attached", version 1;
    /// The job was closed.
    Closed = "closed", version 1;
    /// A closed job was signed.
    Signed = "signed", version 1;
}

impl Body {
    /// The payload as the record keeps it.
    ///
    /// # Errors
    /// [`RecordError::BadEvent`] when it would not read back equal: a number that is infinite or no number at all.
    pub fn payload(&self) -> Result<String, RecordError> {
        let text = self.to_json().map_err(|error| RecordError::BadEvent(error.to_string()))?;
        match Self::read(self.kind(), self.version(), &text) {
            Ok(back) if back == *self => Ok(text),
            _ => Err(RecordError::BadEvent(format!("a number in \"{}\" is infinite or missing", self.kind()))),
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use proptest::prelude::*;

    pub(crate) fn take(station: &str, gap_mm: f64) -> Take {
        Take {
            station: station.to_owned(),
            x_mm: -1000.0,
            y_mm: 0.0,
            phase: Phase::AsFound,
            round: 1,
            gap_mm,
            u_gap_mm: 0.02,
            dof: Some(12.0),
            readings: 400,
            window_s: 4.0,
            tilt_deg: Some(0.12),
            level_deg: None,
            lean_deg: None,
            temperature_c: Some(21.5),
            verdict: Some(VerdictWord::Unsure),
            head: Head {
                serial: "SG-0007".to_owned(),
                firmware: "0.1.0".to_owned(),
                calibration_date: Some("2026-11-20".to_owned()),
                calibration_sha256: Some(Hash::of(b"constants")),
            },
            flags: Vec::new(),
            supersedes: None,
        }
    }

    #[test]
    fn a_number_that_is_none_is_refused() {
        for gap_mm in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(Body::from(take("top", gap_mm)).payload().is_err());
        }
        let blank = Take { tilt_deg: Some(f64::NAN), ..take("top", 3.0) };
        assert!(Body::from(blank).payload().is_err());
    }

    #[test]
    fn an_unknown_kind_or_version_is_said() {
        assert!(Body::read("dance", 1, "{}").unwrap_err().contains("dance"));
        assert!(Body::read("note", 9, r#"{"text":"x"}"#).unwrap_err().contains("version 9"));
        assert!(Body::read("note", 1, r#"{"text":1}"#).is_err());
        assert!(Body::read("note", 1, "").is_err());
    }

    proptest! {
        #[test]
        fn every_finite_number_comes_back_to_the_last_bit(bits in any::<u64>(), text in ".*") {
            let gap_mm = f64::from_bits(bits);
            prop_assume!(gap_mm.is_finite());
            let body = Body::from(take(&text, gap_mm));
            let back = Body::read(body.kind(), body.version(), &body.payload().unwrap()).unwrap();
            let Body::Take(back) = back else { panic!("another kind") };
            prop_assert_eq!(back.gap_mm.to_bits(), bits);
            prop_assert_eq!(back.station, text);
        }

        #[test]
        fn no_payload_panics(kind in ".*", version in any::<u32>(), payload in ".*") {
            let _ = Body::read(&kind, version, &payload);
            let _ = Body::read("take", 1, &payload);
        }
    }
}
