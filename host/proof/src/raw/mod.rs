//! The record of a proof: what was asked, and everything that the browser told, with its times. A
//! proof is judged from this alone, and can be judged again.

mod contact;
#[cfg(test)]
mod tests;
mod window;
mod wrong;

use crate::limits::{Limits, Tool};
use crate::plan::Ask;
use serde::{Deserialize, Serialize};
use skimgauge_model::{Image, Point, Verdict};
use skimgauge_quantity::Mm;

pub use contact::{Contact, Kind, Report};
pub use window::Window;

/// Form of this record.
pub const FORM: u32 = 1;

/// A proof as it was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Proof {
    /// [`FORM`].
    pub form: u32,
    /// The image that was touched.
    pub image: Image,
    /// With what.
    pub tool: Tool,
    /// What was allowed.
    pub limits: Limits,
    /// How the gap stood when the proof began.
    pub gap: Gap,
    /// Marks out of reach.
    #[serde(default)]
    pub left_out: Vec<u8>,
    /// The browser's window, each from its time on.
    pub windows: Vec<Window>,
    /// What was asked, in its order, with what came meanwhile.
    pub asked: Vec<Asked>,
    /// The head's gaps at the stations where leaves were laid.
    #[serde(default)]
    pub gaps: Vec<HeadGap>,
    /// What came in pauses.
    #[serde(default)]
    pub paused: Vec<Contact>,
    /// Whether a simulated finger made it, as practice.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub simulated: bool,
}

/// How the gap stood.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Gap {
    /// Judged within, and nothing was turned since.
    Within,
    /// Judged, and not within.
    NotWithin,
    /// Judged before the last turn.
    OlderThanTurn,
    /// Judged by what a simulated head read.
    Simulated,
    /// Never judged, or nobody knows.
    NotJudged,
}

impl Gap {
    /// From the last verdict, and whether an adjuster was turned after it.
    pub fn of(verdict: Option<Verdict>, turned_since: bool) -> Self {
        match verdict {
            None => Self::NotJudged,
            Some(_) if turned_since => Self::OlderThanTurn,
            Some(Verdict::Within) => Self::Within,
            Some(_) => Self::NotWithin,
        }
    }
}

/// A gap by the head, where a leaf was laid.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HeadGap {
    /// The station.
    pub station: String,
    /// The gap there.
    #[serde(rename = "gap_mm")]
    pub gap: Mm,
    /// Its standard uncertainty, without what all gaps share.
    #[serde(rename = "u_mm")]
    pub u: Mm,
}

/// How something asked ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Came {
    /// As asked.
    Done,
    /// It was done, and the display did not react.
    NoReaction,
    /// It was taken back; it counts for nothing.
    Undone,
}

/// Something asked, with what came meanwhile.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// What.
    pub ask: Ask,
    /// From when, ms since the proof began.
    pub from_ms: f64,
    /// Until when.
    pub to_ms: f64,
    /// How it ended.
    pub came: Came,
    /// Every contact that began meanwhile.
    pub contacts: Vec<Contact>,
}

impl Proof {
    /// The window at a time.
    pub fn window_at(&self, at_ms: f64) -> Window {
        let before = self.windows.iter().rev().find(|window| window.from_ms <= at_ms);
        *before.or(self.windows.first()).unwrap_or(&Window::full(1920.0, 1200.0))
    }

    /// Where a report is on the board.
    pub fn place(&self, report: Report) -> Point {
        self.window_at(report.at_ms).place(self.image, report.x, report.y)
    }

    /// What was asked and not taken back.
    pub fn standing(&self) -> impl Iterator<Item = &Asked> {
        self.asked.iter().filter(|asked| asked.came != Came::Undone)
    }
}
