//! Calls and reports as bytes: the tag, then for a call its token, then the contents.

use super::{Answer, Ask, Call, PROTOCOL, Report, Request, SCHEMA, Token};
use core::fmt;
use serde::de::{Error, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

impl Serialize for Call {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let (tag, token) = (self.request.ask() as u8, self.token);
        match &self.request {
            Request::Greet => (tag, PROTOCOL, SCHEMA, token).serialize(to),
            Request::EnterLoader { key } => (tag, key).serialize(to),
            Request::Ping
            | Request::ReadCalibration
            | Request::ProfileWanted
            | Request::Unattended => (tag, token).serialize(to),
            Request::SetRate { per_second } => (tag, token, per_second).serialize(to),
            Request::Identify { seconds } => (tag, token, seconds).serialize(to),
            Request::StageCalibration(calibration) => (tag, token, calibration).serialize(to),
            Request::StagePixels { part, bytes } => (tag, token, part, bytes).serialize(to),
            Request::CommitCalibration { check } => (tag, token, check).serialize(to),
            Request::StreamCodes { on } => (tag, token, on).serialize(to),
            Request::Cue(cue) => (tag, token, cue).serialize(to),
        }
    }
}

impl<'de> Deserialize<'de> for Call {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_tuple(4, Calls)
    }
}

struct Calls;

impl<'de> Visitor<'de> for Calls {
    type Value = Call;

    fn expecting(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.write_str("a call")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut from: A) -> Result<Call, A::Error> {
        let tag: u8 = next(&mut from)?;
        if tag == Ask::Greet as u8 {
            // Another protocol's or schema's is refused before it comes here.
            let (_, _) = (next::<u16, A>(&mut from)?, next::<u32, A>(&mut from)?);
            return Ok(Call { token: next(&mut from)?, request: Request::Greet });
        }
        if tag == Ask::EnterLoader as u8 {
            let request = Request::EnterLoader { key: next(&mut from)? };
            return Ok(Call { token: Token::NONE, request });
        }
        let token = next(&mut from)?;
        let request = match tag {
            16 => Request::Ping,
            17 => Request::SetRate { per_second: next(&mut from)? },
            18 => Request::Identify { seconds: next(&mut from)? },
            19 => Request::ReadCalibration,
            20 => Request::StageCalibration(next(&mut from)?),
            21 => Request::StagePixels { part: next(&mut from)?, bytes: next(&mut from)? },
            22 => Request::CommitCalibration { check: next(&mut from)? },
            23 => Request::StreamCodes { on: next(&mut from)? },
            24 => Request::Cue(next(&mut from)?),
            25 => Request::ProfileWanted,
            26 => Request::Unattended,
            _ => return Err(A::Error::custom("no such request")),
        };
        Ok(Call { token, request })
    }
}

impl Serialize for Report {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Hello(hello) => (0_u8, hello).serialize(to),
            Self::Reading(reading) => (16_u8, reading).serialize(to),
            Self::Sheet(sheet) => (17_u8, sheet).serialize(to),
            Self::Pulse(pulse) => (18_u8, pulse).serialize(to),
            Self::Codes(codes) => (19_u8, codes).serialize(to),
            Self::Profile(piece) => (20_u8, piece).serialize(to),
            Self::Button { press, at } => (21_u8, press, at).serialize(to),
            Self::Log(bytes) => (22_u8, bytes).serialize(to),
            Self::LastWords(words) => (23_u8, words).serialize(to),
            Self::Answer(token, answer) => (24_u8, token, answer).serialize(to),
        }
    }
}

impl<'de> Deserialize<'de> for Report {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_tuple(3, Reports)
    }
}

struct Reports;

impl<'de> Visitor<'de> for Reports {
    type Value = Report;

    fn expecting(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.write_str("a report")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut from: A) -> Result<Report, A::Error> {
        let from = &mut from;
        Ok(match next::<u8, A>(from)? {
            0 => Report::Hello(next(from)?),
            16 => Report::Reading(next(from)?),
            17 => Report::Sheet(next(from)?),
            18 => Report::Pulse(next(from)?),
            19 => Report::Codes(next(from)?),
            20 => Report::Profile(next(from)?),
            21 => Report::Button { press: next(from)?, at: next(from)? },
            22 => Report::Log(next(from)?),
            23 => Report::LastWords(next(from)?),
            24 => Report::Answer(next(from)?, next::<Answer, A>(from)?),
            _ => return Err(A::Error::custom("no such report")),
        })
    }
}

fn next<'de, T: Deserialize<'de>, A: SeqAccess<'de>>(from: &mut A) -> Result<T, A::Error> {
    from.next_element()?.ok_or_else(|| A::Error::custom("cut short"))
}
