//! Hands that carry the simulated head from place to place as a person does: off the board, a
//! moment in the hand, on again.

use crate::watch::Watch;
use crate::watch::stations::Place;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head;
use std::time::Duration;

/// The head is in the hand for so long on its way.
pub const IN_HAND: Duration = Duration::from_millis(500);
/// Nobody presses twice within so long.
const BETWEEN_PRESSES: Duration = Duration::from_millis(1_000);

/// Where the hands are with the head.
#[derive(Debug, Default)]
pub struct Carry {
    at: Option<(Place, Duration)>,
    in_hand: Option<Duration>,
    pressed: Option<Duration>,
}

impl Carry {
    /// Brings the head to where the watch wants it; for how long it has stood there, once it does.
    pub fn on(&mut self, now: Duration, bench: &Bench, watch: &Watch) -> Option<Duration> {
        let place = watch.stations.place();
        if let Some((at, since)) = self.at
            && at == place
        {
            return Some(now.saturating_sub(since));
        }
        self.at = None;
        let since = *self.in_hand.get_or_insert_with(|| {
            bench.scene(|scene| scene.put(head::Place::Hand, head::Attitude::Upright));
            now
        });
        if now.saturating_sub(since) >= IN_HAND {
            self.in_hand = None;
            self.at = Some((place, now));
            bench.scene(|scene| match watch.stations.station() {
                Some(station) => scene.clip(station.at.x.0, station.at.y.0),
                None => scene.put(head::Place::Emitter, head::Attitude::Upright),
            });
        }
        None
    }

    /// Takes the head off the board where it stands: the next look brings it there again, as a new
    /// seat.
    pub fn lift(&mut self) {
        self.at = None;
    }

    /// Whether the head was put down at this very moment.
    pub fn is_just_down(&self, now: Duration) -> bool {
        self.at.is_some_and(|(_, since)| since == now)
    }

    /// Whether it is time to press: once a second.
    pub fn presses(&mut self, now: Duration) -> bool {
        let time = self.pressed.is_none_or(|before| now.saturating_sub(before) >= BETWEEN_PRESSES);
        if time {
            self.pressed = Some(now);
        }
        time
    }
}
