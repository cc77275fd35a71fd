//! Bytes: CBOR and protobuf.

use crate::Way;
use crate::flat::Flat;
use prost::Message;
use skimgauge_shared::check::crc32;

pub(crate) fn cbor_map() -> Vec<Way> {
    const OK: &str = "a vector takes every byte";
    vec![
        Way {
            name: "CBOR map",
            framing: "none: tells its own end",
            encode: |reading, _, out| ciborium::into_writer(&Flat::from(*reading), out).expect(OK),
            decode: |bytes, out| {
                let mut rest = &*bytes;
                while let Ok(flat) = ciborium::from_reader::<Flat, _>(&mut rest) {
                    out.extend(flat.reading());
                }
            },
        },
        Way {
            name: "CBOR map",
            framing: "CRC-32, COBS, separator",
            encode: |reading, body, out| {
                body.clear();
                ciborium::into_writer(&Flat::from(*reading), &mut *body).expect(OK);
                seal(body, out);
            },
            decode: |bytes, out| {
                unseal(bytes, |body| {
                    out.extend(ciborium::from_reader::<Flat, _>(body).ok().and_then(Flat::reading));
                });
            },
        },
    ]
}

pub(crate) fn cbor_array() -> Vec<Way> {
    const OK: &str = "a vector takes every byte";
    vec![
        Way {
            name: "CBOR array",
            framing: "none: tells its own end",
            encode: |reading, _, out| {
                ciborium::into_writer(&cbor_tuple(&Flat::from(*reading)), out).expect(OK);
            },
            decode: |bytes, out| {
                let mut rest = &*bytes;
                while let Some(flat) = of_cbor_tuple(&mut rest) {
                    out.extend(flat.reading());
                }
            },
        },
        Way {
            name: "CBOR array",
            framing: "CRC-32, COBS, separator",
            encode: |reading, body, out| {
                body.clear();
                ciborium::into_writer(&cbor_tuple(&Flat::from(*reading)), &mut *body).expect(OK);
                seal(body, out);
            },
            decode: |bytes, out| {
                unseal(bytes, |body| out.extend(of_cbor_tuple(body).and_then(Flat::reading)));
            },
        },
    ]
}

pub(crate) fn protobuf() -> Vec<Way> {
    const OK: &str = "a vector takes every byte";
    vec![
        Way {
            name: "protobuf",
            framing: "its length before it",
            encode: |reading, _, out| {
                Proto::from(Flat::from(*reading)).encode_length_delimited(out).expect(OK);
            },
            decode: |bytes, out| {
                let mut rest = &*bytes;
                while !rest.is_empty() {
                    let Ok(proto) = Proto::decode_length_delimited(&mut rest) else { return };
                    out.extend(proto.flat().and_then(Flat::reading));
                }
            },
        },
        Way {
            name: "protobuf",
            framing: "CRC-32, COBS, separator",
            encode: |reading, body, out| {
                body.clear();
                Proto::from(Flat::from(*reading)).encode(body).expect(OK);
                seal(body, out);
            },
            decode: |bytes, out| {
                unseal(bytes, |body| {
                    out.extend(
                        Proto::decode(body)
                            .ok()
                            .and_then(|proto| proto.flat())
                            .and_then(Flat::reading),
                    );
                });
            },
        },
    ]
}

/// A reading's fields without their names.
type Nameless = (u8, u32, Option<i32>, Option<i32>, Option<i16>, Option<i16>, Option<[u8; 3]>, u8);

fn cbor_tuple(flat: &Flat) -> Nameless {
    (
        flat.sequence,
        flat.at_low_us,
        flat.stand_off_um,
        flat.middle_um,
        flat.level_steps,
        flat.lean_steps,
        flat.absent,
        flat.state,
    )
}

fn of_cbor_tuple(bytes: impl std::io::Read) -> Option<Flat> {
    let (sequence, at_low_us, stand_off_um, middle_um, level_steps, lean_steps, absent, state) =
        ciborium::from_reader(bytes).ok()?;
    Some(Flat {
        sequence,
        at_low_us,
        stand_off_um,
        middle_um,
        level_steps,
        lean_steps,
        absent,
        state,
    })
}

/// A reading as protobuf has it. Zigzag (`sint32`) for what may be negative, as its documentation
/// advises.
#[derive(Clone, PartialEq, prost::Message)]
struct Proto {
    #[prost(uint32, tag = "1")]
    sequence: u32,
    #[prost(uint32, tag = "2")]
    at_low_us: u32,
    #[prost(sint32, optional, tag = "3")]
    stand_off_um: Option<i32>,
    #[prost(sint32, optional, tag = "4")]
    middle_um: Option<i32>,
    #[prost(sint32, optional, tag = "5")]
    level_steps: Option<i32>,
    #[prost(sint32, optional, tag = "6")]
    lean_steps: Option<i32>,
    #[prost(bytes = "vec", tag = "7")]
    absent: Vec<u8>,
    #[prost(uint32, tag = "8")]
    state: u32,
}

impl From<Flat> for Proto {
    fn from(flat: Flat) -> Self {
        Self {
            sequence: flat.sequence.into(),
            at_low_us: flat.at_low_us,
            stand_off_um: flat.stand_off_um,
            middle_um: flat.middle_um,
            level_steps: flat.level_steps.map(i32::from),
            lean_steps: flat.lean_steps.map(i32::from),
            absent: flat.absent.map_or_else(Vec::new, |absent| absent.to_vec()),
            state: flat.state.into(),
        }
    }
}

impl Proto {
    fn flat(&self) -> Option<Flat> {
        Some(Flat {
            sequence: u8::try_from(self.sequence).ok()?,
            at_low_us: self.at_low_us,
            stand_off_um: self.stand_off_um,
            middle_um: self.middle_um,
            level_steps: self.level_steps.map(i16::try_from).transpose().ok()?,
            lean_steps: self.lean_steps.map(i16::try_from).transpose().ok()?,
            absent: if self.absent.is_empty() {
                None
            } else {
                Some(self.absent.as_slice().try_into().ok()?)
            },
            state: u8::try_from(self.state).ok()?,
        })
    }
}

fn seal(body: &mut Vec<u8>, out: &mut Vec<u8>) {
    body.extend(crc32(body).to_le_bytes());
    let from = out.len();
    out.resize(from + cobs::max_encoding_length(body.len()) + 1, 0);
    let length = cobs::encode(body, &mut out[from..]);
    out.truncate(from + length);
    out.push(0);
}

/// Every sealed frame's body, its checksum checked.
fn unseal(bytes: &mut [u8], mut each: impl FnMut(&[u8])) {
    for frame in bytes.split_mut(|byte| *byte == 0) {
        let Ok(length) = cobs::decode_in_place(frame) else { continue };
        if let Some((body, check)) = frame[..length].split_last_chunk::<4>()
            && crc32(body) == u32::from_le_bytes(*check)
        {
            each(body);
        }
    }
}
