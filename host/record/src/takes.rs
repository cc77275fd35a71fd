//! The takes that stand, and those that were only written again.
//!
//! Until format 2 the end of a trim wrote every take that stood once more, as left, with a new
//! time. Such a copy is known by its numbers, which are those of an earlier take at the same
//! station to the last digit; it is no take of its own, and says
//! what [`AsLeft`](crate::event::AsLeft) says today: that the take stands as left.

use std::collections::{HashMap, HashSet};

use skimgauge_quantity::Deg;

use crate::JobHistory;
use crate::chain::{Hash, Rule};
use crate::event::{Body, EmitterTilt, Phase, Struck, Take};
use crate::history::Event;

/// A take that stands for a state of the installation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurrentTake<'a> {
    /// The event that holds it.
    pub event: &'a Event,
    /// The take.
    pub take: &'a Take,
}

/// What tells takes apart: station and every number, as bits.
type Numbers<'a> = (&'a str, [u64; 8], [Option<u64>; 5]);

fn numbers(take: &Take) -> Numbers<'_> {
    let bits = |value: Option<f64>| value.map(f64::to_bits);
    let angle = |value: Option<Deg>| bits(value.map(|deg| deg.0));
    let sure = [take.x.0, take.y.0, take.gap.0, take.u_gap.0, take.window_s].map(f64::to_bits);
    let [x, y, gap, u, window] = sure;
    (
        &take.station,
        [
            x,
            y,
            gap,
            u,
            window,
            u64::from(take.readings),
            u64::from(take.round),
            take.flags.len() as u64,
        ],
        [
            bits(take.dof),
            angle(take.tilt),
            angle(take.level),
            angle(take.lean),
            bits(take.temperature.map(|celsius| celsius.0)),
        ],
    )
}

fn tilt_numbers(tilt: &EmitterTilt) -> [u64; 4] {
    let [level, lean, u] = [tilt.level.0, tilt.lean.0, tilt.u.0].map(f64::to_bits);
    [level, lean, u, u64::from(tilt.round)]
}

/// Marks the takes and tilts that are copies of earlier ones. Only programs of record format 1
/// wrote such.
pub(crate) fn mark_copies(events: &mut [Event]) {
    let mut takes: HashMap<Numbers<'_>, Hash> = HashMap::new();
    let mut tilts: HashMap<[u64; 4], Hash> = HashMap::new();
    let mut copies: Vec<(usize, Hash)> = Vec::new();
    for (at, event) in events.iter().enumerate().filter(|(_, event)| event.rule == Rule::First) {
        match &event.body {
            Body::Take(take) if take.phase == Phase::AsLeft && take.supersedes.is_none() => {
                match takes.get(&numbers(take)) {
                    Some(first) => copies.push((at, *first)),
                    None => drop(takes.insert(numbers(take), event.hash)),
                }
            }
            Body::Take(take) => drop(takes.entry(numbers(take)).or_insert(event.hash)),
            Body::EmitterTilt(tilt) => match tilts.get(&tilt_numbers(tilt)) {
                Some(first) if tilt.phase == Phase::AsLeft => copies.push((at, *first)),
                Some(_) => {}
                None => drop(tilts.insert(tilt_numbers(tilt), event.hash)),
            },
            _ => {}
        }
    }
    for (at, first) in copies {
        events[at].copy_of = Some(first);
    }
}

/// Takes that were made, and neither replaced nor struck out: what a count of takes counts.
pub(crate) fn count(events: &[Event]) -> u32 {
    let replaced = gone(events);
    let made = events
        .iter()
        .filter(|event| matches!(event.body, Body::Take(_)) && event.copy_of.is_none());
    u32::try_from(made.filter(|event| !replaced.contains(&event.hash)).count()).unwrap_or(u32::MAX)
}

/// What later takes replaced, and what was struck out.
fn gone(events: &[Event]) -> HashSet<Hash> {
    let mut gone = HashSet::new();
    for event in events {
        match &event.body {
            Body::Take(take) => gone.extend(take.supersedes),
            Body::StruckOut(struck) => gone.extend(&struck.takes),
            _ => {}
        }
    }
    gone
}

impl JobHistory {
    /// The event with this hash.
    pub fn event(&self, hash: Hash) -> Option<&Event> {
        self.events.iter().find(|event| event.hash == hash)
    }

    /// The takes that count no more: a later one replaced them, or they were struck out.
    pub fn gone(&self) -> HashSet<Hash> {
        gone(&self.events)
    }

    /// The takes that were struck out, and why.
    pub fn struck_out(&self) -> HashMap<Hash, &Struck> {
        let struck = self.events.iter().filter_map(|event| match &event.body {
            Body::StruckOut(struck) => Some(struck.takes.iter().map(|hash| (*hash, &struck.why))),
            _ => None,
        });
        struck.flatten().collect()
    }

    /// Every take that was made, in order, those that count no more as well: what was only written
    /// again is left out.
    pub fn takes(&self) -> impl Iterator<Item = CurrentTake<'_>> {
        self.events.iter().filter(|event| event.copy_of.is_none()).filter_map(current)
    }

    /// The takes that stand for any state of the installation, each once, in the order in which
    /// they were made.
    pub fn current_takes(&self) -> Vec<CurrentTake<'_>> {
        let mut all: Vec<CurrentTake<'_>> = [Phase::AsFound, Phase::Between, Phase::AsLeft]
            .into_iter()
            .flat_map(|phase| self.standing(phase))
            .collect();
        all.sort_by_key(|current| current.event.seq);
        all.dedup_by_key(|current| current.event.seq);
        all
    }

    /// The takes that stand for one state of the installation, in the order in which they were
    /// made. Several at one station are all takes of the last round there; a redo leaves only
    /// itself, and what was struck out stands nowhere. As left stand those that the last [`AsLeft`](crate::event::AsLeft) refers to,
    /// and what was taken as left after it; none of them from before the last turn, which left the
    /// emitter otherwise.
    pub fn standing(&self, phase: Phase) -> Vec<CurrentTake<'_>> {
        let gone = gone(&self.events);
        let by_hash: HashMap<Hash, &Event> =
            self.events.iter().map(|event| (event.hash, event)).collect();
        let made = |hash: &Hash| by_hash.get(hash).copied().and_then(current);
        let mut found: Vec<CurrentTake<'_>> = Vec::new();
        for event in &self.events {
            match &event.body {
                Body::Take(take) if take.phase == phase && !gone.contains(&event.hash) => {
                    match event.copy_of {
                        None => found.extend(current(event)),
                        Some(first) => found.extend(made(&first)),
                    }
                }
                Body::AsLeft(left) if phase == Phase::AsLeft => {
                    found = left
                        .takes
                        .iter()
                        .filter(|hash| !gone.contains(*hash))
                        .filter_map(made)
                        .collect();
                }
                _ => {}
            }
        }
        if phase == Phase::AsLeft {
            let turned = self.last_turn();
            found.retain(|current| current.event.seq > turned);
        }
        let mut last_round: HashMap<&str, u32> = HashMap::new();
        for CurrentTake { take, .. } in &found {
            let round = last_round.entry(take.station.as_str()).or_default();
            *round = take.round.max(*round);
        }
        found.retain(|current| {
            last_round.get(current.take.station.as_str()) == Some(&current.take.round)
        });
        found.sort_by_key(|current| current.event.seq);
        found.dedup_by_key(|current| current.event.seq);
        found
    }
}

fn current(event: &Event) -> Option<CurrentTake<'_>> {
    match &event.body {
        Body::Take(take) => Some(CurrentTake { event, take }),
        _ => None,
    }
}
