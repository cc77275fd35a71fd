//! Trying again: what passes by itself is waited for, a little longer each time, by chance, so that
//! two hundred laptops that were turned away together do not come back together.

use std::time::Duration;

/// The longest wait before the second try, doubled for each one after.
const FIRST: Duration = Duration::from_millis(100);

/// No wait is longer.
const LONGEST: Duration = Duration::from_secs(5);

/// How long to wait before the next try: a share of a span that grows with `tries` so far. `chance`
/// is a random number.
pub fn wait(tries: u32, chance: u32) -> Duration {
    let span = FIRST.saturating_mul(2_u32.saturating_pow(tries.saturating_sub(1))).min(LONGEST);
    span.mul_f64(f64::from(chance) / f64::from(u32::MAX))
}

/// What trying again needs of the world.
pub trait World {
    /// Time since some moment that stays.
    fn now(&mut self) -> Duration;
    /// Lets time pass.
    fn sleep(&mut self, span: Duration);
    /// A random number.
    fn chance(&mut self) -> u32;
}

/// Does `work` until it is done, or fails with what `passes` says does not pass by itself, or
/// `patience` is over.
///
/// # Errors
/// The last of what `work` met.
pub fn insist<T, E>(
    world: &mut dyn World,
    patience: Duration,
    passes: impl Fn(&E) -> bool,
    mut work: impl FnMut() -> Result<T, E>,
) -> Result<T, E> {
    let begun = world.now();
    let mut tries = 0_u32;
    loop {
        let error = match work() {
            Ok(done) => return Ok(done),
            Err(error) => error,
        };
        tries = tries.saturating_add(1);
        let span = wait(tries, world.chance());
        if !passes(&error) || world.now().saturating_sub(begun) + span > patience {
            return Err(error);
        }
        world.sleep(span);
    }
}

/// The world as it is.
#[derive(Debug)]
pub struct Real {
    begun: std::time::Instant,
}

impl Default for Real {
    fn default() -> Self {
        Self { begun: std::time::Instant::now() }
    }
}

impl World for Real {
    fn now(&mut self) -> Duration {
        self.begun.elapsed()
    }

    fn sleep(&mut self, span: Duration) {
        std::thread::sleep(span);
    }

    fn chance(&mut self) -> u32 {
        // Without random numbers all wait the same.
        getrandom::u32().unwrap_or(u32::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A clock that only moves when somebody sleeps.
    #[derive(Default)]
    struct Clock {
        now: Duration,
        slept: Vec<Duration>,
        chance: u32,
    }

    impl World for Clock {
        fn now(&mut self) -> Duration {
            self.now
        }

        fn sleep(&mut self, span: Duration) {
            self.now += span;
            self.slept.push(span);
        }

        fn chance(&mut self) -> u32 {
            self.chance
        }
    }

    #[test]
    fn waits_grow_to_a_limit_and_are_by_chance() {
        let longest: Vec<u128> = (1..9).map(|tries| wait(tries, u32::MAX).as_millis()).collect();
        assert_eq!(longest, [100, 200, 400, 800, 1600, 3200, 5000, 5000]);
        assert_eq!(wait(60, u32::MAX), LONGEST);
        assert_eq!(wait(5, 0), Duration::ZERO);
        assert!(wait(5, u32::MAX / 2) < wait(5, u32::MAX));
    }

    #[test]
    fn what_passes_is_tried_until_patience_is_over_and_what_does_not_is_not() {
        let mut clock = Clock { chance: u32::MAX, ..Clock::default() };
        let mut left = 3;
        let done = insist(
            &mut clock,
            Duration::from_secs(60),
            |_: &&str| true,
            || {
                left -= 1;
                if left > 0 { Err("busy") } else { Ok(left) }
            },
        );
        assert_eq!((done, clock.slept.len()), (Ok(0), 2));

        let mut clock = Clock { chance: u32::MAX, ..Clock::default() };
        let mut tries = 0;
        let busy = insist(
            &mut clock,
            Duration::from_secs(10),
            |_: &&str| true,
            || {
                tries += 1;
                Err::<(), _>("busy")
            },
        );
        assert_eq!(busy, Err("busy"));
        assert!(
            clock.now <= Duration::from_secs(10) && tries == clock.slept.len() + 1 && tries > 5
        );

        let mut clock = Clock::default();
        let refused = insist(
            &mut clock,
            Duration::from_secs(10),
            |error: &&str| *error == "busy",
            || Err::<(), _>("refused"),
        );
        assert_eq!((refused, clock.slept.len()), (Err("refused"), 0));
    }
}
