//! Displays whose map is not straight. Invented, like every ailment.

use skimgauge_model::{Image, Point};

/// What a display's map has beside offset and slopes. Lengths in mm.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Warp {
    /// Outward at the corners, by the third power of the distance from the middle: a barrel where
    /// it is negative, a cushion where it is positive.
    pub barrel: f64,
    /// Down at the right edge, by the square of the distance from the left one.
    pub parallax: f64,
    /// A strip from top to bottom, at this share of the width from the left and so wide, in which
    /// every touch is seen at the strip's middle.
    pub stuck: Option<(f64, f64)>,
    /// It wanders off by so much in 47 s, evenly, right and up: the time that the three rounds of
    /// taps take this finger.
    pub drifts: [f64; 2],
}

/// That time, ms.
const ROUNDS_MS: f64 = 47_000.0;

impl Warp {
    /// What it adds to where a place is seen, at this time.
    pub fn off(&self, image: Image, at: Point, at_ms: f64) -> [f64; 2] {
        let (x, y) = (at.x.0, (at.y + image.height / 2.0).0);
        let corner = (image.width / 2.0).hypot(image.height / 2.0).0;
        let out = self.barrel * x.hypot(y).powi(2) / corner.powi(3);
        let share = x / image.width.0 + 0.5;
        let stuck = self.stuck.map_or(0.0, |(middle, wide)| {
            let from_middle = x - (middle - 0.5) * image.width.0;
            if from_middle.abs() < wide / 2.0 { -from_middle } else { 0.0 }
        });
        let time = at_ms / ROUNDS_MS;
        [
            out * x + stuck + self.drifts[0] * time,
            out * y - self.parallax * share * share + self.drifts[1] * time,
        ]
    }
}
