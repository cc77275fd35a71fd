//! What a trim costs the person on the ladder, in seconds.

use serde::{Deserialize, Serialize};

/// Seconds that things take. Common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Person {
    /// To clip the head on and let the reading settle.
    pub clip_s: f64,
    /// To read an instruction, find the adjuster and put the key on it.
    pub instruction_s: f64,
    /// One whole turn of an adjuster.
    pub turn_s: f64,
    /// To walk from one station to another.
    pub walk_s: f64,
    /// One place of a survey: the head moved by hand to the next place on the board's face, and
    /// read there.
    pub place_s: f64,
}

impl Default for Person {
    fn default() -> Self {
        Self { clip_s: 10.0, instruction_s: 6.0, turn_s: 2.0, walk_s: 5.0, place_s: 6.0 }
    }
}

impl Person {
    /// To take so many stations, one after the other.
    pub fn stations_s(&self, count: usize) -> f64 {
        count as f64 * (self.clip_s + self.walk_s)
    }

    /// One instruction of so many turns; `moved`: the head is clipped on elsewhere for it.
    pub fn instruction_s(&self, turns: f64, moved: bool) -> f64 {
        let move_s = if moved { self.clip_s + self.walk_s } else { 0.0 };
        self.instruction_s + self.turn_s * turns.abs() + move_s
    }

    /// To survey so many places.
    pub fn survey_s(&self, count: usize) -> f64 {
        if count == 0 { 0.0 } else { self.walk_s + count as f64 * self.place_s }
    }
}
