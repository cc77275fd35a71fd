//! How often an address may do something. The time is passed in.

use std::collections::HashMap;
use std::net::IpAddr;
use std::time::Duration;

/// So many addresses are remembered; then the one that has asked least lately is forgotten.
const ADDRESSES: usize = 256;

/// So many at once, and so many a second in the long run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pace {
    pub(crate) at_once: f64,
    pub(crate) per_second: f64,
}

#[derive(Debug, Clone, Copy)]
struct Left {
    left: f64,
    at: Duration,
}

/// What each address has left.
#[derive(Debug)]
pub(crate) struct Allowance {
    pace: Pace,
    left: HashMap<IpAddr, Left>,
}

impl Allowance {
    pub(crate) fn new(pace: Pace) -> Self {
        Self { pace, left: HashMap::new() }
    }

    fn now(&self, now: Duration, who: IpAddr) -> f64 {
        self.left.get(&who).map_or(self.pace.at_once, |left| {
            let since = now.saturating_sub(left.at).as_secs_f64();
            (left.left + since * self.pace.per_second).min(self.pace.at_once)
        })
    }

    /// Whether there is one left, without taking it; else after how many seconds there will be.
    pub(crate) fn look(&self, now: Duration, who: IpAddr) -> Result<(), u64> {
        let left = self.now(now, who);
        if left >= 1.0 { Ok(()) } else { Err(((1.0 - left) / self.pace.per_second).ceil() as u64) }
    }

    /// Takes one, if there is one.
    pub(crate) fn take(&mut self, now: Duration, who: IpAddr) -> Result<(), u64> {
        self.look(now, who)?;
        let left = self.now(now, who) - 1.0;
        if self.left.len() >= ADDRESSES
            && !self.left.contains_key(&who)
            && let Some(oldest) =
                self.left.iter().min_by_key(|(_, left)| left.at).map(|(who, _)| *who)
        {
            self.left.remove(&oldest);
        }
        self.left.insert(who, Left { left, at: now });
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::net::Ipv4Addr;

    const PACE: Pace = Pace { at_once: 10.0, per_second: 5.0 };
    const WHO: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 168, 1, 20));

    #[test]
    fn a_million_words_in_a_minute_come_to_three_hundred() {
        let mut words = Allowance::new(PACE);
        let through = (0..1_000_000_u64)
            .filter(|at| words.take(Duration::from_nanos(at * 60_000), WHO).is_ok())
            .count();
        assert!((309..=310).contains(&through), "{through}");
    }

    #[test]
    fn who_asks_too_often_hears_when_and_hinders_nobody_else() {
        let mut words = Allowance::new(PACE);
        let now = Duration::from_secs(7);
        for _ in 0..10 {
            assert_eq!(words.take(now, WHO), Ok(()));
        }
        assert_eq!(words.take(now, WHO), Err(1));
        assert_eq!(words.take(now, IpAddr::V4(Ipv4Addr::LOCALHOST)), Ok(()));
        assert_eq!(words.take(now + Duration::from_millis(200), WHO), Ok(()));
    }

    #[test]
    fn what_is_remembered_is_bounded() {
        let mut words = Allowance::new(PACE);
        for at in 0..100_000_u32 {
            let who = IpAddr::V4(Ipv4Addr::from(at));
            assert_eq!(words.take(Duration::from_millis(at.into()), who), Ok(()));
        }
        assert!(words.left.len() <= ADDRESSES);
    }

    proptest! {
        #[test]
        fn never_more_than_the_pace_whatever_the_times(times in prop::collection::vec(0_u64..10_000, 1..200)) {
            let mut times = times;
            times.sort_unstable();
            let mut words = Allowance::new(PACE);
            let through: Vec<u64> =
                times.into_iter().filter(|at| words.take(Duration::from_millis(*at), WHO).is_ok()).collect();
            for (at, from) in through.iter().enumerate() {
                for (count, to) in through[at..].iter().enumerate() {
                    let most = PACE.at_once + PACE.per_second * (to - from) as f64 / 1000.0;
                    prop_assert!((count + 1) as f64 <= most + 1e-6);
                }
            }
        }
    }
}
