//! Practice: the user turns the simulated adjusters with keys and watches the gap answer.

use super::carry::IN_HAND;
use crate::storing::Entry;
use crate::watch::stations::Place;
use crate::watch::{Said, Watch};
use crate::watching::Hands;
use skimgauge_bench::bench::Bench;
use skimgauge_bench::head;
use std::time::Duration;

/// One press of a key turns a screw so far.
const TURN: f64 = 1.0 / 12.0;
/// One press of a key rolls the slide so far, mm.
const ROLL_MM: f64 = 0.1;

/// The user's hands in the simulated room.
pub struct Practice {
    bench: Bench,
    at: Option<Place>,
    /// When it was taken off, while it is in the hand.
    lifted: Option<Duration>,
    turned: [f64; 3],
    keys: Vec<char>,
}

impl Practice {
    /// In this room.
    pub fn new(bench: Bench) -> Self {
        Self { bench, at: None, lifted: None, turned: [0.0; 3], keys: Vec::new() }
    }

    fn press(&mut self, now: Duration, key: char) {
        let turn = |adjuster: usize, turns: f64| (adjuster, turns);
        let (adjuster, turns) = match key {
            'u' => turn(0, TURN),
            'j' => turn(0, -TURN),
            'i' => turn(1, TURN),
            'k' => turn(1, -TURN),
            'o' => turn(2, TURN),
            'l' => turn(2, -TURN),
            '+' | '-' => {
                let by = if key == '+' { ROLL_MM } else { -ROLL_MM };
                self.bench.scene(|scene| scene.set_slide_mm(scene.slide_mm() + by));
                return;
            }
            '0' => {
                self.bench.scene(|scene| scene.roll_to_light(0.0));
                return;
            }
            'h' => return self.lift(now),
            _ => return,
        };
        self.bench.scene(|scene| scene.room.turn(adjuster, turns));
        self.turned[adjuster] += turns;
    }

    fn lift(&mut self, now: Duration) {
        self.lifted = Some(now);
        self.bench.scene(|scene| scene.put(head::Place::Hand, head::Attitude::Upright));
    }

    fn put_down(&self, watch: &Watch) {
        self.bench.scene(|scene| match watch.stations.station() {
            Some(station) => {
                scene.clip(station.at.x.0, station.at.y.0);
                scene.roll_to_light(0.05);
            }
            None => scene.put(head::Place::Emitter, head::Attitude::Upright),
        });
    }
}

impl Hands for Practice {
    fn act(
        &mut self,
        now: Duration,
        watch: &mut Watch,
        _: &mut Vec<Entry>,
    ) -> anyhow::Result<Vec<Said>> {
        let place = watch.stations.place();
        if self.at != Some(place) {
            self.at = Some(place);
            self.lift(now);
        }
        for key in std::mem::take(&mut self.keys) {
            self.press(now, key);
        }
        if self.lifted.is_some_and(|lifted| now.saturating_sub(lifted) >= IN_HAND) {
            self.lifted = None;
            self.put_down(watch);
        }
        Ok(Vec::new())
    }

    fn says(&self) -> Option<String> {
        let [left, right, upper] = self.turned;
        Some(format!(
            "u/j left {left:+.2}  i/k right {right:+.2}  o/l upper {upper:+.2} turns   + - 0 slide   h lift   space take  r redo  m more  ↑↓  q"
        ))
    }

    fn key(&mut self, key: char) {
        self.keys.push(key);
    }
}
