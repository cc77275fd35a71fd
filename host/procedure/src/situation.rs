//! The number that a view has, and what it counts up for.

/// What decides which words can be said and what they do, and how often it has changed.
#[derive(Debug, Clone, Default)]
pub(crate) struct Numbered<T> {
    now: T,
    number: u64,
}

impl<T: PartialEq> Numbered<T> {
    /// It stands so at first.
    pub(crate) fn from(now: T) -> Self {
        Self { now, number: 0 }
    }

    /// It stands so now: where that is another situation, words said to the one before are let go.
    pub(crate) fn is(&mut self, now: T) {
        if now != self.now {
            self.now = now;
            self.number += 1;
        }
    }

    /// Whether a word is said to a view that is gone, by the number of the one that was seen.
    pub(crate) fn is_gone(&self, seen: Option<u64>) -> bool {
        seen.is_some_and(|seen| seen != self.number)
    }

    /// The view's number.
    pub(crate) fn number(&self) -> u64 {
        self.number
    }
}

#[cfg(test)]
mod tests {
    use super::Numbered;

    #[test]
    fn the_number_counts_changes_and_nothing_else() {
        let mut situation = Numbered::from((0, false));
        situation.is((0, false));
        assert_eq!(situation.number(), 0);
        situation.is((1, false));
        situation.is((1, false));
        situation.is((0, false));
        assert_eq!(situation.number(), 2);
    }
}
