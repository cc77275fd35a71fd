//! So many at once, and of these so many from one address.

use super::locked;
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex};

/// Places that are taken.
#[derive(Debug)]
pub(crate) struct Seats {
    most: usize,
    from_one: usize,
    taken: Mutex<HashMap<IpAddr, usize>>,
}

/// A place, given back when it is dropped.
#[derive(Debug)]
pub(crate) struct Seat {
    who: IpAddr,
    of: Arc<Seats>,
}

impl Seats {
    pub(crate) fn new(most: usize, from_one: usize) -> Arc<Self> {
        Arc::new(Self { most, from_one, taken: Mutex::default() })
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
}
