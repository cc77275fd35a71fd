//! How far the image is from its rectangle, and what to turn.

mod beside;
pub mod correct;
pub mod homography;
mod may_remain;
mod measured;
pub mod quadrilateral;
mod refusal;
mod remainder;
pub mod split;
mod sum;
pub mod tape;

use serde::{Deserialize, Serialize};

use crate::entry::{EntryError, length_mm, within};
pub use beside::{Apart, Beside};
use correct::{Correction, corrections};
use homography::Homography;
pub use may_remain::MAY_REMAIN;
use may_remain::{MayRemain, beyond, faults, too_close};
use measured::{Corners, corners};
use quadrilateral::{CORNERS, Quadrilateral, Span};
pub use remainder::Remainder;
use remainder::remainder;
use skimgauge_model::{Image, Verdict};
use skimgauge_quantity::Sentence;
use split::{Found, Parts, uncertainties};
use sum::Sum;
use tape::{FittedReading, TapeCheck, TapeError, TapeReading};

/// How far one corner of the image lies from its mark on the board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CornerOffset {
    /// `top left`, `top right`, `bottom right` or `bottom left`.
    pub corner: String,
    /// To the right of its mark, mm.
    pub right_mm: f64,
    /// Above its mark, mm.
    pub up_mm: f64,
}

/// How much higher the top edge's right end is than its left end, by a level.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TopEdgeRise {
    /// Right end above left end, mm.
    pub rise_mm: f64,
    /// Its standard uncertainty, mm.
    pub u_mm: f64,
}

/// How far the middle of a side is off a string stretched between its corners. No adjuster takes
/// this out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SideBow {
    /// Which side.
    pub side: Span,
    /// Off the string, outward from the image, mm.
    pub outward_mm: f64,
}

/// How the corners were measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Measured {
    /// Lengths between corners: shape and size, and with a level the rotation; never the place.
    Tape {
        /// The lengths; six to be checked, more if some are repeated.
        readings: Vec<TapeReading>,
        /// Standard uncertainty of one length, mm.
        u_mm: f64,
        /// The top edge against a level, if taken.
        #[serde(default)]
        rise: Option<TopEdgeRise>,
    },
    /// All four corners against their marks: everything.
    Offsets {
        /// One for each corner.
        corners: Vec<CornerOffset>,
        /// Standard uncertainty of one offset, mm.
        u_mm: f64,
    },
}

/// An image as found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SquareInput {
    /// The image wanted.
    pub image: Image,
    /// Its corners as found.
    pub measured: Measured,
    /// The same measured the other way: it does not count, and has to agree.
    #[serde(default)]
    pub beside: Option<Measured>,
    /// How far a corner may be off, by one fault or by all together, as a share of the image's
    /// width.
    #[serde(default = "may_remain")]
    pub may_remain: f64,
    /// Sides against a stretched string, if taken.
    #[serde(default)]
    pub bows: Vec<SideBow>,
}

fn may_remain() -> f64 {
    MAY_REMAIN
}

/// Why an image cannot be judged.
#[derive(Debug, Clone, PartialEq)]
pub enum SquareError {
    /// A number that cannot be right.
    Entry(EntryError),
    /// Lengths that give no corners.
    Tape(TapeError),
    /// A corner missing, given twice, or of no known name.
    Corners {
        /// What is wrong.
        problem: String,
    },
    /// Offsets that turn the image inside out.
    Folded,
    /// A bow on something that is not a side.
    NotASide(&'static str),
}

/// One corner as found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CornerFound {
    /// Which.
    pub corner: &'static str,
    /// Right of where it should be, mm. What was not measured is not in it: with a tape alone, the
    /// rectangle is laid over the image as well as it goes.
    pub right_mm: f64,
    /// Above where it should be, mm; as `right_mm`.
    pub up_mm: f64,
    /// Both together, mm.
    pub off_mm: Found,
    /// That against what may remain.
    pub verdict: Verdict,
    /// Angle inside the corner, degrees.
    pub angle_deg: f64,
}

/// What an installer can turn, in values; absent where it was not measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Turnable {
    /// Anticlockwise as the viewer sees it, degrees.
    pub rotation_deg: Option<Found>,
    /// Top side less bottom side, mm.
    pub vertical_trapezoid_mm: Found,
    /// Right side less left side, mm.
    pub horizontal_trapezoid_mm: Found,
    /// Width found less width wanted, by size alone, mm.
    pub size_mm: Found,
    /// To the right, mm.
    pub shift_right_mm: Option<Found>,
    /// Upward, mm.
    pub shift_up_mm: Option<Found>,
}

/// An image judged.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SquareReport {
    /// `within` the image is square as far as it was measured, `outside` something is to be turned
    /// or stays that is more than may remain, `unsure` measures contradict one another, nothing
    /// checks the tape, or they are too coarse to tell.
    pub verdict: Verdict,
    /// The image wanted.
    pub image: Image,
    /// The four corners.
    pub corners: Vec<CornerFound>,
    /// What was measured, and what was not; absent where everything was.
    pub not_measured: Option<Sentence>,
    /// The six lengths of the fitted corners, order of [`Span::ALL`], mm.
    pub spans_mm: [f64; 6],
    /// Falling diagonal less rising diagonal, mm.
    pub diagonal_difference_mm: f64,
    /// From the wanted rectangle (top left at the origin, x right, y down, mm) to the corners in
    /// the same axes.
    pub homography: Homography,
    /// What can be turned.
    pub turnable: Turnable,
    /// What cannot.
    pub remainder: Remainder,
    /// What no adjuster takes out and is more than may remain: the image is not square. Absent where
    /// the measures contradict one another.
    pub beyond: Option<Sentence>,
    /// What may be more than may remain, where the measure cannot tell: the image is not square by
    /// it. Absent where the measures contradict one another.
    pub too_close: Option<Sentence>,
    /// What to turn, in order; nothing where the measures contradict one another.
    pub corrections: Vec<Correction>,
    /// Lengths read beside lengths fitted; empty for corner offsets.
    pub readings: Vec<FittedReading>,
    /// Whether the tape bears itself out; absent for corner offsets.
    pub tape: Option<TapeCheck>,
    /// Whether corners and tape can both be right; absent where there is only one of them.
    pub beside: Option<Beside>,
    /// To be shown with every output.
    pub cautions: Vec<&'static str>,
}

impl SquareReport {
    /// Whether the measures contradict one another: then nothing is to be turned by them.
    pub fn contradicts(&self) -> bool {
        self.tape.as_ref().is_some_and(TapeCheck::contradicts)
            || self.beside.as_ref().is_some_and(|beside| !beside.agrees)
    }

    fn judged(&self) -> Verdict {
        let borne_out = self.tape.as_ref().is_none_or(|tape| tape.agrees == Some(true));
        match (self.contradicts(), self.is_off()) {
            (true, _) => Verdict::Unsure,
            (false, true) => Verdict::Outside,
            (false, false) if borne_out && self.too_close.is_none() => Verdict::Within,
            (false, false) => Verdict::Unsure,
        }
    }

    /// Whether something is to be turned, or stays that is more than may remain.
    pub fn is_off(&self) -> bool {
        self.beyond.is_some() || self.corrections.iter().any(|step| step.to_turn)
    }
}

/// Printed with every answer about square.
pub const CAUTIONS: [&str; 3] = [
    "Corrections are first steps: turning one thing moves the others. Make one, measure again, go on.",
    "The unit maker's instructions come first. Do not reach over from a ladder: move it. Never look into the lens or the emitter.",
    "Four corners say nothing about what the board does between them: that is the survey's work.",
];

/// Splits an image as found into what can be turned and what remains, and says what to turn first.
///
/// # Errors
/// [`SquareError`] for numbers that cannot be right, impossible quadrilaterals and missing corners.
/// Lengths that disagree are no error; see [`TapeCheck`].
pub fn square(input: &SquareInput) -> Result<SquareReport, SquareError> {
    let image = checked(input)?;
    let found = corners(image, &input.measured)?;
    let beside = beside::compared(input, &found)?;
    let parts = Parts::of(&found.quad, image);
    let u = uncertainties(&found.quad, image, &found.covariance_mm2);
    let of = |value: f64, index: usize| Found { value, u: u[index] };
    let turnable = turnable(&found, parts, image, u);
    let known = found.known(parts);
    let quad = known.corners(image);
    let wanted = Quadrilateral::rectangle(image.width.0, image.height.0);
    let angles_deg = quad.angles_deg();
    let spans_mm = quad.spans_mm();
    let may_remain = MayRemain::of(input.may_remain, image);
    let fixed = [of(parts.stretch_mm, 6), of(parts.skew_mm, 7)];
    let remainder = remainder(known, image, fixed, &input.bows, may_remain);
    let faults = faults(image, &turnable);
    let sum = Sum { found: &found, image, may_remain };
    let turned = sum.to_turn(&faults);
    let (off, stays) = (sum.off(&[]), sum.off(&turned));
    let corners_found = (0..4).map(|i| {
        let (right_mm, up_mm) = wanted.0[i].offset_to(quad.0[i]);
        let (off_mm, verdict) = (off[i], may_remain.verdict(off[i]));
        CornerFound {
            corner: CORNERS[i],
            right_mm,
            up_mm,
            off_mm,
            verdict,
            angle_deg: angles_deg[i],
        }
    });
    let mut report = SquareReport {
        verdict: Verdict::Unsure,
        image,
        corners: corners_found.collect(),
        not_measured: found.not_measured(),
        spans_mm,
        diagonal_difference_mm: spans_mm[Span::FallingDiagonal.index()]
            - spans_mm[Span::RisingDiagonal.index()],
        homography: rectangle_to(image, &quad).ok_or(SquareError::Folded)?,
        beyond: beyond(&remainder, &stays, may_remain),
        too_close: too_close(&faults, &turned, &remainder, &stays, may_remain),
        corrections: corrections(known, image, &faults, &turned, may_remain),
        remainder,
        turnable,
        readings: found.readings,
        tape: found.tape,
        beside,
        cautions: CAUTIONS.to_vec(),
    };
    // What does not fit together says nothing of where the corners are.
    if report.contradicts() {
        (report.beyond, report.too_close) = (None, None);
        report.corrections.clear();
    }
    report.verdict = report.judged();
    Ok(report)
}

/// The image, where every number can be right.
fn checked(input: &SquareInput) -> Result<Image, SquareError> {
    let image = input.image.checked().map_err(EntryError::from)?;
    for bow in &input.bows {
        if matches!(bow.side, Span::FallingDiagonal | Span::RisingDiagonal) {
            return Err(SquareError::NotASide(bow.side.name()));
        }
        length_mm(format!("bow of the {}", bow.side.name()), bow.outward_mm, -200.0, 200.0)?;
    }
    within("what a corner may be off by", input.may_remain, 1e-4, 0.05, "of the width")?;
    Ok(image)
}

fn turnable(found: &Corners, parts: Parts, image: Image, u: [f64; 8]) -> Turnable {
    let rotation = found.is_turn_known().then(|| Found {
        value: parts.rotation_rad.to_degrees(),
        u: u[0].hypot(found.rotation_u_rad.unwrap_or(0.0)).to_degrees(),
    });
    let of = |value: f64, index: usize| Found { value, u: u[index] };
    Turnable {
        rotation_deg: rotation,
        vertical_trapezoid_mm: of(parts.vertical_trapezoid_mm, 2),
        horizontal_trapezoid_mm: of(parts.horizontal_trapezoid_mm, 3),
        size_mm: Found { value: parts.size * image.width.0, u: u[1] * image.width.0 },
        shift_right_mm: found.placed.then(|| of(parts.shift_right_mm, 4)),
        shift_up_mm: found.placed.then(|| of(parts.shift_up_mm, 5)),
    }
}

fn rectangle_to(image: Image, quad: &Quadrilateral) -> Option<Homography> {
    let down = quad.0.map(|c| (c.x_mm + image.width.0 / 2.0, image.height.0 / 2.0 - c.y_mm));
    Homography::of_rectangle(image.width.0, image.height.0, down)
}
