//! How long the eye has seen no light, and from when on there is none: an emitter that pulses leaves
//! scans out.
//!
//! How many it leaves out shows while it is watched. One that has not left out any for a while does not
//! pulse, or not so that a scan shows it: when its light goes, that is said after three scans and
//! not after as many as the slowest pulses may leave out.

/// Without light for so long there is none, whatever the emitter does, s: the slowest pulses, 100 Hz,
/// leave out no more than a few scans.
pub(super) const UNLIT_S: f64 = 0.12;
/// The same of an emitter that leaves none out, s: three scans of 90 a second, and what their times
/// may be off by. A scan or two may fail for themselves.
pub(super) const STEADY_UNLIT_S: f64 = 0.03;
/// It has shown what it leaves out after so long, s: pulses and scans come round to the same phase in
/// less, where they drift by it so slowly that they do not it is dark for longer than is waited anyway.
const WATCHED_S: f64 = 2.0;
/// What it left out once is forgotten after so long, s: it may have been a hand.
const FORGOTTEN_S: f64 = 60.0;
/// Pulses that left out so much may leave out a little more.
const MORE: f64 = 2.0;

/// Follows the light.
#[derive(Debug, Clone, Default)]
pub(super) struct Dark {
    /// When the eye last saw a sheet, or the first reading came.
    lit_at_s: Option<f64>,
    /// Since when it has been watched without a stretch in which there was none.
    since_s: Option<f64>,
    /// The longest time between two scans with light, and when that was.
    longest: Option<(f64, f64)>,
    /// Something else was wrong with a scan since the last that had light: what was left out is not
    /// the emitter's.
    blind: bool,
}

impl Dark {
    /// The head is off the board: what comes next has to be watched anew.
    pub(super) fn lifted(&mut self) {
        (self.since_s, self.longest) = (None, None);
    }

    /// A scan was of no use, for another reason than that it had no light.
    pub(super) fn blind(&mut self) {
        self.blind = true;
    }

    /// The reading at `at_s` shows a sheet or none.
    pub(super) fn follow(&mut self, lit: bool, at_s: f64) {
        let before_s = *self.lit_at_s.get_or_insert(at_s);
        if !lit {
            return;
        }
        let dark_s = at_s - before_s;
        self.lit_at_s = Some(at_s);
        if std::mem::take(&mut self.blind) {
            return;
        }
        if !(0.0..=UNLIT_S).contains(&dark_s) {
            // It was off, or another link.
            (self.since_s, self.longest) = (Some(at_s), None);
            return;
        }
        self.since_s.get_or_insert(at_s);
        let old =
            |(longest_s, then_s): (f64, f64)| dark_s >= longest_s || at_s - then_s > FORGOTTEN_S;
        if self.longest.is_none_or(old) {
            self.longest = Some((dark_s, at_s));
        }
    }

    /// Whether no light was seen for longer than this emitter leaves out.
    pub(super) fn is_unlit(&self, at_s: f64) -> bool {
        self.lit_at_s
            .is_some_and(|lit_at_s| !(0.0..=self.patience_s()).contains(&(at_s - lit_at_s)))
    }

    /// How long it is waited for light, s.
    fn patience_s(&self) -> f64 {
        let watched = match (self.lit_at_s, self.since_s) {
            (Some(lit_at_s), Some(since_s)) => lit_at_s - since_s >= WATCHED_S,
            _ => false,
        };
        match self.longest {
            Some((longest_s, _)) if watched => (MORE * longest_s).clamp(STEADY_UNLIT_S, UNLIT_S),
            _ => UNLIT_S,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HZ: f64 = 90.0;

    /// Readings of which these have light, for so long; then none. How long after the last that had
    /// it is said, s; and whether it was said before.
    fn said(seconds: f64, lit: impl Fn(usize) -> bool) -> (f64, bool) {
        let mut dark = Dark::default();
        let until = (seconds * HZ) as usize;
        let (mut last_s, mut before) = (0.0, false);
        for k in 0..until {
            let at_s = k as f64 / HZ;
            dark.follow(lit(k), at_s);
            before |= dark.is_unlit(at_s);
            last_s = if lit(k) { at_s } else { last_s };
        }
        let later = (until..).map(|k| k as f64 / HZ).find(|at_s| {
            dark.follow(false, *at_s);
            dark.is_unlit(*at_s)
        });
        (later.unwrap() - last_s, before)
    }

    #[test]
    fn of_a_steady_emitter_three_scans_without_light_are_enough() {
        let (said_s, before) = said(5.0, |_| true);
        assert!(!before && (0.030..0.036).contains(&said_s), "{said_s}");
        // Not at once: nobody knows yet that it does not pulse.
        let (said_s, _) = said(1.0, |_| true);
        assert!((0.120..0.125).contains(&said_s), "{said_s}");
        // One scan that failed for itself, or two, say nothing.
        let (_, before) = said(9.0, |k| k < 400 || k % 300 >= 2);
        assert!(!before);
    }

    #[test]
    fn one_that_pulses_is_waited_for_as_long_as_it_asks_for() {
        for out in 1..=8 {
            let (said_s, before) = said(5.0, |k| k % (out + 1) == 0);
            let asks_s = (2.0 * (out + 1) as f64 / HZ).min(UNLIT_S);
            assert!(!before, "{out}");
            assert!((asks_s..asks_s + 0.012).contains(&said_s), "{out}: {said_s}");
        }
    }

    #[test]
    fn scans_that_were_spoilt_teach_nothing_of_the_emitter() {
        let mut dark = Dark::default();
        for k in 0..900 {
            // Its exposure finds the light again.
            let spoilt = (400..408).contains(&k);
            if spoilt {
                dark.blind();
            }
            dark.follow(!spoilt, f64::from(k) / HZ);
        }
        assert!(dark.is_unlit(899.0 / HZ + 0.04));
    }

    #[test]
    fn a_hand_in_the_light_is_forgotten_and_a_lifted_head_watches_anew() {
        let hand = |k: usize| !(300..307).contains(&k);
        let (said_s, before) = said(20.0, hand);
        assert!(before && said_s > 0.1, "{said_s}");
        let (said_s, _) = said(80.0, hand);
        assert!(said_s < 0.04, "{said_s}");
        let mut dark = Dark::default();
        (0..900).for_each(|k| dark.follow(true, f64::from(k) / HZ));
        dark.lifted();
        assert!(!dark.is_unlit(899.0 / HZ + 0.1));
    }
}
