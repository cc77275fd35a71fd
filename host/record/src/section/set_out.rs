//! Where things go on the wall, measured from two struck lines.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::Mm;

use super::Said;

/// Places, clearances and reach. The checks on the way there are for the wall, and come out again
/// from the job file, which the record has too.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SetOut {
    /// Width of the image.
    #[serde(rename = "width_mm")]
    pub width: Mm,
    /// Its height.
    #[serde(rename = "height_mm")]
    pub height: Mm,
    /// Its top edge above the finished floor.
    #[serde(rename = "top_above_floor_mm")]
    pub top_above_floor: Mm,
    /// The emitter's light above the finished floor.
    #[serde(rename = "emitter_light_above_floor_mm")]
    pub emitter_light_above_floor: Option<Mm>,
    /// The lower edge of the emitter's body above the finished floor.
    #[serde(rename = "emitter_lower_edge_above_floor_mm")]
    pub emitter_lower_edge_above_floor: Option<Mm>,
    /// The plumb line from the wall's left end.
    #[serde(rename = "plumb_line_from_wall_left_mm")]
    pub plumb_line_from_wall_left: Mm,
    /// The level line above the finished floor.
    #[serde(rename = "level_line_above_floor_mm")]
    pub level_line_above_floor: Mm,
    /// The wall, drawn to scale, as SVG; its lengths are in millimetres.
    pub drawing: String,
    /// The same with its lengths in inches.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drawing_in_inches: Option<String>,
    /// What is marked, in the order of marking.
    pub marks: Vec<Mark>,
    /// Free distances.
    pub clearances: Vec<Clearance>,
    /// Who reaches how much of the image.
    pub reach: Vec<Reach>,
    /// What has to be changed before anything is drilled.
    pub to_change_first: Vec<Said>,
    /// What was taken for want of a word in the job.
    pub assumed: Vec<Said>,
    /// What the mount's maker is to be asked before anything is drilled: its sheet does not list
    /// this size; absent where it does, and in records that did not keep it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_listed: Option<Said>,
    /// What to know.
    pub remarks: Vec<Said>,
    /// To be shown with all of it.
    pub cautions: Vec<Said>,
}

/// A mark on the wall.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// What it marks.
    pub name: String,
    /// Right of the plumb line; below zero is left.
    #[serde(rename = "from_plumb_mm")]
    pub from_plumb: Mm,
    /// Above the level line; below zero is below.
    #[serde(rename = "from_level_mm")]
    pub from_level: Mm,
    /// Above the finished floor.
    #[serde(rename = "above_floor_mm")]
    pub above_floor: Mm,
    /// Diameter to drill; absent for a mark that is not drilled.
    #[serde(rename = "drill_mm")]
    pub drill: Option<Mm>,
}

/// A free distance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Clearance {
    /// Between what, as `the image and the left end of the wall`.
    pub between: String,
    /// How much is free.
    #[serde(rename = "free_mm")]
    pub free: Mm,
    /// Least wanted.
    #[serde(rename = "least_mm")]
    pub least: Option<Mm>,
    /// Most wanted.
    #[serde(rename = "most_mm")]
    pub most: Option<Mm>,
    /// Compared.
    pub fit: Fit,
}

/// How a free distance compares with what is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fit {
    /// As wanted.
    Enough,
    /// Nearer than wanted.
    Short,
    /// Farther than wanted.
    Far,
    /// The two overlap.
    Overlaps,
    /// Nothing is wanted of it.
    Stated,
}

impl Fit {
    /// The word for people.
    pub fn shown(self) -> &'static str {
        match self {
            Self::Enough => "enough",
            Self::Short => "too near",
            Self::Far => "too far",
            Self::Overlaps => "they overlap",
            Self::Stated => "nothing asked of it",
        }
    }
}

/// How far somebody reaches.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reach {
    /// Who.
    pub who: String,
    /// Lowest above the floor.
    #[serde(rename = "low_mm")]
    pub low: Mm,
    /// Highest above the floor.
    #[serde(rename = "high_mm")]
    pub high: Mm,
    /// Share of the image's height within reach, percent.
    pub of_image_percent: f64,
    /// Where the figures come from.
    pub after: String,
}
