//! How far the image is from its rectangle.

use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Deg, Mm};

use super::Said;

/// The image judged. The rest comes out again from the job file, which the record has too.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Square {
    /// The four corners.
    pub corners: Vec<CornerFound>,
    /// What can be turned.
    pub turnable: Turnable,
    /// Width beyond what height and aspect ask for.
    #[serde(rename = "stretch_mm")]
    pub stretch: Found<Mm>,
    /// How far the top stands right of where a right angle would put it.
    #[serde(rename = "skew_mm")]
    pub skew: Found<Mm>,
    /// What no adjuster takes out.
    pub remains: Vec<Said>,
    /// Sides against a stretched string.
    pub bows: Vec<SideBow>,
    /// The six lengths of the fitted corners.
    pub lengths: Vec<FittedLength>,
    /// What to turn, in order.
    pub turn_in_this_order: Vec<Said>,
    /// Whether the tape bears itself out; absent for corner offsets.
    pub tape: Option<Vec<Said>>,
    /// The same in a word; absent for corner offsets, and in records that did not keep it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lengths_are: Option<TapeChecked>,
    /// Whether corners and tape can both be right; absent where there was only one of them, and in
    /// records that did not keep it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corners_and_tape: Option<BothWays>,
    /// What no adjuster takes out and is more than may remain; absent where nothing is, and in
    /// records that did not keep it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beyond: Option<Said>,
    /// What the measure is too coarse to call; absent where it is not, and in records that did not
    /// keep it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub too_close: Option<Said>,
    /// What was measured and what was not; absent where everything was, and in records that did not
    /// keep it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_measured: Option<Said>,
    /// To be shown with all of it.
    pub cautions: Vec<Said>,
}

/// Whether taped lengths fit together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TapeChecked {
    /// A spare length bears the others out.
    BorneOut,
    /// They contradict one another: nothing follows from them.
    Contradicting,
    /// No spare length checks them.
    Unchecked,
}

/// The corners against their marks beside lengths by tape.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BothWays {
    /// Whether both can be right.
    pub agree: bool,
    /// In a sentence.
    pub says: Said,
}

/// A value with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Found<T> {
    /// The value.
    pub value: T,
    /// Its standard uncertainty.
    pub u: T,
}

/// A corner as found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CornerFound {
    /// Which.
    pub corner: String,
    /// Right of where it should be.
    #[serde(rename = "right_mm")]
    pub right: Mm,
    /// Above where it should be.
    #[serde(rename = "up_mm")]
    pub up: Mm,
    /// Angle inside the corner.
    #[serde(rename = "angle_deg")]
    pub angle: Deg,
}

/// What an installer can turn; absent where it was not measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Turnable {
    /// Anticlockwise as the viewer sees it.
    #[serde(rename = "rotation_deg")]
    pub rotation: Option<Found<Deg>>,
    /// Top side less bottom side.
    #[serde(rename = "vertical_trapezoid_mm")]
    pub vertical_trapezoid: Found<Mm>,
    /// Right side less left side.
    #[serde(rename = "horizontal_trapezoid_mm")]
    pub horizontal_trapezoid: Found<Mm>,
    /// Width found less width wanted, by size alone.
    #[serde(rename = "size_mm")]
    pub size: Found<Mm>,
    /// To the right.
    #[serde(rename = "shift_right_mm")]
    pub shift_right: Option<Found<Mm>>,
    /// Upward.
    #[serde(rename = "shift_up_mm")]
    pub shift_up: Option<Found<Mm>>,
}

/// How far the middle of a side is off a string stretched between its corners.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SideBow {
    /// Which side: `top`, `right`, `bottom`, `left`.
    pub side: String,
    /// Off the string, outward from the image.
    #[serde(rename = "outward_mm")]
    pub outward: Mm,
}

/// One of the six lengths between four corners.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FittedLength {
    /// Which: `top side`, `diagonal from top left to bottom right`.
    pub length: String,
    /// As the fitted corners have it.
    #[serde(rename = "fitted_mm")]
    pub fitted: Mm,
}
