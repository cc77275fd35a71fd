//! A stand-off that no longer changes: a live sensor's noise is a dozen codes.

use skimgauge_shared::units::Microseconds;

/// The very same code for so long, and in so many readings, is no live sensor.
const AFTER: Microseconds = Microseconds(200_000);
const READINGS: u16 = 20;

/// The code last seen, since when, and in how many readings.
#[derive(Debug, Default)]
pub(crate) struct Frozen {
    code: i32,
    since: Microseconds,
    readings: u16,
}

impl Frozen {
    /// Takes a reading's code in. Whether the sensor is frozen.
    pub(crate) fn look(&mut self, code: i32, now: Microseconds) -> bool {
        if self.code != code || self.readings == 0 {
            *self = Self { code, since: now, readings: 1 };
            return false;
        }
        self.readings = self.readings.saturating_add(1);
        self.readings >= READINGS && now.since(self.since) >= AFTER
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first reading that is called frozen, of readings `apart_ms` apart whose codes `code`
    /// gives.
    fn first(apart_ms: u64, code: impl Fn(u64) -> i32) -> Option<u64> {
        let mut frozen = Frozen::default();
        (0..1_000).find(|k| frozen.look(code(*k), Microseconds::from_millis(k * apart_ms)))
    }

    #[test]
    fn the_same_code_is_frozen_after_a_fifth_of_a_second_and_twenty_readings() {
        assert_eq!(first(10, |_| 9), Some(20));
        assert_eq!(first(4, |_| 0), Some(50));
        assert_eq!(first(100, |_| 9), Some(19));
    }

    #[test]
    fn a_code_that_moves_now_and_then_is_alive() {
        assert_eq!(first(10, |k| i32::from(k % 19 == 0)), None);
    }
}
