//! A fault that comes and goes is held until a person can have read it, so that no number is good in
//! between.

use super::super::fault::Fault;

/// A person reads a name in this, s.
pub(super) const READ_S: f64 = 1.0;
/// Well for so long, a fault is news to whoever watches, s: before that the head was being seated.
const WELL_S: f64 = 0.5;
/// What went away comes back within this, s.
const RETURNS_S: f64 = 6.0;

/// Holds one fault.
#[derive(Debug, Clone)]
pub(super) struct Hold {
    /// What is held no longer while a head is being seated, s.
    short_s: f64,
    /// What was wrong last, and when.
    last: Option<(Fault, f64)>,
    for_s: f64,
    well_since_s: Option<f64>,
}

impl Hold {
    /// Nothing was wrong yet. A fault of a head that is being seated is held for `short_s`.
    pub(super) fn new(short_s: f64) -> Self {
        Self { short_s, last: None, for_s: short_s, well_since_s: None }
    }

    /// The head is off the board: what comes is another seat.
    pub(super) fn lifted(&mut self) {
        *self = Self::new(self.short_s);
    }

    /// What is wrong with the reading at `at_s`.
    pub(super) fn follow(&mut self, wrong: Option<Fault>, at_s: f64) {
        let Some(fault) = wrong else {
            self.well_since_s.get_or_insert(at_s);
            return;
        };
        if let Some(since_s) = self.well_since_s.take() {
            let gone_s = self.last.map(|(_, last_s)| at_s - last_s);
            // One that is held still is the same.
            if gone_s.is_none_or(|gone_s| gone_s >= self.for_s) {
                let again = gone_s.is_some_and(|gone_s| gone_s < RETURNS_S);
                let news = again || at_s - since_s >= WELL_S;
                self.for_s = if news { READ_S } else { self.short_s };
            }
        }
        self.last = Some((fault, at_s));
    }

    /// What is said at `at_s`.
    pub(super) fn said(&self, at_s: f64) -> Option<Fault> {
        let (fault, last_s) = self.last?;
        (0.0..self.for_s).contains(&(at_s - last_s)).then_some(fault)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ninety a second for so long, wrong where `wrong` says so; when it was said, reading by reading.
    fn run(hold: &mut Hold, seconds: f64, wrong: impl Fn(f64) -> bool) -> Vec<bool> {
        (0..(seconds * 90.0) as u32)
            .map(|k| {
                let at_s = f64::from(k) / 90.0;
                hold.follow(wrong(at_s).then_some(Fault::TooMuchLight), at_s);
                hold.said(at_s).is_some()
            })
            .collect()
    }

    /// Lengths of the stretches that are alike, the first and the last left out, s.
    fn stretches(said: &[bool], alike: bool) -> Vec<f64> {
        let parts: Vec<&[bool]> = said.chunk_by(|a, b| a == b).collect();
        let inner = parts.get(1..parts.len().saturating_sub(1)).unwrap_or_default();
        inner.iter().filter(|part| part[0] == alike).map(|part| part.len() as f64 / 90.0).collect()
    }

    #[test]
    fn what_comes_and_goes_can_be_read_and_nothing_is_good_in_between() {
        for every_s in [0.1, 0.3, 0.7, 0.95] {
            let mut hold = Hold::new(0.25);
            let said = run(&mut hold, 20.0, |at_s| at_s >= 2.0 && at_s % every_s < 0.02);
            assert_eq!(stretches(&said, false), [0.0; 0], "every {every_s} s");
        }
        for every_s in [1.5, 4.0] {
            let mut hold = Hold::new(0.25);
            let said = run(&mut hold, 20.0, |at_s| at_s >= 2.0 && at_s % every_s < 0.02);
            let shortest = stretches(&said, true).into_iter().fold(f64::MAX, f64::min);
            assert!((READ_S - 0.02..f64::MAX).contains(&shortest), "{shortest}");
        }
    }

    #[test]
    fn while_a_head_is_being_seated_it_is_held_for_a_moment_only() {
        let mut hold = Hold::new(0.25);
        let said = run(&mut hold, 2.0, |at_s| at_s < 0.1 || (0.2..0.3).contains(&at_s));
        let last = said.iter().rposition(|said| *said).unwrap() as f64 / 90.0;
        assert!((0.5..0.56).contains(&last), "{last}");
        // Lifted and seated again it is the same.
        hold.lifted();
        assert_eq!(hold.said(2.0), None);
        let said = run(&mut hold, 2.0, |at_s| at_s < 0.1);
        assert!((said.iter().filter(|said| **said).count() as f64 / 90.0 - 0.35).abs() < 0.03);
    }
}
