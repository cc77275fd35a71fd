//! Practice: the user turns the simulated adjusters with keys and watches the gap answer.

use super::Person;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head;
use skimgauge_procedure::view::PlaceView;
use skimgauge_procedure::{Stop, View, Word};
use std::time::Duration;

/// One press of a key turns an adjuster so far.
const TURN: f64 = 1.0 / 12.0;
/// One press of its capital letter so far.
const HALF_TURN: f64 = 0.5;
/// One press of a key turns the eye's pointer so far, degrees.
const POINT_DEG: f64 = 5.0;
/// A key that switches something does so no more often.
const APART: Duration = Duration::from_millis(700);
/// The head is in the hand for so long.
const IN_HAND: Duration = Duration::from_millis(500);

/// The user's hands in the simulated room.
pub struct Practice {
    bench: Bench,
    at: Option<Stop>,
    /// When it was taken off, while it is in the hand.
    lifted: Option<Duration>,
    turned: [f64; 3],
    /// When the emitter was switched last.
    switched: Option<Duration>,
    keys: Vec<char>,
    says: String,
}

impl Practice {
    /// In this room.
    pub fn new(bench: Bench) -> Self {
        Self {
            bench,
            at: None,
            lifted: None,
            turned: [0.0; 3],
            switched: None,
            keys: Vec::new(),
            says: said([0.0; 3], true),
        }
    }

    fn press(&mut self, now: Duration, key: char) {
        let by = if key.is_ascii_uppercase() { HALF_TURN } else { TURN };
        let (adjuster, turns) = match key.to_ascii_lowercase() {
            'u' => (0, by),
            'j' => (0, -by),
            'i' => (1, by),
            'k' => (1, -by),
            'o' => (2, by),
            'l' => (2, -by),
            '+' | '-' => {
                let by_deg = if key == '+' { POINT_DEG } else { -POINT_DEG };
                self.bench.scene(|scene| scene.turn_eye(scene.eye_deg() + by_deg));
                return;
            }
            '0' => {
                self.bench.scene(|scene| scene.turn_eye_to_emitter(0.0));
                return;
            }
            'h' => return self.lift(now),
            // Held, it switches once.
            'f' if self.switched.is_none_or(|before| now.saturating_sub(before) >= APART) => {
                self.switched = Some(now);
                let on = self.bench.scene(|scene| {
                    scene.room.emitter.on = !scene.room.emitter.on;
                    scene.room.emitter.on
                });
                self.says = said(self.turned, on);
                return;
            }
            _ => return,
        };
        let (turned, on) =
            self.bench.scene(|scene| (scene.room.turn(adjuster, turns), scene.room.emitter.on));
        self.turned[adjuster] += turned.made_turns;
        self.says = said(self.turned, on);
        if turned.at_stop {
            let name = ["left", "right", "upper"][adjuster];
            self.says = format!("{name} is at the end of its travel");
        }
    }

    fn lift(&mut self, now: Duration) {
        self.lifted = Some(now);
        self.bench.scene(|scene| scene.put(head::Place::Hand, head::Attitude::Upright));
    }

    fn put_down(&self, place: &PlaceView) {
        self.bench.scene(|scene| match place.place.point() {
            Some(point) => {
                scene.clip(point.x.0, point.y.0);
                scene.turn_eye_to_emitter(0.0);
            }
            None => scene.put(head::Place::Emitter, head::Attitude::Upright),
        });
    }
}

/// The keys of the practice and what has been turned, in 80 columns.
fn said([left, right, upper]: [f64; 3], on: bool) -> String {
    let emitter = if on { "off" } else { "ON" };
    format!(
        "u/j left {left:+.2} i/k right {right:+.2} o/l upper {upper:+.2} U J.. half  +-0 h  f {emitter}"
    )
}

impl Person for Practice {
    fn sees(&mut self, now: Duration, view: &View) -> anyhow::Result<Vec<Word>> {
        let Some(place) = &view.place else { return Ok(Vec::new()) };
        if self.at != Some(place.stop) {
            self.at = Some(place.stop);
            self.lift(now);
        }
        for key in std::mem::take(&mut self.keys) {
            self.press(now, key);
        }
        if self.lifted.is_some_and(|lifted| now.saturating_sub(lifted) >= IN_HAND) {
            self.lifted = None;
            self.put_down(place);
        }
        Ok(Vec::new())
    }

    fn says(&self) -> Option<&str> {
        Some(&self.says)
    }

    fn key(&mut self, key: char) {
        self.keys.push(key);
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn keys_and_turns_fit_80_columns() {
        assert!(super::said([-12.25, 12.25, -12.25], true).chars().count() <= 80);
    }
}
