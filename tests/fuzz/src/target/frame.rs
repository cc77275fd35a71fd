//! Bytes on the wire, either way: what is decoded is what its encoding decodes to; every byte is
//! accounted for; whatever came before, the next whole frame is heard.
//!
//! The first byte chooses: even, the rest as it came; odd, the rest as a payload with its checksum,
//! which no chance change would ever find.

use crate::Target;
use serde::Serialize;
use serde::de::DeserializeOwned;
use skimgauge_shared::check::crc32;
use skimgauge_shared::frame::{Decoder, Fed, MAX_FRAME, SEPARATOR, encode};
use skimgauge_shared::message::{Answer, Call, Report, Request, Token};
use std::fmt::Debug;

/// The wire.
pub const TARGET: Target = Target {
    name: "frame",
    check,
    each_run: 400_000,
    words: &["\0", "\0\0", "\u{1}", "\u{10}", "\u{18}"],
};

fn check(input: &[u8]) {
    let Some((choice, rest)) = input.split_first() else { return };
    let framed;
    let bytes = if choice & 1 == 0 {
        rest
    } else {
        framed = frame_of(rest);
        &framed
    };
    let last = Report::Answer(Token(9), Answer::Done);
    hear(bytes, &last);
    hear(bytes, &Call { token: Token(9), request: Request::Ping });
}

/// The payload as a frame, however long.
fn frame_of(payload: &[u8]) -> Vec<u8> {
    let body = [payload, &crc32(payload).to_le_bytes()].concat();
    let mut frame = vec![0; cobs::max_encoding_length(body.len())];
    let length = cobs::encode(&body, &mut frame);
    frame.truncate(length);
    frame.push(SEPARATOR);
    frame
}

fn hear<T: Serialize + DeserializeOwned + PartialEq + Debug>(bytes: &[u8], last: &T) {
    let mut decoder = Decoder::new();
    let (mut since, mut accounted) = (0_u32, 0_u32);
    for byte in bytes {
        since += 1;
        match decoder.feed::<T>(*byte) {
            Fed::More if *byte == SEPARATOR => {
                assert_eq!(since, 1, "a separator swallowed {since} bytes");
                accounted += since;
            }
            Fed::More => continue,
            Fed::Message(message) => {
                assert!(since as usize <= MAX_FRAME, "a message of {since} bytes");
                comes_back(&message);
                accounted += since;
            }
            Fed::Skipped { bytes, .. } => {
                assert_eq!(bytes, since, "skipped bytes are counted");
                accounted += bytes;
            }
        }
        since = 0;
    }
    assert_eq!(accounted + since, bytes.len() as u32, "every byte is accounted for");
    // The end of whatever was begun, then a whole frame.
    let _ = decoder.feed::<T>(SEPARATOR);
    assert_eq!(heard(&mut decoder, last).as_ref(), Some(last), "the next whole frame is heard");
}

fn comes_back<T: Serialize + DeserializeOwned + PartialEq + Debug>(message: &T) {
    let again = heard(&mut Decoder::new(), message);
    assert_eq!(again.as_ref(), Some(message), "its encoding decodes to the same");
}

fn heard<T: Serialize + DeserializeOwned>(decoder: &mut Decoder, message: &T) -> Option<T> {
    let mut buffer = [0; MAX_FRAME];
    let frame = encode(message, &mut buffer).expect("every message fits its frame");
    let mut heard = None;
    for byte in frame.iter() {
        if let Fed::Message(message) = decoder.feed::<T>(*byte) {
            heard = Some(message);
        }
    }
    heard
}
