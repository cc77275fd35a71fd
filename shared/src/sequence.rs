//! A reading carries the low byte of its number and the low 32 bits of its time. A receiver that
//! knows the rate makes both whole again, and so counts every lost reading.

use crate::units::Microseconds;

/// Where the stream stands: the last reading's whole number and time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Position {
    /// Readings made by the head up to and with this one.
    pub number: u32,
    /// Its time on the head's clock.
    pub at: Microseconds,
}

/// Follows a stream of readings.
#[derive(Debug, Clone, Copy)]
pub struct Follower {
    position: Position,
    per_second: u16,
}

/// A reading placed in its stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placed {
    /// Its number and time.
    pub position: Position,
    /// Readings lost between the one before and this one.
    pub lost: u32,
}

impl Follower {
    /// From a greeting or a pulse: readings made so far, the head's clock then, and the rate.
    pub fn new(made: u32, at: Microseconds, per_second: u16) -> Self {
        Self { position: Position { number: made, at }, per_second: per_second.max(1) }
    }

    /// The rate changed.
    pub fn set_rate(&mut self, per_second: u16) {
        self.per_second = per_second.max(1);
    }

    /// Where the stream stands.
    pub fn position(&self) -> Position {
        self.position
    }

    /// The reading with this short number and time; `None`: it came before, and comes again. Exact
    /// for as long as the rate places it within 127 readings, and the gap is under the 71 minutes
    /// after which the short time comes round; a greeting sets it right after more.
    pub fn place(&mut self, sequence: u8, at_low_us: u32) -> Option<Placed> {
        let before = self.position;
        let elapsed = at_low_us.wrapping_sub(before.at.0 as u32);
        // A reading's time is its middle: the first after a greeting may lie a little before the
        // greeting's.
        let elapsed = if elapsed > u32::MAX - 1_000_000 { 0 } else { elapsed };
        let at = if elapsed == 0 {
            before.at
        } else {
            before.at.after(Microseconds(u64::from(elapsed)))
        };
        let expected = (u64::from(elapsed) * u64::from(self.per_second) + 500_000) / 1_000_000;
        let step = u64::from(sequence.wrapping_sub(before.number as u8));
        // Its number is nearer from behind: some bytes came twice, or two frames in the wrong order.
        if step > expected + 128 {
            return None;
        }
        // The step's low byte is certain; its turns of 256 are those that come nearest to what the
        // rate expects.
        let turns = (expected.saturating_sub(step) + 128) / 256;
        let step = step + turns * 256;
        let position = Position { number: before.number.wrapping_add(step as u32), at };
        self.position = position;
        Some(Placed { position, lost: (step as u32).saturating_sub(1) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn counts_a_gap_longer_than_the_short_number() {
        let mut follower = Follower::new(1_000, Microseconds(10_000_000), 100);
        let placed = follower.place((1_001_u32 % 256) as u8, 10_010_000).unwrap();
        assert_eq!(placed.lost, 0);
        // 1 000 readings later, ten seconds on.
        let placed = follower.place((2_001_u32 % 256) as u8, 20_010_000).unwrap();
        assert_eq!((placed.position.number, placed.lost), (2_001, 999));
    }

    #[test]
    fn what_comes_again_moves_nothing() {
        let mut follower = Follower::new(1_000, Microseconds(10_000_000), 90);
        let mut place = |number: u32| {
            let at_us = 10_000_000 + u64::from(number - 1_000) * 11_111;
            follower
                .place(number as u8, at_us as u32)
                .map(|placed| (placed.position.number, placed.lost))
        };
        assert_eq!(
            (place(1_001), place(1_002), place(1_003)),
            (Some((1_001, 0)), Some((1_002, 0)), Some((1_003, 0)))
        );
        // Two frames of a buffer that comes twice, and the one that comes next.
        assert_eq!((place(1_001), place(1_002)), (None, None));
        assert_eq!(place(1_004), Some((1_004, 0)));
        // In the wrong order.
        assert_eq!(
            (place(1_006), place(1_005), place(1_007)),
            (Some((1_006, 1)), None, Some((1_007, 0)))
        );
    }

    proptest! {
        #[test]
        fn any_losses_up_to_an_hour_are_counted(
            start in any::<u32>(), steps in proptest::collection::vec(1_u32..200_000, 1..20), boot in 0_u64..1 << 40,
        ) {
            let period_us = 10_000_u64;
            let mut at = boot + 1_000_000;
            let mut number = start;
            let mut follower = Follower::new(number, Microseconds(at), 100);
            for step in steps {
                at += u64::from(step) * period_us;
                number = number.wrapping_add(step);
                // Sampling may be up to 2 ms late.
                let late = at + u64::from(step) % 2_000;
                let placed = follower.place(number as u8, late as u32).unwrap();
                prop_assert_eq!(placed.position.number, number);
                prop_assert_eq!(placed.position.at.0, late);
                prop_assert_eq!(placed.lost, step - 1);
                follower = Follower::new(number, Microseconds(at), 100);
            }
        }
    }
}
