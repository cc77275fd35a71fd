//! A sentence that holds quantities and names, and becomes text last, in the units asked for.
//!
//! What a person wrote (a station's name, a note) is held apart from what the program says and from
//! numbers, so nothing has to be found again in finished English: a station called "shelf at 100
//! mm" stays so in inches.

mod written;

use crate::shown::shown;
use std::borrow::Cow;

use serde::{Serialize, Serializer};

use crate::figure::{Figure, Pair};
use crate::style::Style;

/// One piece of a sentence.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
enum Piece {
    Words(Cow<'static, str>),
    Name { name: String },
    Pair(Pair),
    Figure(Figure),
}

/// Words, quantities and names in their order. Made with [`say!`](crate::say).
///
/// In JSON it is its text in millimetres, as programs have always got it. A record that is to be
/// shown in other units later keeps it with [`parts`]; both forms are read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sentence {
    pieces: Vec<Piece>,
}

/// A name that a person gave: a station's, an adjuster's, a job's. Shown as it is, whatever is in
/// it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Name<'a>(pub &'a str);

/// A piece of a sentence as text, told apart for what can set names and numbers differently.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Told<'a> {
    /// The program's own words.
    Words(&'a str),
    /// A name that a person gave.
    Name(&'a str),
    /// A quantity with its unit.
    Quantity(String),
}

/// What can stand in a sentence.
///
/// A bare `f64` cannot, and a length only with its purpose: `gap.gap()`, `width.wall()`.
#[diagnostic::on_unimplemented(
    message = "`{Self}` cannot be said as it is",
    note = "a length needs its purpose: .gap(), .limit(), .fine(), .uncertainty(), .wall(), .tape() or .size()",
    note = "a number without a unit is said by `plain(value, decimals)` or `percent(share)`"
)]
pub trait Say {
    /// Adds itself at the sentence's end.
    fn say(&self, sentence: &mut Sentence);
}

impl Sentence {
    /// An empty one.
    pub const fn new() -> Self {
        Self { pieces: Vec::new() }
    }

    /// With these words of the program at its end.
    #[must_use]
    pub fn words(mut self, words: &'static str) -> Self {
        if !words.is_empty() {
            self.pieces.push(Piece::Words(Cow::Borrowed(words)));
        }
        self
    }

    /// With this at its end.
    #[must_use]
    pub fn and(mut self, said: &(impl Say + ?Sized)) -> Self {
        said.say(&mut self);
        self
    }

    /// Adds this at its end.
    pub fn push(&mut self, said: &(impl Say + ?Sized)) {
        said.say(self);
    }

    /// Whether nothing is said.
    pub fn is_empty(&self) -> bool {
        self.pieces.is_empty()
    }

    /// As text.
    pub fn text(&self, style: Style) -> String {
        let mut text = String::new();
        for told in self.told(style) {
            match told {
                Told::Words(piece) | Told::Name(piece) => text.push_str(piece),
                Told::Quantity(piece) => text.push_str(&piece),
            }
        }
        text
    }

    /// Piece by piece as text, for a page that sets names and numbers in its own way.
    pub fn told(&self, style: Style) -> impl Iterator<Item = Told<'_>> {
        self.pieces.iter().map(move |piece| match piece {
            Piece::Words(words) => Told::Words(words),
            Piece::Name { name } => Told::Name(name),
            Piece::Figure(figure) => Told::Quantity(figure.text(style)),
            Piece::Pair(pair) => Told::Quantity(pair.text(style)),
        })
    }

    /// With a full stop at its end, unless it ends already or says nothing.
    #[must_use]
    pub fn ended(mut self) -> Self {
        let ends = match self.pieces.last() {
            None => true,
            Some(Piece::Words(words)) => words.ends_with(['.', '!', '?', ':']),
            Some(Piece::Name { .. } | Piece::Figure(_) | Piece::Pair(_)) => false,
        };
        if !ends {
            self.pieces.push(Piece::Words(Cow::Borrowed(".")));
        }
        self
    }

    /// With a capital letter first, where it begins with the program's own words.
    #[must_use]
    pub fn capital(mut self) -> Self {
        if let Some(Piece::Words(words)) = self.pieces.first_mut() {
            let mut chars = words.chars();
            if let Some(first) = chars.next() {
                *words = Cow::Owned(first.to_uppercase().chain(chars).collect());
            }
        }
        self
    }

    /// Those that say something, with these words between them.
    pub fn joined(sentences: impl IntoIterator<Item = Self>, between: &'static str) -> Self {
        let mut joined = Self::new();
        for sentence in sentences.into_iter().filter(|sentence| !sentence.is_empty()) {
            if !joined.is_empty() {
                joined = joined.words(between);
            }
            joined.pieces.extend(sentence.pieces);
        }
        joined
    }

    /// `a`, `a and b`, `a, b and c`.
    pub fn list<T: Say>(items: impl IntoIterator<Item = T>, last: &'static str) -> Self {
        let items: Vec<T> = items.into_iter().collect();
        let mut list = Self::new();
        for (at, item) in items.iter().enumerate() {
            list = match at {
                0 => list,
                at if at + 1 == items.len() => list.words(" ").words(last).words(" "),
                _ => list.words(", "),
            };
            item.say(&mut list);
        }
        list
    }

    fn own(&mut self, words: String) {
        if !words.is_empty() {
            self.pieces.push(Piece::Words(Cow::Owned(words)));
        }
    }
}

impl From<&'static str> for Sentence {
    fn from(words: &'static str) -> Self {
        Self::new().words(words)
    }
}

impl Say for Sentence {
    fn say(&self, sentence: &mut Sentence) {
        sentence.pieces.extend(self.pieces.iter().cloned());
    }
}

impl Say for Figure {
    fn say(&self, sentence: &mut Sentence) {
        sentence.pieces.push(Piece::Figure(*self));
    }
}

impl Say for Pair {
    fn say(&self, sentence: &mut Sentence) {
        sentence.pieces.push(Piece::Pair(*self));
    }
}

impl Say for Name<'_> {
    fn say(&self, sentence: &mut Sentence) {
        sentence.pieces.push(Piece::Name { name: clean(self.0) });
    }
}

impl Say for str {
    fn say(&self, sentence: &mut Sentence) {
        sentence.own(clean(self));
    }
}

impl Say for String {
    fn say(&self, sentence: &mut Sentence) {
        self.as_str().say(sentence);
    }
}

impl Say for Cow<'_, str> {
    fn say(&self, sentence: &mut Sentence) {
        self.as_ref().say(sentence);
    }
}

impl Say for char {
    fn say(&self, sentence: &mut Sentence) {
        sentence.own(clean(self.encode_utf8(&mut [0; 4])));
    }
}

impl<T: Say + ?Sized> Say for &T {
    fn say(&self, sentence: &mut Sentence) {
        (**self).say(sentence);
    }
}

macro_rules! counted {
    ($($whole:ty)*) => {
        $(impl Say for $whole {
            fn say(&self, sentence: &mut Sentence) {
                sentence.own(self.to_string());
            }
        })*
    };
}

counted!(u8 u16 u32 u64 usize i8 i16 i32 i64 isize);

/// A text as it may be shown: what would steer the screen is shown as a mark.
fn clean(text: &str) -> String {
    shown(text).into_owned()
}

impl Serialize for Sentence {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.text(Style::default()).serialize(serializer)
    }
}

/// A sentence kept piece by piece, so that whoever reads it later can show it in other units:
/// `#[serde(with = "skimgauge_quantity::parts")]`.
///
/// A list of texts, `{"name": …}` for names, and figures with their purpose.
pub mod parts {
    use super::Sentence;
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    /// Writes the pieces.
    ///
    /// # Errors
    /// The serializer's.
    pub fn serialize<S: Serializer>(sentence: &Sentence, serializer: S) -> Result<S::Ok, S::Error> {
        sentence.pieces.serialize(serializer)
    }

    /// Reads pieces, or a text.
    ///
    /// # Errors
    /// The deserializer's.
    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Sentence, D::Error> {
        Sentence::deserialize(deserializer)
    }
}

#[cfg(test)]
mod tests;
