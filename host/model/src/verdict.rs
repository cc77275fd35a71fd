//! Within, outside, or too close to call: one word and one shape for each, everywhere.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Say, Sentence};

/// What is known about a value against its band. How it is found is metrology's.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Inside the band, uncertainty and all.
    Within,
    /// Outside the band, uncertainty and all.
    Outside,
    /// Too close to call.
    Unsure,
}

impl Verdict {
    /// Every verdict.
    pub const ALL: [Self; 3] = [Self::Within, Self::Outside, Self::Unsure];

    /// Of many: `Outside` where any is, `Within` where all are. Of none: `Unsure`.
    pub fn of_all(verdicts: impl IntoIterator<Item = Self>) -> Self {
        let mut all = None;
        for verdict in verdicts {
            match verdict {
                Self::Outside => return Self::Outside,
                Self::Unsure => all = Some(Self::Unsure),
                Self::Within => all = all.or(Some(Self::Within)),
            }
        }
        all.unwrap_or(Self::Unsure)
    }

    /// The word in files and in the record.
    pub fn word(self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Outside => "outside",
            Self::Unsure => "unsure",
        }
    }

    /// The word for people.
    pub fn shown(self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Outside => "outside",
            Self::Unsure => "too close to call",
        }
    }

    /// Its shape, one column wide: told apart without colour.
    pub fn shape(self) -> char {
        match self {
            Self::Within => '\u{25cf}',
            Self::Outside => '\u{2715}',
            Self::Unsure => '\u{25d0}',
        }
    }

    /// The verdict of this word in a file.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|verdict| verdict.word() == word)
    }
}

/// Shape and word: `✕ outside`.
impl Say for Verdict {
    fn say(&self, sentence: &mut Sentence) {
        sentence.push(&self.shape());
        sentence.push(" ");
        sentence.push(self.shown());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_quantity::{Style, say};

    #[test]
    fn in_json_a_verdict_is_its_word() {
        for verdict in Verdict::ALL {
            assert_eq!(serde_json::to_string(&verdict).unwrap(), format!("\"{}\"", verdict.word()));
            assert_eq!(Verdict::parse(verdict.word()), Some(verdict));
        }
        assert_eq!(Verdict::parse("too close to call"), None);
    }

    #[test]
    fn one_outside_is_outside_and_all_within_is_within() {
        use Verdict::{Outside, Unsure, Within};
        assert_eq!(Verdict::of_all([Within, Unsure, Outside]), Outside);
        assert_eq!(Verdict::of_all([Within, Unsure, Within]), Unsure);
        assert_eq!(Verdict::of_all([Within, Within]), Within);
        assert_eq!(Verdict::of_all([]), Unsure);
    }

    #[test]
    fn shapes_and_words_differ() {
        let said: std::collections::BTreeSet<String> = Verdict::ALL
            .into_iter()
            .map(|verdict| say!("{verdict}").text(Style::default()))
            .collect();
        assert_eq!(
            said.into_iter().collect::<Vec<_>>(),
            ["\u{25cf} within", "\u{25d0} too close to call", "\u{2715} outside"]
        );
        let shapes: std::collections::BTreeSet<char> =
            Verdict::ALL.map(Verdict::shape).into_iter().collect();
        assert_eq!(shapes.len(), 3);
    }
}
