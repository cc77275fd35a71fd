//! So many at once, and of these so many from one address.

use super::locked;
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::sync::Notify;
use tokio::time::timeout;

/// Places that are taken.
#[derive(Debug)]
pub(crate) struct Seats {
    most: usize,
    from_one: usize,
    taken: Mutex<HashMap<IpAddr, usize>>,
    freed: Notify,
}

/// A place, given back when it is dropped.
#[derive(Debug)]
pub(crate) struct Seat {
    who: IpAddr,
    of: Arc<Seats>,
}

impl Seats {
    pub(crate) fn new(most: usize, from_one: usize) -> Arc<Self> {
        Arc::new(Self { most, from_one, taken: Mutex::default(), freed: Notify::new() })
    }

    /// A place for this address, if there is one.
    pub(crate) fn take(self: &Arc<Self>, who: IpAddr) -> Option<Seat> {
        self.take_but(0, who)
    }

    /// The same, but for so many places, which are kept for others.
    pub(crate) fn take_but(self: &Arc<Self>, kept: usize, who: IpAddr) -> Option<Seat> {
        let mut taken = locked(&self.taken);
        let all: usize = taken.values().sum();
        let own = taken.get(&who).copied().unwrap_or(0);
        if all + kept >= self.most || own >= self.from_one {
            return None;
        }
        taken.insert(who, own + 1);
        Some(Seat { who, of: Arc::clone(self) })
    }

    /// The same; where there is none, as soon as one is given back within this time.
    pub(crate) async fn wait_but(
        self: &Arc<Self>,
        kept: usize,
        who: IpAddr,
        within: Duration,
    ) -> Option<Seat> {
        let comes = async {
            loop {
                // Asked for before it is looked, so that none is missed in between.
                let freed = self.freed.notified();
                if let Some(seat) = self.take_but(kept, who) {
                    return seat;
                }
                freed.await;
            }
        };
        timeout(within, comes).await.ok()
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        let mut taken = locked(&self.of.taken);
        match taken.get_mut(&self.who) {
            Some(count) if *count > 1 => *count -= 1,
            _ => {
                taken.remove(&self.who);
            }
        }
        drop(taken);
        self.of.freed.notify_waiters();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_cannot_take_every_place() {
        let seats = Seats::new(5, 3);
        let (one, two) = (IpAddr::from([192, 168, 1, 2]), IpAddr::from([192, 168, 1, 3]));
        let held: Vec<Seat> = (0..64).filter_map(|_| seats.take(one)).collect();
        assert_eq!(held.len(), 3);
        let other: Vec<Seat> = (0..64).filter_map(|_| seats.take(two)).collect();
        assert_eq!(other.len(), 2, "five in all");
        drop(held);
        assert!(seats.take(one).is_some());
        assert!(seats.take_but(3, one).is_none() && seats.take_but(2, one).is_some());
        drop(other);
        assert!(locked(&seats.taken).is_empty());
    }

    #[tokio::test(start_paused = true)]
    async fn who_finds_no_place_waits_for_one_but_not_for_ever() {
        let seats = Seats::new(5, 3);
        let (one, within) = (IpAddr::from([192, 168, 1, 2]), Duration::from_secs(5));
        let mut held: Vec<Seat> = (0..3).filter_map(|_| seats.take(one)).collect();
        assert!(seats.wait_but(0, one, within).await.is_none(), "nobody left");
        let (waits, ()) = tokio::join!(seats.wait_but(0, one, within), async {
            tokio::time::sleep(Duration::from_secs(4)).await;
            drop(held.pop());
        });
        assert!(waits.is_some());
        // Nobody waits for a place that is kept for others.
        assert!(seats.wait_but(3, IpAddr::from([192, 168, 1, 3]), within).await.is_none());
    }
}
