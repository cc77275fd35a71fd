//! Every message, in both directions.
//!
//! | tag | host to head ([`Request`]) | answer | | tag | head to host ([`Report`]) | when |
//! | --- | --- | --- | --- | --- | --- | --- |
//! | 0 | `Greet` | `Hello` | | 0 | `Hello` | after boot, on `Greet` |
//! | 9 | `EnterLoader` | `PressWanted` | | 16 | `Reading` | at the set rate |
//! | 16 | `Ping` | `Pong` | | 17 | `Sheet` | five times a second, and when the light's state changes |
//! | 17 | `SetRate` | `Rate` | | 18 | `Pulse` | five times a second |
//! | 18 | `Identify` | `Done` | | 19 | `Codes` | with each reading, while asked for |
//! | 19 | `ReadCalibration` | `Calibration` | | 20 | `Profile` | four on `ProfileWanted` |
//! | 20 | `StageCalibration` | `Staged` | | 21 | `Button` | on a press |
//! | 21 | `StagePixels` | `Staged` | | 22 | `Log` | as the head logs (`defmt` frames) |
//! | 22 | `CommitCalibration` | `PressWanted`, then `Calibration` | | 23 | `LastWords` | after a restart that a panic caused |
//! | 23 | `StreamCodes` | `Done`, then `Codes` | | 24 | `Answer` | to every request, with its token |
//! | 24 | `Cue` | `Done` | | | | |
//! | 25 | `ProfileWanted` | `Done`, then `Profile` | | | | |
//! | 26 | `Unattended` | `Done` | | | | |
//!
//! A request goes in a [`Call`] that gives it a [`Token`], the first thing after its tag; its answer
//! carries the same. Any request may be answered with [`Answer::Refused`], and one whose tag or
//! contents the head does not know with [`Answer::Unknown`].
//!
//! Tag 0 of both directions begins with the protocol's version, for ever, and from version 2 on with
//! the [`SCHEMA`] next: a receiver of another version can always read that much, and refuses by name.
//! `EnterLoader` is, frame and all, what it was in protocol 1, for ever, and has no token: its answer
//! carries [`Token::NONE`]. Other tags below 16 were protocol 1's and say nothing any more, so that
//! neither end takes a message of an old one for another of its own.
//!
//! Over 400 lines: one table of messages, both directions side by side.

mod wire;

pub use crate::calibration::CalibrationCheck;
use crate::calibration::{Calibration, CalibrationState};
pub use crate::frame::{PROTOCOL, SCHEMA};
pub use crate::identity::{SerialNumber, Version};
use crate::light::Sheet;
use crate::pixels::{Piece, TABLE_PART};
use crate::reading::{Reading, Sample};
use crate::units::{CentiCelsius, Microseconds, Millivolts};
use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

/// What the loader request must carry, so that no stray byte restarts a head.
pub const LOADER_KEY: u32 = 0x534B_494D;

/// How long a head waits for a press of its button, or for [`Request::Unattended`].
pub const PRESS_WITHIN: Microseconds = Microseconds(10_000_000);

/// Ties an answer to its request.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(transparent)]
pub struct Token(pub u16);

impl Token {
    /// Of what nobody asked, and of [`Request::EnterLoader`].
    pub const NONE: Self = Self(0);
}

/// A request on its way.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Call {
    /// Comes back with the answer. Of [`Request::EnterLoader`] it does not go out.
    pub token: Token,
    /// What is asked.
    pub request: Request,
}

/// Host to head.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Request {
    /// Who is there? Goes out with [`PROTOCOL`] and [`SCHEMA`].
    Greet,
    /// Answer at once; the host measures the round trip.
    Ping,
    /// Readings per second from now on; the answer says what was set.
    SetRate {
        /// 1 to 90; more asks for the most. The head gives the nearest that divides 90.
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
    /// The same of a part of the pixels' table that belongs to it: bytes of
    /// [`Pixels::to_bytes`](crate::pixels::Pixels::to_bytes). A table that the head holds already
    /// need not be sent again.
    StagePixels {
        /// Which part, from 0.
        part: u8,
        /// Its bytes, [`TABLE_PART`] but for the last.
        bytes: Vec<u8, TABLE_PART>,
    },
    /// Second step: write what was staged, read it back, use it. Wants a press. Asked again with the
    /// same check, it is answered again and nothing is written twice.
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
    /// Send the next scan whole; at most five a second.
    ProfileWanted,
    /// Do what waits for a press: nobody is at the head.
    Unattended,
    /// Restart into the boot loader. Wants a press.
    EnterLoader {
        /// [`LOADER_KEY`].
        key: u32,
    },
}

/// Head to host.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Report {
    /// Who the head is.
    Hello(Hello),
    /// One reading.
    Reading(Reading),
    /// What the profile shows besides its middle.
    Sheet(Sheet),
    /// How the head is.
    Pulse(Pulse),
    /// Raw codes of the reading just sent.
    Codes(Codes),
    /// A quarter of a scan.
    Profile(Piece),
    /// The head's button.
    Button {
        /// How it was pressed.
        press: Press,
        /// When it was let go (short) or had been held long enough (long).
        at: Microseconds,
    },
    /// A piece of the head's log: `defmt` frames, to be decoded with the image's own table.
    Log(Vec<u8, 48>),
    /// Where the head panicked before this start.
    LastWords(String<96>),
    /// To a request.
    Answer(Token, Answer),
}

/// What a request is answered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Answer {
    /// Done as asked.
    Done,
    /// Not done, and why.
    Refused(Refusal),
    /// This head does not know the request.
    Unknown,
    /// To a ping.
    Pong {
        /// The head's clock when it answered.
        at: Microseconds,
    },
    /// The rate now in force.
    Rate(Rate),
    /// The calibration in use, and what is known of it.
    Calibration(CalibrationState),
    /// A calibration, or a part of its pixels' table, is held, not written.
    Staged {
        /// Of a calibration: say this to commit it. Of a part: the CRC-32 of its bytes.
        check: u32,
    },
    /// It waits for a press of the head's button, or for [`Request::Unattended`]; another answer
    /// follows, but for the boot loader.
    PressWanted {
        /// So long.
        seconds: u8,
    },
}

impl Answer {
    /// Another answer to the same request follows.
    pub fn is_preliminary(&self) -> bool {
        matches!(self, Self::PressWanted { .. })
    }
}

/// Who a head is. The first thing it sends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Hello {
    /// [`PROTOCOL`] of the head. Always first.
    pub protocol: u16,
    /// [`SCHEMA`] of the head. Always next.
    pub schema: u32,
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
    /// Of the greeting that it answers; [`Token::NONE`] after a start.
    pub token: Token,
}

impl Hello {
    /// Whether the head is simulated: by what it says that it has, which needs no memory, or by its
    /// number.
    pub fn is_simulated(&self) -> bool {
        self.capabilities.has(Capabilities::SIMULATED)
            || self.serial.is_some_and(|serial| serial.is_simulated())
    }
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
    /// A buzzer for cues.
    pub const BUZZER: Self = Self(2);
    /// It can restart into the boot loader on request.
    pub const LOADER: Self = Self(4);
    /// It sends its log.
    pub const LOG: Self = Self(8);
    /// It is simulated: no flash image says so.
    pub const SIMULATED: Self = Self(16);

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
    /// Conversions of the stand-off averaged in each reading.
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
    /// The inclinometer's status word, every bit that was set since the last pulse; 0: none.
    pub tilt_status: u16,
    /// The latest that a read of the pixels began after its time since the last pulse, us.
    pub latest_start_us: u16,
}

impl Pulse {
    /// The gravest thing that the inclinometer's status word says, if it says anything (SCL3300 data
    /// sheet, STATUS, from memory).
    pub fn tilt_trouble(&self) -> Option<&'static str> {
        const NAMES: [(u16, &str); 10] = [
            (1 << 8, "digital block, 1"),
            (1 << 9, "digital block, 2"),
            (1 << 7, "clock"),
            (1 << 6, "signal saturated: shaken or struck"),
            (1 << 5, "temperature beyond the signal path"),
            (1 << 4, "supply"),
            (1 << 3, "its memory"),
            (1 << 2, "powered down"),
            (1 << 1, "mode changed"),
            (1 << 0, "a pin's connection"),
        ];
        let status = self.tilt_status;
        let named = NAMES.iter().find(|(bit, _)| status & bit != 0);
        (status != 0).then(|| named.map_or("a bit without a name", |(_, name)| name))
    }
}

/// Raw codes behind one reading, for zeroing and diagnosis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Codes {
    /// The reading's sequence number.
    pub sequence: u8,
    /// Stand-off: mean converter code in sixteenths (125 uV / 16).
    pub stand_off: Sample<i32>,
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

/// A request without its contents: its tag.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(u8)]
pub enum Ask {
    /// `Greet`
    Greet = 0,
    /// `EnterLoader`
    EnterLoader = 9,
    /// `Ping`
    Ping = 16,
    /// `SetRate`
    SetRate,
    /// `Identify`
    Identify,
    /// `ReadCalibration`
    ReadCalibration,
    /// `StageCalibration`
    StageCalibration,
    /// `StagePixels`
    StagePixels,
    /// `CommitCalibration`
    CommitCalibration,
    /// `StreamCodes`
    StreamCodes,
    /// `Cue`
    Cue,
    /// `ProfileWanted`
    ProfileWanted,
    /// `Unattended`
    Unattended,
}

impl Request {
    /// What is asked, without the contents.
    pub fn ask(&self) -> Ask {
        match self {
            Self::Greet => Ask::Greet,
            Self::Ping => Ask::Ping,
            Self::SetRate { .. } => Ask::SetRate,
            Self::Identify { .. } => Ask::Identify,
            Self::ReadCalibration => Ask::ReadCalibration,
            Self::StageCalibration(_) => Ask::StageCalibration,
            Self::StagePixels { .. } => Ask::StagePixels,
            Self::CommitCalibration { .. } => Ask::CommitCalibration,
            Self::StreamCodes { .. } => Ask::StreamCodes,
            Self::Cue(_) => Ask::Cue,
            Self::ProfileWanted => Ask::ProfileWanted,
            Self::Unattended => Ask::Unattended,
            Self::EnterLoader { .. } => Ask::EnterLoader,
        }
    }
}

/// Why a head does not do as asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Refusal {
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
    /// Another request is still being carried out, or it was asked too soon after the last.
    Busy,
    /// The head's button was not pressed in time: nothing was changed.
    NotPressed,
    /// Nothing waits for a press.
    NothingWaits,
}
