//! Every message, in both directions.
//!
//! | tag | host to head ([`Request`]) | answer | | tag | head to host ([`Report`]) | when |
//! | --- | --- | --- | --- | --- | --- | --- |
//! | 0 | `Greet` | `Hello` | | 0 | `Hello` | after boot, on `Greet` |
//! | 1 | `Ping` | `Pong` | | 1 | `Reading` | at the set rate |
//! | 2 | `SetRate` | `Rate` | | 2 | `Pulse` | five times a second |
//! | 3 | `Identify` | `Done` | | 3 | `Pong` | on `Ping` |
//! | 4 | `ReadCalibration` | `Calibration` | | 4 | `Rate` | on `SetRate` |
//! | 5 | `StageCalibration` | `Staged` | | 5 | `Calibration` | on `ReadCalibration`, `CommitCalibration` |
//! | 6 | `CommitCalibration` | `Calibration` | | 6 | `Staged` | on `StageCalibration` |
//! | 7 | `StreamCodes` | `Done`, then `Codes` | | 7 | `Codes` | with each reading, while asked for |
//! | 8 | `Cue` | `Done` | | 8 | `Button` | on a press |
//! | 9 | `EnterLoader` | `Done` | | 9 | `Done` | on `Identify`, `StreamCodes`, `Cue`, `EnterLoader` |
//! | | | | | 10 | `Refused` | instead of any answer |
//! | | | | | 11 | `Log` | as the head logs (`defmt` frames) |
//! | | | | | 12 | `LastWords` | after a restart that a panic caused |
//!
//! Tag 0 of both directions begins with the protocol's version, for ever: a receiver of another
//! version can always read that much, and refuses by name.

pub use crate::calibration::CalibrationCheck;
use crate::calibration::{Calibration, CalibrationState};
pub use crate::frame::PROTOCOL;
pub use crate::identity::{SerialNumber, Version};
use crate::reading::{Reading, Sample};
use crate::units::{CentiCelsius, Microseconds, Millivolts};
use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

/// What the loader request must carry, so that no stray byte restarts a head.
pub const LOADER_KEY: u32 = 0x534B_494D;

/// Host to head.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Request {
    /// Who is there?
    Greet {
        /// [`PROTOCOL`] of the host.
        protocol: u16,
    },
    /// Answer at once; the host measures the round trip.
    Ping {
        /// Comes back unchanged.
        token: u32,
    },
    /// Readings per second from now on; the answer says what was set.
    SetRate {
        /// 1 to the converter's limit; more asks for the most.
        per_second: u16,
    },
    /// Show which head you are: lamp and buzzer, for so long.
    Identify {
        /// Seconds; 0 stops.
        seconds: u8,
    },
    /// Tell the calibration in use.
    ReadCalibration,
    /// First step of writing a calibration: hold it, change nothing.
    StageCalibration(Calibration),
    /// Second step: write what was staged, read it back, use it.
    CommitCalibration {
        /// The check that `Staged` gave.
        check: u32,
    },
    /// Send raw codes with each reading, or stop.
    StreamCodes {
        /// Send them?
        on: bool,
    },
    /// What the user should hear. Falls silent by itself after a second without a fresh one.
    Cue(Cue),
    /// Restart into the boot loader.
    EnterLoader {
        /// [`LOADER_KEY`].
        key: u32,
    },
}

/// Head to host.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Report {
    /// Who the head is.
    Hello(Hello),
    /// One reading.
    Reading(Reading),
    /// How the head is.
    Pulse(Pulse),
    /// Answer to a ping.
    Pong {
        /// As it came.
        token: u32,
        /// The head's clock when it answered.
        at: Microseconds,
    },
    /// The rate now in force.
    Rate(Rate),
    /// The calibration in use, and what is known of it.
    Calibration(CalibrationState),
    /// A calibration is held, not written.
    Staged {
        /// Say this to commit it.
        check: u32,
    },
    /// Raw codes of the reading just sent.
    Codes(Codes),
    /// The head's button.
    Button {
        /// How it was pressed.
        press: Press,
        /// When it was let go (short) or had been held long enough (long).
        at: Microseconds,
    },
    /// Done as asked.
    Done(Ask),
    /// Not done, and why.
    Refused {
        /// What was asked.
        ask: Ask,
        /// Why not.
        why: Refusal,
    },
    /// A piece of the head's log: `defmt` frames, to be decoded with the image's own table.
    Log(Vec<u8, 48>),
    /// Where the head panicked before this start.
    LastWords(String<96>),
}

/// Who a head is. The first thing it sends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Hello {
    /// [`PROTOCOL`] of the head. Always first.
    pub protocol: u16,
    /// The image's version.
    pub firmware: Version,
    /// The memory's factory number; absent when the memory does not answer.
    pub serial: Option<SerialNumber>,
    /// Why the head started.
    pub reset: ResetCause,
    /// What this head has.
    pub capabilities: Capabilities,
    /// The head's clock.
    pub at: Microseconds,
    /// Readings made since the start.
    pub made: u32,
    /// The rate in force.
    pub rate: Rate,
    /// Whether its calibration can be used.
    pub calibration: CalibrationCheck,
}

/// Why the head started.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ResetCause {
    /// Power came, or came back.
    Power,
    /// The reset line.
    Line,
    /// It hung, and its watchdog restarted it.
    Watchdog,
    /// It panicked; `LastWords` says where.
    Panic,
    /// It was asked to.
    Asked,
    /// Not known.
    Unknown,
}

/// What a head has, one bit each.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Capabilities(pub u8);

impl Capabilities {
    /// An eye: it measures the light's height by itself.
    pub const EYE: Self = Self(1);
    /// A buzzer for cues.
    pub const BUZZER: Self = Self(2);
    /// It can restart into the boot loader on request.
    pub const LOADER: Self = Self(4);
    /// It sends its log.
    pub const LOG: Self = Self(8);

    /// Both together.
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// All of `other` is there.
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }
}

/// The rate in force.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Rate {
    /// Readings per second.
    pub per_second: u16,
    /// Conversions averaged per channel in each reading.
    pub conversions: u8,
}

/// How the head is, five times a second.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pulse {
    /// The head's whole clock.
    pub at: Microseconds,
    /// Readings made since the start, sent or not.
    pub made: u32,
    /// Readings made that found no room on the link.
    pub unsent: u32,
    /// Frames from the host that were refused since the start.
    pub refused_frames: u32,
    /// Temperature inside the head.
    pub temperature: Sample<CentiCelsius>,
    /// Supply.
    pub supply: Sample<Millivolts>,
    /// Light on both cells together, converter codes.
    pub light: Sample<u16>,
    /// The latest that a reading started after its time, since the last pulse.
    pub latest_start_us: u16,
}

/// Raw codes behind one reading, for zeroing and diagnosis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Codes {
    /// The reading's sequence number.
    pub sequence: u8,
    /// Stand-off, outer cell, inner cell: mean converter codes in sixteenths (125 uV / 16).
    pub converter: Sample<[i32; 3]>,
    /// Inclinometer angle registers X (level) and Y (lean), 90 degrees / 16384.
    pub angles: Sample<[i16; 2]>,
}

/// How the button was pressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Press {
    /// Pressed and let go: take.
    Short,
    /// Held for a second: redo.
    Long,
}

/// What the user should hear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Cue {
    /// Nothing.
    Silent,
    /// Ticks that quicken as the gap nears its goal.
    Seek {
        /// 0 far, 255 there.
        nearness: u8,
    },
    /// There: a steady tone.
    There,
    /// The reading is doubtful: a low double tick.
    Doubtful,
}

/// A request without its contents.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Ask {
    /// `Greet`
    Greet,
    /// `Ping`
    Ping,
    /// `SetRate`
    SetRate,
    /// `Identify`
    Identify,
    /// `ReadCalibration`
    ReadCalibration,
    /// `StageCalibration`
    StageCalibration,
    /// `CommitCalibration`
    CommitCalibration,
    /// `StreamCodes`
    StreamCodes,
    /// `Cue`
    Cue,
    /// `EnterLoader`
    EnterLoader,
}

impl Request {
    /// What is asked, without the contents.
    pub fn ask(&self) -> Ask {
        match self {
            Self::Greet { .. } => Ask::Greet,
            Self::Ping { .. } => Ask::Ping,
            Self::SetRate { .. } => Ask::SetRate,
            Self::Identify { .. } => Ask::Identify,
            Self::ReadCalibration => Ask::ReadCalibration,
            Self::StageCalibration(_) => Ask::StageCalibration,
            Self::CommitCalibration { .. } => Ask::CommitCalibration,
            Self::StreamCodes { .. } => Ask::StreamCodes,
            Self::Cue(_) => Ask::Cue,
            Self::EnterLoader { .. } => Ask::EnterLoader,
        }
    }
}

/// Why a head does not do as asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Refusal {
    /// The host speaks another protocol.
    Protocol,
    /// Nothing was staged, or something else was.
    NotStaged,
    /// The calibration is for another head.
    OtherHead,
    /// A value is out of its range.
    OutOfRange,
    /// The memory does not answer.
    NoMemory,
    /// What was written did not read back the same; the former calibration is still in force.
    NotVerified,
    /// This head cannot.
    NotFitted,
    /// Another request is still being carried out.
    Busy,
}
