//! Which conversion comes next, and the stand-off at a moment.
//!
//! The converter runs freely, 860 conversions a second, and all but the supply's five are the
//! stand-off's. A reading's moment is the middle of an exposure, which has nothing to do with the
//! converter's pace; so its stand-off is made of the [`SIDE`] conversions before that moment and as
//! many after it, the means of both sides weighed by how far each is away: a head that moves evenly
//! shifts stand-off and sheet by the same. Of the nine and a half conversions from exposure to
//! exposure eight are so used.

use crate::part::converter::{Conversion, Input};
use skimgauge_shared::calibration::CODE_PARTS;
use skimgauge_shared::message::Rate;
use skimgauge_shared::units::Microseconds;

/// Scans, and so at most readings, in a second.
const SCANS: u16 = 90;
/// Conversions on either side of a reading's moment.
const SIDE: usize = 4;
/// A conversion farther from it says nothing of it.
const REACH_US: i32 = 8_000;
/// Conversions that are kept: a moment is asked after when its scan has been read.
const KEPT: usize = 16;
/// The supply is looked at this often.
const SUPPLY_EVERY: Microseconds = Microseconds(200_000);

/// What a conversion is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Slot {
    /// Readings.
    StandOff,
    /// The supply.
    Supply,
}

/// The stand-off at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Around {
    /// Conversions of it are still to come.
    NotYet,
    /// Mean code in sixteenths.
    Code16(i32),
    /// Too few conversions are to be had.
    Nothing,
}

/// The schedule, and the conversions of late.
#[derive(Debug)]
pub(crate) struct Sampling {
    /// Scans from one reading to the next, and how many have passed.
    every: u16,
    passed: u16,
    supply_due: Microseconds,
    /// Code and low time of each; the next one goes to `next`.
    codes: [i16; KEPT],
    at_low_us: [u32; KEPT],
    next: usize,
    kept: usize,
}

impl Sampling {
    /// A reading with every scan.
    pub(crate) fn new() -> Self {
        Self {
            every: 1,
            passed: 0,
            supply_due: Microseconds(0),
            codes: [0; KEPT],
            at_low_us: [0; KEPT],
            next: 0,
            kept: 0,
        }
    }

    /// Readings per second from now on, as near as scans allow.
    pub(crate) fn set_rate(&mut self, per_second: u16) {
        let per_second = per_second.clamp(1, SCANS);
        // As many scans as come nearest, of those that leave a whole number a second.
        let mut every = SCANS / per_second;
        while !SCANS.is_multiple_of(every) {
            every -= 1;
        }
        (self.every, self.passed) = (every, 0);
    }

    /// The rate in force.
    pub(crate) fn rate(&self) -> Rate {
        Rate { per_second: SCANS / self.every, conversions: 2 * SIDE as u8 }
    }

    /// Whether this scan makes a reading.
    pub(crate) fn wants_scan(&mut self) -> bool {
        self.passed += 1;
        let wanted = self.passed >= self.every;
        if wanted {
            self.passed = 0;
        }
        wanted
    }

    /// What the conversion that starts at `at` is for.
    pub(crate) fn choose(&mut self, at: Microseconds) -> (Slot, Input) {
        if at < self.supply_due {
            return (Slot::StandOff, Input::StandOff);
        }
        self.supply_due = at.after(SUPPLY_EVERY);
        (Slot::Supply, Input::Supply)
    }

    /// Takes a finished conversion in; the supply's code, if it was one.
    pub(crate) fn take(&mut self, conversion: Conversion<Slot>) -> Option<i16> {
        if conversion.of == Slot::Supply {
            return Some(conversion.code);
        }
        self.codes[self.next] = conversion.code;
        self.at_low_us[self.next] = conversion.at.0 as u32;
        self.next = (self.next + 1) % KEPT;
        self.kept = (self.kept + 1).min(KEPT);
        None
    }

    /// The converter is down: what was converted before says nothing of what comes.
    pub(crate) fn forget(&mut self) {
        self.kept = 0;
    }

    /// The stand-off at a moment; `now` at the latest there is nothing to wait for.
    pub(crate) fn around(&self, moment: Microseconds, now: Microseconds) -> Around {
        let (mut before, mut after) = (Side::default(), Side::default());
        // From the oldest to the newest.
        for k in 0..self.kept {
            let i = (self.next + KEPT - self.kept + k) % KEPT;
            let away_us = self.at_low_us[i].wrapping_sub(moment.0 as u32) as i32;
            if away_us > 0 && away_us < REACH_US && after.count < SIDE as i32 {
                after.add(self.codes[i], away_us);
            }
        }
        for k in 0..self.kept {
            let i = (self.next + KEPT - 1 - k) % KEPT;
            let away_us = self.at_low_us[i].wrapping_sub(moment.0 as u32) as i32;
            if away_us <= 0 && away_us > -REACH_US && before.count < SIDE as i32 {
                before.add(self.codes[i], away_us);
            }
        }
        if after.count < SIDE as i32 && now.since(moment).0 < REACH_US as u64 {
            return Around::NotYet;
        }
        // Half of them at least, or what is told is not the mean that is promised.
        if before.count.min(after.count) < SIDE as i32 / 2 {
            return Around::Nothing;
        }
        let (near, far) = (-before.away_us / before.count, after.away_us / after.count);
        // In 1/1024: 2^19 of a mean in sixteenths, 2^10 of this.
        let weight = far * 1_024 / (near + far).max(1);
        let mean = before.mean_16() * weight + after.mean_16() * (1_024 - weight);
        Around::Code16((mean + 512) >> 10)
    }
}

/// Conversions on one side of a moment.
#[derive(Default)]
struct Side {
    count: i32,
    sum: i32,
    away_us: i32,
}

impl Side {
    fn add(&mut self, code: i16, away_us: i32) {
        self.count += 1;
        self.sum += i32::from(code);
        self.away_us += away_us;
    }

    fn mean_16(&self) -> i32 {
        self.sum * CODE_PARTS / self.count
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Conversions every `period_us` of what `code` gives at their middle, the k-th missing where
    /// `missing` says so.
    fn converted(
        period_us: u64,
        first_us: u64,
        code: impl Fn(u64) -> i16,
        missing: impl Fn(u64) -> bool,
    ) -> Sampling {
        let mut sampling = Sampling::new();
        for k in (0..KEPT as u64).filter(|k| !missing(*k)) {
            let at = first_us + k * period_us;
            let of = Slot::StandOff;
            sampling.take(Conversion { of, code: code(at), at: Microseconds(at) });
        }
        sampling
    }

    /// A ramp of one code in 10 us, which is 0.17 m/s: whatever the converter's pace and phase, and
    /// whichever conversion is missing, the stand-off is that of the moment itself.
    #[test]
    fn a_moving_head_shifts_nothing() {
        let start = u64::from(u32::MAX) - 5_000;
        for period_us in [1_057, 1_163, 1_292] {
            for phase in (0..1_300).step_by(50) {
                for gone in 0..KEPT as u64 {
                    let code = |at: u64| ((at - start) / 10) as i16;
                    let sampling = converted(period_us, start + phase, code, |k| k == gone);
                    let moment = start + 9_000;
                    let now = Microseconds(moment + 9_000);
                    let Around::Code16(code_16) = sampling.around(Microseconds(moment), now) else {
                        panic!("{period_us} {phase} {gone}")
                    };
                    assert!(
                        (code_16 - 900 * 16).abs() <= 24,
                        "{period_us} {phase} {gone} {code_16}"
                    );
                }
            }
        }
    }

    #[test]
    fn it_waits_for_the_conversions_after_and_not_for_ever() {
        let sampling = converted(1_163, 0, |_| 1_000, |k| k > 9);
        // Two came after it, then none any more.
        let moment = Microseconds(8_500);
        assert_eq!(sampling.around(moment, Microseconds(12_000)), Around::NotYet);
        assert_eq!(sampling.around(moment, Microseconds(16_500)), Around::Code16(16_000));
        let moment = Microseconds(10_000);
        assert_eq!(sampling.around(moment, Microseconds(19_000)), Around::Nothing);
        assert_eq!(Sampling::new().around(moment, Microseconds(19_000)), Around::Nothing);
    }

    #[test]
    fn a_rate_is_told_as_it_is_kept() {
        for (asked, kept) in
            [(0, 1), (1, 1), (7, 9), (10, 10), (40, 45), (45, 45), (46, 90), (90, 90), (999, 90)]
        {
            let mut sampling = Sampling::new();
            sampling.set_rate(asked);
            assert_eq!(sampling.rate().per_second, kept, "{asked}");
            let made = (0..900).filter(|_| sampling.wants_scan()).count();
            assert_eq!(made, usize::from(kept) * 10, "{asked}");
        }
    }

    #[test]
    fn the_supply_takes_one_conversion_in_a_fifth_of_a_second() {
        let mut sampling = Sampling::new();
        let supply = (0..860 * 10)
            .filter(|k| sampling.choose(Microseconds(k * 1_163)).0 == Slot::Supply)
            .count();
        assert!((49..=51).contains(&supply), "{supply}");
    }
}
