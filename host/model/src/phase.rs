//! How far the work has come.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Say, Sentence};

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
    /// Every phase, in the order of the work.
    pub const ALL: [Self; 3] = [Self::AsFound, Self::Between, Self::AsLeft];

    /// The word in files and in the record: `as-found`.
    pub fn word(self) -> &'static str {
        match self {
            Self::AsFound => "as-found",
            Self::Between => "between",
            Self::AsLeft => "as-left",
        }
    }

    /// The word for people: `as found`.
    pub fn shown(self) -> &'static str {
        match self {
            Self::AsFound => "as found",
            Self::Between => "in between",
            Self::AsLeft => "as left",
        }
    }

    /// The phase of this word in a file.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|phase| phase.word() == word)
    }
}

impl Say for Phase {
    fn say(&self, sentence: &mut Sentence) {
        sentence.push(self.shown());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn in_json_a_phase_is_its_word() {
        for phase in Phase::ALL {
            assert_eq!(serde_json::to_string(&phase).unwrap(), format!("\"{}\"", phase.word()));
            assert_eq!(Phase::parse(phase.word()), Some(phase));
        }
        assert_eq!(Phase::parse("as found"), None);
        assert!(Phase::AsFound < Phase::Between && Phase::Between < Phase::AsLeft);
    }
}
