//! The browser's window, and where its pixels are on the board.

use serde::{Deserialize, Serialize};
use skimgauge_model::{Image, Point};
use skimgauge_quantity::{Sentence, say};

/// What the browser says of its window. Lengths in CSS pixels.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Window {
    /// From when on, ms since the proof began.
    pub from_ms: f64,
    /// Width of what is seen.
    pub width: f64,
    /// Its height.
    pub height: f64,
    /// Width of the screen.
    pub screen_width: f64,
    /// Its height.
    pub screen_height: f64,
    /// How far it is pinched larger; 1 if not.
    pub scale: f64,
    /// How far what is seen is shifted, across.
    pub left: f64,
    /// And down.
    pub top: f64,
    /// The page tells every report: its address is one that the browser trusts.
    pub secure: bool,
}

impl Window {
    /// What keeps pixels from being places on the board; `None` where nothing does.
    pub fn doubt(&self, image: Image) -> Option<Sentence> {
        if (self.scale - 1.0).abs() > 0.001 || self.left.abs() > 0.5 || self.top.abs() > 0.5 {
            return Some(say!("the page is pinched larger: set it back to its own size"));
        }
        let (across, down) = (self.screen_width - self.width, self.screen_height - self.height);
        if across.abs() > 1.0 || down.abs() > 1.0 {
            return Some(say!(
                "the page is not full screen: press F, or F11, and take page zoom back to 100 %"
            ));
        }
        let off = (self.screen_width / self.screen_height) / image.ratio() - 1.0;
        if off.abs() > 0.005 {
            return Some(say!(
                "the screen has another aspect than the job's image: the image is letterboxed, or the job has another size"
            ));
        }
        None
    }

    /// Where a pixel is on the board: by fractions, so that zoom and the system's scale cancel.
    pub fn place(&self, image: Image, x: f64, y: f64) -> Point {
        Point { x: image.width * (x / self.width - 0.5), y: -(image.height * (y / self.height)) }
    }

    /// Whether its numbers are those of a window.
    pub fn can_be(&self) -> bool {
        let size = [self.width, self.height, self.screen_width, self.screen_height];
        let rest = [self.from_ms, self.scale, self.left, self.top];
        size.into_iter().all(|px| (50.0..=100_000.0).contains(&px))
            && rest.into_iter().all(f64::is_finite)
            && (0.01..=100.0).contains(&self.scale)
    }

    /// A full screen of this size in a browser that tells every report.
    pub fn full(width: f64, height: f64) -> Self {
        Self {
            from_ms: 0.0,
            width,
            height,
            screen_width: width,
            screen_height: height,
            scale: 1.0,
            left: 0.0,
            top: 0.0,
            secure: true,
        }
    }
}
