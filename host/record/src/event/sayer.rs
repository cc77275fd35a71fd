//! By which way a word came.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// By which way the word came that something follows from. In the record it is a text: `terminal`,
/// `head's button`, `practice`; any other is a page's name, such as `phone at 192.168.1.20`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Sayer {
    /// The terminal: a key, or a line that was typed.
    Terminal,
    /// The head's own button.
    Button,
    /// The practice's installer, who is simulated.
    Practice,
    /// A page in a browser, by its name.
    Page(String),
}

const TERMINAL: &str = "terminal";
const BUTTON: &str = "head's button";
const PRACTICE: &str = "practice";

impl Sayer {
    /// As it stands in the record.
    pub fn word(&self) -> &str {
        match self {
            Self::Terminal => TERMINAL,
            Self::Button => BUTTON,
            Self::Practice => PRACTICE,
            Self::Page(name) => name,
        }
    }
}

impl From<&str> for Sayer {
    fn from(word: &str) -> Self {
        match word {
            TERMINAL => Self::Terminal,
            BUTTON => Self::Button,
            PRACTICE => Self::Practice,
            name => Self::Page(name.to_owned()),
        }
    }
}

impl fmt::Display for Sayer {
    /// For people: the end of `said at …`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Terminal => f.write_str("the terminal"),
            Self::Button => f.write_str("the head's button"),
            Self::Practice => f.write_str("the practice"),
            Self::Page(name) => f.write_str(name),
        }
    }
}

impl Serialize for Sayer {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.word())
    }
}

impl<'de> Deserialize<'de> for Sayer {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(|word| Self::from(word.as_str()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_comes_back_from_its_word() {
        let page = || Sayer::Page("phone at 192.168.1.20".to_owned());
        for sayer in [Sayer::Terminal, Sayer::Button, Sayer::Practice, page()] {
            let json = serde_json::to_string(&sayer).unwrap();
            assert_eq!(json, format!("\"{}\"", sayer.word()));
            assert_eq!(serde_json::from_str::<Sayer>(&json).unwrap(), sayer);
        }
        assert_eq!(page().to_string(), "phone at 192.168.1.20");
    }
}
