//! The one order in which the events of a job stand, also where it was gone on with on two machines
//! and joined: the same in every store, whatever order the branches came in.
//!
//! An event stands after those that it follows; of those that could come next the earliest by its
//! own clock does, and of two at one moment the one with the smaller hash. A job that was never
//! apart has one order only.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

use jiff::Timestamp;

use crate::When;
use crate::chain::Hash;
use crate::history::Event;
use crate::walk::StoredRow;

/// An event as far as its order is concerned.
struct Node<'a> {
    hash: Hash,
    parents: &'a [Hash],
    moment: Timestamp,
}

/// Places of the nodes in their order. What they follow that is not among them counts for nothing.
fn order(nodes: &[Node<'_>]) -> Vec<usize> {
    let places: HashMap<Hash, usize> =
        nodes.iter().enumerate().map(|(at, node)| (node.hash, at)).collect();
    let mut waits = vec![0_usize; nodes.len()];
    let mut followed_by: Vec<Vec<usize>> = vec![Vec::new(); nodes.len()];
    for (at, node) in nodes.iter().enumerate() {
        for parent in node.parents.iter().filter_map(|parent| places.get(parent)) {
            waits[at] += 1;
            followed_by[*parent].push(at);
        }
    }
    let key = |at: usize| Reverse((nodes[at].moment, nodes[at].hash, at));
    let mut ready: BinaryHeap<_> = (0..nodes.len()).filter(|at| waits[*at] == 0).map(key).collect();
    let mut order = Vec::with_capacity(nodes.len());
    while let Some(Reverse((_, _, at))) = ready.pop() {
        order.push(at);
        for next in &followed_by[at] {
            waits[*next] -= 1;
            if waits[*next] == 0 {
                ready.push(key(*next));
            }
        }
    }
    order
}

/// Brings the events of a job into their order and counts their places anew, where branches of it
/// were joined.
pub(crate) fn settle(events: &mut Vec<Event>) {
    if events.iter().all(|event| event.parents.len() < 2) {
        return;
    }
    let nodes: Vec<Node<'_>> = events
        .iter()
        .map(|event| Node { hash: event.hash, parents: &event.parents, moment: event.at.moment() })
        .collect();
    let order = order(&nodes);
    let mut settled: Vec<Event> = order.into_iter().map(|at| events[at].clone()).collect();
    for (event, place) in settled.iter_mut().zip(1..) {
        event.seq = place;
    }
    *events = settled;
}

/// Brings rows of one job into their order and counts their places.
pub(crate) fn settle_rows(rows: Vec<StoredRow>) -> Vec<StoredRow> {
    let moment = |text: &str| When::parse(text).map_or(Timestamp::MIN, When::moment);
    let nodes: Vec<Node<'_>> = rows
        .iter()
        .map(|row| Node { hash: row.hash, parents: &row.parents.0, moment: moment(&row.at) })
        .collect();
    let order = order(&nodes);
    let mut rows: Vec<Option<StoredRow>> = rows.into_iter().map(Some).collect();
    let mut settled: Vec<StoredRow> = order.into_iter().filter_map(|at| rows[at].take()).collect();
    for (row, place) in settled.iter_mut().zip(1..) {
        row.seq = place;
    }
    settled
}

#[cfg(test)]
mod tests {
    use super::*;

    fn node(name: u8, parents: &'static [Hash], second: i64) -> Node<'static> {
        let moment = Timestamp::from_second(second).unwrap();
        Node { hash: Hash([name; 32]), parents, moment }
    }

    #[test]
    fn branches_stand_by_their_clocks_and_each_event_after_what_it_follows() {
        const ONE: &[Hash] = &[Hash([1; 32])];
        const TWO: &[Hash] = &[Hash([2; 32])];
        const THREE: &[Hash] = &[Hash([3; 32])];
        const BOTH: &[Hash] = &[Hash([4; 32]), Hash([5; 32])];
        // 1 - 2 - 4 and 1 - 3 - 5, joined by 6. The clock of the second was set back after 3.
        let made = |order: [usize; 6]| {
            let all = [
                (1, &[][..], 0),
                (2, ONE, 10),
                (3, ONE, 5),
                (4, TWO, 12),
                (5, THREE, 1),
                (6, BOTH, 0),
            ];
            order.map(|at| node(all[at].0, all[at].1, all[at].2))
        };
        for given in [[0, 1, 2, 3, 4, 5], [0, 2, 4, 1, 3, 5], [0, 1, 3, 2, 4, 5]] {
            let nodes = made(given);
            let names: Vec<u8> = order(&nodes).into_iter().map(|at| nodes[at].hash.0[0]).collect();
            assert_eq!(names, [1, 3, 5, 2, 4, 6]);
        }
    }
}
