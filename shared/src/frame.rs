//! Bytes on the wire.
//!
//! A frame is `COBS(payload, CRC-32 little-endian)` and a separator 00h. The CRC is CRC-32/ISO-HDLC
//! over the payload; the payload is one message in `postcard`'s format. A sender begins with a
//! separator after a start, so that what a former start left half sent cannot swallow the first
//! frame.

use crate::check::crc32;
use heapless::Vec;
use serde::Serialize;
use serde::de::DeserializeOwned;

/// The protocol that this crate speaks.
pub const PROTOCOL: u16 = 2;

/// The shapes that this crate speaks, within a protocol: CRC-32 of one of every message, as
/// `shared/tests/wire.rs` has them. Two ends that differ in it would misread one another.
pub const SCHEMA: u32 = 0x3ECC_5D07;

/// Between frames, and before the first.
pub const SEPARATOR: u8 = 0;

/// Room for the longest frame of either direction, separator included.
pub const MAX_FRAME: usize = 128;

/// The message as a frame, separator included.
///
/// # Errors
/// The buffer is too small; [`MAX_FRAME`] always suffices.
pub fn encode<'a, T: Serialize>(
    message: &T,
    buffer: &'a mut [u8],
) -> Result<&'a mut [u8], postcard::Error> {
    let mut body = [0; MAX_FRAME];
    let length = postcard::to_slice(message, &mut body)?.len();
    seal(&mut body, length, buffer).ok_or(postcard::Error::SerializeBufferFull)
}

/// Checksum, COBS, separator around the payload that `body` begins with; apart from the message's
/// type, so that it is there once in the head's flash.
fn seal<'a>(
    body: &mut [u8; MAX_FRAME],
    length: usize,
    buffer: &'a mut [u8],
) -> Option<&'a mut [u8]> {
    let check = crc32(&body[..length]);
    body.get_mut(length..length + 4)?.copy_from_slice(&check.to_le_bytes());
    let end = cobs::try_encode(&body[..length + 4], buffer).ok()?;
    *buffer.get_mut(end)? = SEPARATOR;
    buffer.get_mut(..=end)
}

/// What one more byte brought.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fed<T> {
    /// Nothing yet.
    More,
    /// A whole message.
    Message(T),
    /// Bytes that are no message.
    Skipped {
        /// How many, separator included.
        bytes: u32,
        /// Why.
        why: Skip,
    },
}

/// Why bytes were passed over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Skip {
    /// Longer than any frame: another device, or separators lost.
    TooLong,
    /// Not COBS, or too short for a checksum: the tail of a frame, or noise.
    NotAFrame,
    /// The checksum does not fit: a bit was lost on the way.
    Checksum,
    /// The checksum fits, the contents do not: a sender newer than this protocol, or a fault of it.
    Contents {
        /// What it was: the first byte.
        tag: u8,
        /// What a request's answer carries; 0 where there is none.
        token: u16,
    },
    /// A greeting in another version of the protocol.
    Protocol(u16),
    /// A greeting in other shapes of this version: two ends made at different times.
    Schema(u32),
}

/// Takes bytes one by one and gives messages. Never gives a message that was not sent whole.
#[derive(Debug)]
pub struct Decoder {
    frame: Vec<u8, MAX_FRAME>,
    /// Bytes of the frame, those included that found no room.
    length: u32,
}

impl Default for Decoder {
    fn default() -> Self {
        Self::new()
    }
}

impl Decoder {
    /// Nothing heard yet.
    pub const fn new() -> Self {
        Self { frame: Vec::new(), length: 0 }
    }

    /// Forget a frame begun; for when the link was lost.
    pub fn reset(&mut self) {
        self.frame.clear();
        self.length = 0;
    }

    /// One more byte.
    pub fn feed<T: DeserializeOwned>(&mut self, byte: u8) -> Fed<T> {
        self.length = self.length.saturating_add(1);
        if byte != SEPARATOR {
            // Past the end only the length counts on: the frame is told as too long at its
            // separator.
            let _ = self.frame.push(byte);
            return Fed::More;
        }
        let bytes = self.length;
        let outcome = if bytes == 1 {
            Ok(None)
        } else if bytes as usize > MAX_FRAME {
            Err(Skip::TooLong)
        } else {
            open(&mut self.frame).map(Some)
        };
        self.reset();
        match outcome {
            Ok(None) => Fed::More,
            Ok(Some(message)) => Fed::Message(message),
            Err(why) => Fed::Skipped { bytes, why },
        }
    }
}

fn open<T: DeserializeOwned>(frame: &mut [u8]) -> Result<T, Skip> {
    let length = cobs::decode_in_place(frame).map_err(|_| Skip::NotAFrame)?;
    let body = frame.get(..length).ok_or(Skip::NotAFrame)?;
    let (payload, check) = body.split_last_chunk::<4>().ok_or(Skip::NotAFrame)?;
    if payload.is_empty() {
        return Err(Skip::NotAFrame);
    }
    if crc32(payload) != u32::from_le_bytes(*check) {
        return Err(Skip::Checksum);
    }
    if let Some(other) = other_shapes(payload) {
        return Err(other);
    }
    match postcard::take_from_bytes::<T>(payload) {
        Ok((message, [])) => Ok(message),
        _ => {
            let (tag, rest) = payload.split_first().ok_or(Skip::NotAFrame)?;
            let token = postcard::take_from_bytes::<u16>(rest).map_or(0, |(token, _)| token);
            Err(Skip::Contents { tag: *tag, token })
        }
    }
}

/// Tag 0 is a greeting in both directions and in every version, its protocol number next, and from
/// version 2 on the schema.
fn other_shapes(payload: &[u8]) -> Option<Skip> {
    let (0, rest) = payload.split_first()? else { return None };
    let (theirs, rest) = postcard::take_from_bytes::<u16>(rest).ok()?;
    if theirs != PROTOCOL {
        return Some(Skip::Protocol(theirs));
    }
    let (theirs, _) = postcard::take_from_bytes::<u32>(rest).ok()?;
    (theirs != SCHEMA).then_some(Skip::Schema(theirs))
}
