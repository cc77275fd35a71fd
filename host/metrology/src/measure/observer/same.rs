//! The same number again and again, as no living sensor gives.

/// The same number for so long is a frozen sensor, s.
pub(super) const FROZEN_S: f64 = 0.25;

/// Since when a channel has had the value that it has.
#[derive(Debug, Clone)]
pub(super) struct Same<T> {
    since: Option<(T, f64)>,
}

impl<T> Default for Same<T> {
    fn default() -> Self {
        Self { since: None }
    }
}

impl<T: PartialEq> Same<T> {
    /// The channel's next value, if it has one, on the head's clock.
    pub(super) fn follow(&mut self, value: Option<T>, at_s: f64) {
        match (value, &self.since) {
            (Some(value), Some((before, _))) if value == *before => {}
            (value, _) => self.since = value.map(|value| (value, at_s)),
        }
    }

    /// Whether it has stood still for too long at `at_s`.
    pub(super) fn is_frozen(&self, at_s: f64) -> bool {
        self.since.as_ref().is_some_and(|(_, since_s)| at_s - since_s > FROZEN_S)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_same_value_without_a_break_is_frozen() {
        let mut same = Same::default();
        for (k, value) in
            [Some(3), Some(3), None, Some(3), Some(4), Some(4)].into_iter().enumerate()
        {
            same.follow(value, k as f64 * 0.2);
            assert!(!same.is_frozen(k as f64 * 0.2), "{k}");
        }
        same.follow(Some(4), 1.2);
        assert!(same.is_frozen(1.2));
        same.follow(None, 1.3);
        assert!(!same.is_frozen(1.3));
    }
}
