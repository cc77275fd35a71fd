//! Sentences read back, as they were written.
//!
//! By hand, not as untagged enums: those hold numbers in a form of their own on the way, which a
//! JSON library that is built to keep every digit of a number hands over as something else.

use super::{Name, Piece, Sentence};
use crate::figure::{Figure, Joint, Pair, Purpose};
use serde::de::value::MapAccessDeserializer;
use serde::de::{Error, MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer};
use std::borrow::Cow;
use std::fmt;

/// A text, or the pieces that [`parts`](super::parts) wrote.
impl<'de> Deserialize<'de> for Sentence {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either;
        impl<'de> Visitor<'de> for Either {
            type Value = Sentence;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a text, or the pieces of a sentence")
            }

            fn visit_str<E: Error>(self, text: &str) -> Result<Sentence, E> {
                let mut sentence = Sentence::new();
                sentence.push(text);
                Ok(sentence)
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut pieces: A) -> Result<Sentence, A::Error> {
                let mut sentence = Sentence::new();
                while let Some(piece) = pieces.next_element()? {
                    match piece {
                        Piece::Words(words) => sentence.push(&words),
                        Piece::Name { name } => sentence.push(&Name(&name)),
                        Piece::Pair(pair) => sentence.push(&pair),
                        Piece::Figure(figure) => sentence.push(&figure),
                    }
                }
                Ok(sentence)
            }
        }
        deserializer.deserialize_any(Either)
    }
}

impl<'de> Deserialize<'de> for Piece {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either;
        impl<'de> Visitor<'de> for Either {
            type Value = Piece;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("words, a name, a figure or two")
            }

            fn visit_str<E: Error>(self, words: &str) -> Result<Piece, E> {
                Ok(Piece::Words(Cow::Owned(words.to_owned())))
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Piece, A::Error> {
                let found = Found::deserialize(MapAccessDeserializer::new(map))?;
                found.piece().ok_or_else(|| Error::custom("neither a name, nor a figure, nor two"))
            }
        }
        deserializer.deserialize_any(Either)
    }
}

/// Whatever a piece in braces may say.
#[derive(Deserialize)]
struct Found {
    name: Option<String>,
    show: Option<Purpose>,
    #[serde(default, deserialize_with = "said")]
    value: Option<f64>,
    #[serde(default)]
    signed: bool,
    first: Option<Figure>,
    joint: Option<Joint>,
    second: Option<Figure>,
}

/// A value that is there: null is what is not a number.
fn said<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<f64>, D::Error> {
    Ok(Some(Option::deserialize(deserializer)?.unwrap_or(f64::NAN)))
}

impl Found {
    fn piece(self) -> Option<Piece> {
        match self {
            Self { name: Some(name), show: None, value: None, first: None, .. } => {
                Some(Piece::Name { name })
            }
            Self {
                name: None, show: Some(show), value: Some(value), first: None, signed, ..
            } => Some(Piece::Figure(Figure { show, value, signed })),
            Self {
                name: None,
                show: None,
                first: Some(first),
                joint: Some(joint),
                second: Some(second),
                ..
            } => Some(Piece::Pair(Pair { first, joint, second })),
            _ => None,
        }
    }
}
