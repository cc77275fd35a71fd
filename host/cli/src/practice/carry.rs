//! Hands that carry the simulated head from place to place as a person does: off the board, a
//! moment in the hand, on again.

use skimgauge_bench::bench::Bench;
use skimgauge_bench::head;
use skimgauge_procedure::Stop;
use skimgauge_procedure::view::PlaceView;
use std::time::Duration;

/// The head is in the hand for so long on its way.
const IN_HAND: Duration = Duration::from_millis(500);
/// Nobody speaks twice within so long.
const BETWEEN_WORDS: Duration = Duration::from_millis(1_000);

/// Where the hands are with the head.
#[derive(Debug, Default)]
pub(super) struct Carry {
    at: Option<(Stop, Duration)>,
    in_hand: Option<Duration>,
    spoke: Option<Duration>,
}

impl Carry {
    /// Brings the head to this place; for how long it has stood there, once it does.
    pub(super) fn to(
        &mut self,
        now: Duration,
        bench: &Bench,
        place: &PlaceView,
    ) -> Option<Duration> {
        if let Some((at, since)) = self.at
            && at == place.stop
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
            self.at = Some((place.stop, now));
            bench.scene(|scene| match place.place.point() {
                Some(point) => scene.clip(point.x.0, point.y.0),
                None => scene.put(head::Place::Emitter, head::Attitude::Upright),
            });
        }
        None
    }

    /// Takes the head off the board where it stands: the next look brings it there again, as a new
    /// seat.
    pub(super) fn lift(&mut self) {
        self.at = None;
    }

    /// Whether the head was put down at this very moment.
    pub(super) fn is_just_down(&self, now: Duration) -> bool {
        self.at.is_some_and(|(_, since)| since == now)
    }

    /// Whether it is time to say something: once a second.
    pub(super) fn speaks(&mut self, now: Duration) -> bool {
        let time = self.spoke.is_none_or(|before| now.saturating_sub(before) >= BETWEEN_WORDS);
        if time {
            self.spoke = Some(now);
        }
        time
    }
}

/// The eye's pointer a little further toward the emitter, as a hand would turn it; `false` when it
/// points there.
pub(super) fn turn_eye(bench: &Bench) -> bool {
    /// So far at once, degrees.
    const TURN_DEG: f64 = 40.0;
    /// So near is turned to it, degrees.
    const THERE_DEG: f64 = 3.0;
    let away_deg = bench.truth().away_deg;
    if away_deg.abs() < THERE_DEG {
        return false;
    }
    let left_deg = away_deg - away_deg.clamp(-TURN_DEG, TURN_DEG);
    bench.scene(|scene| scene.turn_eye_to_emitter(left_deg));
    true
}
