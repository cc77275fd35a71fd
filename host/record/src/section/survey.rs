//! The board's own shape.

use serde::{Deserialize, Serialize};
use skimgauge_model::Verdict;
use skimgauge_quantity::{Mm, MmPerM};

use super::Said;
use crate::chain::Hash;

/// What a survey found. Heights are positive toward the viewer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Survey {
    /// Places surveyed.
    pub points: u32,
    /// Minimum-zone flatness (ISO 12781-1), square to the zone.
    #[serde(rename = "flatness_mm")]
    pub flatness: Mm,
    /// Whether four touching places prove that no zone near it is thinner.
    pub flatness_is_proved: bool,
    /// Highest less lowest from the least-squares plane.
    #[serde(rename = "least_squares_flatness_mm")]
    pub least_squares_flatness: Mm,
    /// The least-squares plane.
    pub plane: Plane,
    /// The larger of both bows.
    #[serde(rename = "bow_mm")]
    pub bow: Option<Mm>,
    /// Middle of the image out of the middles of its left and right edges.
    #[serde(rename = "bow_across_mm")]
    pub bow_across: Option<Mm>,
    /// Middle of the image out of the middles of its top and bottom edges.
    #[serde(rename = "bow_down_mm")]
    pub bow_down: Option<Mm>,
    /// Top right corner out of the plane, by twist.
    #[serde(rename = "twist_mm")]
    pub twist: Option<Mm>,
    /// Places farthest from the least-squares plane, their height from it.
    pub worst: Vec<Height>,
    /// Places that bow and twist do not explain, their height out of the bowed and twisted board.
    pub bumps: Vec<Height>,
    /// Against the gap's band.
    pub band: Best,
    /// Where to look next.
    pub next: Vec<Proposed>,
    /// What is left open.
    pub remarks: Vec<Said>,
    /// The board as a map, as SVG; its heights are in millimetres.
    pub map: String,
    /// The same with its heights in inches.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub map_in_inches: Option<String>,
    /// Whether its heights were read of a simulated head.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub simulated: bool,
    /// Of its heights as a table, SHA-256: a table on disk that is another is told from it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub table_sha256: Option<Hash>,
}

/// A plane over the image's frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plane {
    /// Height at the middle of the image's top edge.
    #[serde(rename = "c_mm")]
    pub c: Mm,
    /// Rise to the right.
    #[serde(rename = "p_mm_per_m")]
    pub p: MmPerM,
    /// Rise upward.
    #[serde(rename = "q_mm_per_m")]
    pub q: MmPerM,
}

/// A place on the board and a height there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Height {
    /// Right of the image's middle.
    #[serde(rename = "x_mm")]
    pub x: Mm,
    /// Above the image's top edge.
    #[serde(rename = "y_mm")]
    pub y: Mm,
    /// The height.
    #[serde(rename = "z_mm")]
    pub z: Mm,
}

/// Whether a flat touch plane can keep the band over this board.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Best {
    /// Low end of the band.
    #[serde(rename = "low_mm")]
    pub low: Mm,
    /// High end of the band.
    #[serde(rename = "high_mm")]
    pub high: Mm,
    /// The least that any setting can leave between smallest and largest gap.
    #[serde(rename = "needed_mm")]
    pub needed: Mm,
    /// Band left over on each side with the best setting; below zero, no setting passes.
    #[serde(rename = "margin_mm")]
    pub margin: Mm,
    /// Whether some setting can pass; in records that did not keep `verdict`, before any
    /// uncertainty.
    pub can_be_met: bool,
    /// The same with what is not known, of heights and of parts that nobody looked at; absent in
    /// records that did not keep it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub verdict: Option<Verdict>,
}

/// A place to survey next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Proposed {
    /// Its turn, from 1.
    pub order: u32,
    /// Right of the image's middle.
    #[serde(rename = "x_mm")]
    pub x: Mm,
    /// Above the image's top edge.
    #[serde(rename = "y_mm")]
    pub y: Mm,
    /// What it is for, in millimetres.
    pub why: String,
}
