//! What is allowed, and how surely a hand aims. Each has a default, with its source.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::Mm;

/// What touches the display.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Tool {
    /// A finger.
    #[default]
    Finger,
    /// A 10 mm rod with a flat end, held square to the board.
    Rod,
}

impl Tool {
    /// The word for people.
    pub fn word(self) -> &'static str {
        match self {
            Self::Finger => "finger",
            Self::Rod => "rod",
        }
    }
}

/// What one tool may miss by, and how surely it is aimed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OfTool {
    /// How far touch may stand from what is touched, anywhere on the image.
    #[serde(rename = "limit_mm")]
    pub limit: Mm,
    /// Standard uncertainty of one person's bias of aim, across and down alike: it cannot be told
    /// from an offset of the display.
    #[serde(rename = "aim_mm")]
    pub aim: Mm,
}

/// What is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// By finger. Default 10 mm, by agreement; aim 2 mm: people touch low and to one side by
    /// some millimetres (Leahy and Hix 1990; Holz and Baudisch 2011: 1.6 to 4 mm), the figure is
    /// assumed.
    pub finger: OfTool,
    /// By rod. Default 3 mm, by agreement; aim 0.4 mm, assumed.
    pub rod: OfTool,
    /// How far inside the edges the outer marks stand, share of the image's width and height.
    pub inset: f64,
    /// How far a contact that is held still may scatter (one standard deviation). Default 1 mm:
    /// digitizer tests of an operating system's maker.
    #[serde(rename = "jitter_mm")]
    pub jitter: Mm,
    /// Contacts nobody made, a minute. Default 3: those tests allow none in 60 s hands off, and
    /// none in 60 s says fewer than 3.0 a minute.
    pub ghosts_per_min: f64,
    /// Share of taps that are not seen. Default 0.1: common practice, no source.
    pub misses: f64,
    /// Breaks and jumps in drawn lines, a metre. Default 0.25: common practice, no source.
    pub breaks_per_m: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            finger: OfTool { limit: Mm(10.0), aim: Mm(2.0) },
            rod: OfTool { limit: Mm(3.0), aim: Mm(0.4) },
            inset: 0.05,
            jitter: Mm(1.0),
            ghosts_per_min: 3.0,
            misses: 0.1,
            breaks_per_m: 0.25,
        }
    }
}

impl Limits {
    /// Those of one tool.
    pub fn of(&self, tool: Tool) -> OfTool {
        match tool {
            Tool::Finger => self.finger,
            Tool::Rod => self.rod,
        }
    }

    /// Whether a display can be judged by them: finite, above zero, an inset inside the image.
    pub fn can_be(&self) -> bool {
        let lengths = [
            (self.finger.limit, 1000.0),
            (self.rod.limit, 1000.0),
            (self.finger.aim, 100.0),
            (self.rod.aim, 100.0),
            (self.jitter, 100.0),
        ];
        let length_fits = |(length, most): (Mm, f64)| length.0 >= 0.01 && length.0 <= most;
        lengths.into_iter().all(length_fits)
            && (0.01..=0.2).contains(&self.inset)
            && (0.01..=1000.0).contains(&self.ghosts_per_min)
            && (0.001..=0.9).contains(&self.misses)
            && (0.001..=100.0).contains(&self.breaks_per_m)
    }
}
