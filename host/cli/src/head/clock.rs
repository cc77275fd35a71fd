//! The clock of a link: the computer's, or one that runs with a simulation.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// A simulation that has stood still for so long is over, not slow.
const STANDSTILL: Duration = Duration::from_secs(3);

/// Time since a link was opened.
#[derive(Clone)]
pub struct Clock(Arc<dyn Fn() -> Duration + Send + Sync>);

impl Clock {
    /// The computer's, from now on.
    pub fn real() -> Self {
        let started = Instant::now();
        Self(Arc::new(move || started.elapsed()))
    }

    /// A simulation's, from now on: everything that is measured in time is then measured in the
    /// simulation's, however fast that runs. When it stands still, real time goes on in its
    /// stead, so that nothing stands as fresh for ever.
    pub fn of(simulated_us: impl Fn() -> u64 + Send + Sync + 'static) -> Self {
        let following = Mutex::new(Following::new(simulated_us(), Instant::now()));
        Self(Arc::new(move || {
            let us = simulated_us();
            following.lock().unwrap_or_else(PoisonError::into_inner).at(us, Instant::now())
        }))
    }

    /// The time now.
    pub fn now(&self) -> Duration {
        (self.0)()
    }
}

struct Following {
    last_us: u64,
    moved: Instant,
    shown: Duration,
}

impl Following {
    fn new(us: u64, now: Instant) -> Self {
        Self { last_us: us, moved: now, shown: Duration::ZERO }
    }

    fn at(&mut self, us: u64, now: Instant) -> Duration {
        let still = now.saturating_duration_since(self.moved);
        if us > self.last_us {
            // Time that went on without the simulation stays gone by.
            self.shown +=
                Duration::from_micros(us - self.last_us) + still.saturating_sub(STANDSTILL);
            self.last_us = us;
            self.moved = now;
            return self.shown;
        }
        self.shown + still.saturating_sub(STANDSTILL)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slow_simulations_clock_is_the_simulations_until_it_stands_still() {
        let began = Instant::now();
        let later = |ms| began + Duration::from_millis(ms);
        let mut clock = Following::new(500_000, began);
        assert_eq!(clock.at(500_000, later(100)), Duration::ZERO);
        assert_eq!(clock.at(600_000, later(200)), Duration::from_millis(100));
        assert_eq!(clock.at(700_000, later(400)), Duration::from_millis(200));
        // It stands still.
        assert_eq!(clock.at(700_000, later(3_400)), Duration::from_millis(200));
        assert_eq!(clock.at(700_000, later(4_400)), Duration::from_millis(1_200));
        // It goes on; time never goes back.
        assert_eq!(clock.at(800_000, later(5_400)), Duration::from_millis(2_300));
    }
}
