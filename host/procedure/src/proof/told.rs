//! What the page tells: its window, and every report of every contact, with the browser's times.

use serde::{Deserialize, Deserializer};
use skimgauge_proof::raw::{Kind, Window};

/// One message of the page.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Told {
    /// The browser's clock as it was sent, ms.
    pub sent_ms: f64,
    /// The window, where it is new.
    #[serde(default)]
    pub window: Option<Seen>,
    /// Reports in their order.
    #[serde(default)]
    pub events: Vec<Event>,
}

/// What a browser says of its window; [`Window`] without its time.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Seen {
    width: f64,
    height: f64,
    screen_width: f64,
    screen_height: f64,
    scale: f64,
    left: f64,
    top: f64,
    secure: bool,
}

impl Seen {
    /// From this time on.
    pub(super) fn from(self, from_ms: f64) -> Window {
        Window {
            from_ms,
            width: self.width,
            height: self.height,
            screen_width: self.screen_width,
            screen_height: self.screen_height,
            scale: self.scale,
            left: self.left,
            top: self.top,
            secure: self.secure,
        }
    }
}

/// What a report tells of its contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    /// It came down.
    Down,
    /// It is somewhere else, or told anew.
    Move,
    /// It was lifted.
    Up,
    /// The browser took it away.
    Cancel,
}

/// One report. In JSON a list: time, phase (0 down, 1 move, 2 up, 3 cancel), the contact's number,
/// x, y, width, pressure, kind (0 touch, 1 mouse, 2 pen).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// The browser's time, ms.
    pub at_ms: f64,
    /// What.
    pub phase: Phase,
    /// Of which contact.
    pub id: i64,
    /// CSS pixels from the left.
    pub x: f64,
    /// And from the top.
    pub y: f64,
    /// Width of the contact, px.
    pub width: f64,
    /// Pressure, 0 to 1.
    pub pressure: f64,
    /// What touches.
    pub kind: Kind,
}

impl<'de> Deserialize<'de> for Event {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        use serde::de::Error;
        type List = (f64, u8, i64, f64, f64, f64, f64, u8);
        let (at_ms, phase, id, x, y, width, pressure, kind) = List::deserialize(deserializer)?;
        let phase = [Phase::Down, Phase::Move, Phase::Up, Phase::Cancel]
            .get(usize::from(phase))
            .copied()
            .ok_or_else(|| D::Error::custom("a phase is 0 to 3"))?;
        let kind = [Kind::Touch, Kind::Mouse, Kind::Pen]
            .get(usize::from(kind))
            .copied()
            .ok_or_else(|| D::Error::custom("a kind is 0 to 2"))?;
        let numbers = [at_ms, x, y, width, pressure];
        if !numbers.iter().all(|number| number.abs() < 1e14) {
            return Err(D::Error::custom("a number is none"));
        }
        Ok(Self { at_ms, phase, id, x, y, width, pressure, kind })
    }
}
