//! Which conversion comes next, and what a reading is made of.
//!
//! A reading is a burst of passes over stand-off, outer cell, inner cell; every second pass runs
//! backwards, so that with an even number of passes all three have their middle at the same moment
//! and a moving slide shifts none against the others. Between bursts the supply is converted. With
//! the converter free-running, a burst starts within one conversion (1.2 ms) of its time; its
//! middle is stamped to the edge.
//!
//! Of the converter's 860 conversions a second, readings use 600 at the default rate (six a
//! reading, 70 %; a converter that is 10 % slow must still hold the rate), 750 at the highest rate
//! held by the clock (87 %), and all but the supply's five when asked for the most (99 %).

use crate::part::converter::{Conversion, Input, NOMINAL_PERIOD_US};
use skimgauge_shared::calibration::CODE_PARTS;
use skimgauge_shared::message::Rate;
use skimgauge_shared::units::Microseconds;

/// The rate of a head that nobody has told another.
pub(crate) const DEFAULT_PER_SECOND: u16 = 100;

/// The highest rate held by the clock; a part that is 10 % slow still converts 774 times a second.
pub(crate) const HIGHEST_HELD_PER_SECOND: u16 = 250;

const CHANNELS: u64 = 3;
/// No index: nothing of the burst can complete any more.
const NONE: u8 = u8::MAX;
const MOST_PASSES: u8 = 8;
/// A slow part's period, and a little room.
const CAUTIOUS_PERIOD_US: u64 = NOMINAL_PERIOD_US as u64 * 10 / 9;
/// The supply is looked at this often even when readings fill the converter.
const SUPPLY_EVERY: Microseconds = Microseconds(150_000);

/// What a conversion is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Slot {
    /// A burst's `index`th conversion; its input is known from it.
    Burst {
        /// Counted from 0.
        index: u8,
        /// Which burst; a broken one's stragglers are told by it.
        burst: u8,
    },
    /// Between bursts.
    Supply,
}

/// Sums of a burst.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Means {
    /// Stand-off, outer, inner: mean codes in sixteenths.
    pub(crate) codes_16: [i32; 3],
    /// Middle of the burst.
    pub(crate) at: Microseconds,
}

/// What a conversion completed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Completed {
    /// Nothing yet.
    Nothing,
    /// A burst.
    Burst(Means),
    /// The supply's code.
    Supply(i16),
}

/// The schedule.
#[derive(Debug)]
pub(crate) struct Sampling {
    per_second: u16,
    passes: u8,
    period: Microseconds,
    due: Microseconds,
    supply_due: Microseconds,
    /// Conversions of the running burst already chosen; `None` between bursts.
    chosen: Option<u8>,
    burst: u8,
    /// The burst whose results come in, its sums, and the index that comes next.
    taking: u8,
    sums: [i32; 3],
    first_at: Microseconds,
    expected: u8,
    latest_start_us: u16,
}

impl Sampling {
    /// At the default rate, beginning now.
    pub(crate) fn new(now: Microseconds) -> Self {
        let mut sampling = Self {
            per_second: 0,
            passes: 1,
            period: Microseconds(0),
            due: now,
            supply_due: now,
            chosen: None,
            burst: 0,
            taking: 0,
            sums: [0; 3],
            first_at: now,
            expected: NONE,
            latest_start_us: 0,
        };
        sampling.set_rate(DEFAULT_PER_SECOND, now);
        sampling
    }

    /// Readings per second from now on. Above [`HIGHEST_HELD_PER_SECOND`] the converter alone sets
    /// the pace.
    pub(crate) fn set_rate(&mut self, per_second: u16, now: Microseconds) {
        let per_second = per_second.max(1);
        if per_second > HIGHEST_HELD_PER_SECOND {
            self.period = Microseconds(0);
            self.per_second = (1_000_000 / (CHANNELS * u64::from(NOMINAL_PERIOD_US))) as u16;
            self.passes = 1;
        } else {
            self.period = Microseconds(1_000_000 / u64::from(per_second));
            self.per_second = per_second;
            let fit = self.period.0 / (CAUTIOUS_PERIOD_US * CHANNELS);
            self.passes = match fit.min(u64::from(MOST_PASSES)) as u8 {
                0 | 1 => 1,
                more => more & !1,
            };
        }
        self.due = now;
        self.abandon();
    }

    /// The rate in force. Asked for the most, the converter's own measured period gives it.
    pub(crate) fn rate(&self, conversion_period_us: u32) -> Rate {
        let per_second = if self.period.0 == 0 {
            (1_000_000 / (CHANNELS * u64::from(conversion_period_us))) as u16
        } else {
            self.per_second
        };
        Rate { per_second, conversions: self.passes }
    }

    /// What the conversion that starts at `at` is for.
    pub(crate) fn choose(&mut self, at: Microseconds) -> (Slot, Input) {
        if let Some(index) = self.chosen {
            return self.burst_slot(index);
        }
        let half_a_conversion = u64::from(NOMINAL_PERIOD_US / 2);
        let supply_waits = at >= self.supply_due;
        if at.0 + half_a_conversion < self.due.0 || supply_waits {
            self.supply_due = at.after(SUPPLY_EVERY);
            return (Slot::Supply, Input::Supply);
        }
        let late = at.since(self.due).0;
        if self.period.0 > 0 {
            self.latest_start_us =
                self.latest_start_us.max(u16::try_from(late).unwrap_or(u16::MAX));
        }
        self.advance_due(at);
        self.burst = self.burst.wrapping_add(1);
        self.burst_slot(0)
    }

    /// Takes a finished conversion in.
    pub(crate) fn take(&mut self, conversion: Conversion<Slot>) -> Completed {
        let (index, burst) = match conversion.of {
            Slot::Supply => return Completed::Supply(conversion.code),
            Slot::Burst { index, burst } => (index, burst),
        };
        // Chosen two conversions ahead, the next burst may be under way before this one's last
        // results are in.
        if index == 0 {
            self.taking = burst;
            self.sums = [0; 3];
            self.first_at = conversion.at;
        } else if burst != self.taking || index != self.expected {
            // A conversion is missing: what is left of the burst is no reading.
            self.expected = NONE;
            return Completed::Nothing;
        }
        self.expected = index + 1;
        self.sums[channel(index)] += i32::from(conversion.code);
        if index + 1 < self.passes * CHANNELS as u8 {
            return Completed::Nothing;
        }
        let codes_16 = self.sums.map(|sum| sum * CODE_PARTS / i32::from(self.passes));
        let at = Microseconds(self.first_at.0.midpoint(conversion.at.0));
        Completed::Burst(Means { codes_16, at })
    }

    /// The converter is down: what was begun is lost.
    pub(crate) fn abandon(&mut self) {
        self.chosen = None;
        self.expected = NONE;
    }

    /// While the converter is down: whether a reading without it is due.
    pub(crate) fn due_without_converter(&mut self, now: Microseconds) -> bool {
        if now < self.due {
            return false;
        }
        self.advance_due(now);
        true
    }

    /// When the next reading without a converter is due.
    pub(crate) fn next_due(&self) -> Microseconds {
        self.due
    }

    /// The latest start of a burst since the last call, after its time.
    pub(crate) fn take_latest_start_us(&mut self) -> u16 {
        core::mem::take(&mut self.latest_start_us)
    }

    fn advance_due(&mut self, from: Microseconds) {
        let period = if self.period.0 == 0 {
            CHANNELS * u64::from(NOMINAL_PERIOD_US)
        } else {
            self.period.0
        };
        self.due = self.due.after(Microseconds(period));
        // So far behind, the times that passed are let go; the phase stays.
        if self.due < from {
            let behind = from.since(self.due).0;
            self.due = self.due.after(Microseconds((behind / period + 1) * period));
        }
        if self.period.0 == 0 {
            self.due = from;
        }
    }

    fn burst_slot(&mut self, index: u8) -> (Slot, Input) {
        let last = index + 1 == self.passes * CHANNELS as u8;
        self.chosen = (!last).then_some(index + 1);
        let input = [Input::StandOff, Input::Outer, Input::Inner][channel(index)];
        (Slot::Burst { index, burst: self.burst }, input)
    }
}

/// Forwards, then backwards.
fn channel(index: u8) -> usize {
    let place = index % 3;
    usize::from(if (index / 3).is_multiple_of(2) { place } else { 2 - place })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A converter that takes `period_us` a conversion, for so long; the readings' codes and times.
    fn run(per_second: u16, period_us: u64, for_us: u64) -> Vec<Means> {
        let mut sampling = Sampling::new(Microseconds(0));
        sampling.set_rate(per_second, Microseconds(0));
        let mut pipeline = std::collections::VecDeque::new();
        let mut readings = Vec::new();
        for edge in (0..for_us).step_by(period_us as usize) {
            if pipeline.len() == 2 {
                let (of, input) = pipeline.pop_front().unwrap();
                let middle = edge - period_us / 2;
                // A ramp of one code per millisecond, the same on all three inputs.
                let code = if input == Input::Supply { 0 } else { (middle / 1_000) as i16 };
                if let Completed::Burst(means) =
                    sampling.take(Conversion { of, code, at: Microseconds(middle) })
                {
                    readings.push(means);
                }
            }
            pipeline.push_back(sampling.choose(Microseconds(edge + period_us)));
        }
        readings
    }

    #[test]
    fn every_rate_is_held_even_by_a_slow_converter() {
        for per_second in [1, 10, 50, 100, 125, 200, 250] {
            for period_us in [1_057, 1_163, 1_292] {
                let readings = run(per_second, period_us, 10_000_000);
                let expected = f64::from(per_second) * 10.0;
                assert!(
                    (readings.len() as f64 - expected).abs() <= 2.0,
                    "{per_second}/s at {period_us} us: {}",
                    readings.len()
                );
            }
        }
    }

    #[test]
    fn asked_for_the_most_nearly_every_conversion_is_a_readings() {
        let readings = run(u16::MAX, 1_163, 10_000_000).len() as f64;
        let limit = 10_000_000.0 / 1_163.0 / 3.0;
        assert!(readings / limit > 0.98, "{readings} of {limit}");
    }

    #[test]
    fn a_moving_slide_shifts_no_channel_against_another() {
        for means in run(100, 1_163, 1_000_000) {
            let [s, a, b] = means.codes_16;
            assert!((s - a).abs() <= CODE_PARTS && (s - b).abs() <= CODE_PARTS, "{means:?}");
        }
    }

    #[test]
    fn a_missing_conversion_breaks_its_burst_and_no_other() {
        let mut sampling = Sampling::new(Microseconds(0));
        let mut at = Microseconds(0);
        let mut readings = 0;
        for count in 0..80 {
            at = at.after(Microseconds(1_163));
            let (of, _) = sampling.choose(at);
            let missing = count == 20;
            if !missing
                && matches!(sampling.take(Conversion { of, code: 1, at }), Completed::Burst(_))
            {
                readings += 1;
            }
        }
        // 93 ms at 100 a second: nine or ten, less the broken one.
        assert!((8..=9).contains(&readings), "{readings}");
    }
}
