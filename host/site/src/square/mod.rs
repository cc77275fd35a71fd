//! How far the image is from its rectangle, and what to turn.

mod beside;
pub mod correct;
pub mod homography;
mod may_remain;
pub mod quadrilateral;
mod refusal;
mod remainder;
pub mod split;
pub mod tape;

use nalgebra::SMatrix;
use serde::{Deserialize, Serialize};

use crate::entry::{EntryError, length_mm, within};
pub use beside::{Apart, Beside};
use correct::{Correction, corrections};
use homography::Homography;
pub use may_remain::MAY_REMAIN;
use may_remain::{MayRemain, beyond, faults, too_close};
use quadrilateral::{CORNERS, Corner, Quadrilateral, Span};
pub use remainder::Remainder;
use remainder::remainder;
use skimgauge_model::Image;
use skimgauge_quantity::Sentence;
use split::{Found, Parts, uncertainties};
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
    /// What one fault may leave a corner off by, as a share of the image's width.
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
    /// Right of where it should be, mm. With a tape alone, the image is laid over its rectangle as
    /// well as it goes.
    pub right_mm: f64,
    /// Above where it should be, mm.
    pub up_mm: f64,
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
    /// The image wanted.
    pub image: Image,
    /// The four corners.
    pub corners: Vec<CornerFound>,
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

struct Corners {
    quad: Quadrilateral,
    covariance_mm2: SMatrix<f64, 8, 8>,
    rotation_u_rad: Option<f64>,
    placed: bool,
    readings: Vec<FittedReading>,
    tape: Option<TapeCheck>,
}

/// Splits an image as found into what can be turned and what remains, and says what to turn first.
///
/// # Errors
/// [`SquareError`] for numbers that cannot be right, impossible quadrilaterals and missing corners.
/// Lengths that disagree are no error; see [`TapeCheck`].
pub fn square(input: &SquareInput) -> Result<SquareReport, SquareError> {
    let image = input.image.checked().map_err(EntryError::from)?;
    for bow in &input.bows {
        if matches!(bow.side, Span::FallingDiagonal | Span::RisingDiagonal) {
            return Err(SquareError::NotASide(bow.side.name()));
        }
        length_mm(format!("bow of the {}", bow.side.name()), bow.outward_mm, -200.0, 200.0)?;
    }
    within("what a fault may leave a corner off by", input.may_remain, 1e-4, 0.05, "of the width")?;
    let found = corners(image, &input.measured)?;
    let beside = beside::compared(input, &found)?;
    let parts = Parts::of(&found.quad, image);
    let u = uncertainties(&found.quad, image, &found.covariance_mm2);
    let rotation = (found.placed || found.rotation_u_rad.is_some()).then(|| Found {
        value: parts.rotation_rad.to_degrees(),
        u: u[0].hypot(found.rotation_u_rad.unwrap_or(0.0)).to_degrees(),
    });
    let of = |value: f64, index: usize| Found { value, u: u[index] };
    let turnable = Turnable {
        rotation_deg: rotation,
        vertical_trapezoid_mm: of(parts.vertical_trapezoid_mm, 2),
        horizontal_trapezoid_mm: of(parts.horizontal_trapezoid_mm, 3),
        size_mm: Found { value: parts.size * image.width.0, u: u[1] * image.width.0 },
        shift_right_mm: found.placed.then(|| of(parts.shift_right_mm, 4)),
        shift_up_mm: found.placed.then(|| of(parts.shift_up_mm, 5)),
    };
    // What was not measured is laid over the rectangle, so that it moves no corner.
    let known = Parts {
        rotation_rad: if rotation.is_some() { parts.rotation_rad } else { 0.0 },
        shift_right_mm: if found.placed { parts.shift_right_mm } else { 0.0 },
        shift_up_mm: if found.placed { parts.shift_up_mm } else { 0.0 },
        ..parts
    };
    let quad = known.corners(image);
    let wanted = Quadrilateral::rectangle(image.width.0, image.height.0);
    let angles_deg = quad.angles_deg();
    let corners_found = (0..4)
        .map(|i| {
            let (right_mm, up_mm) = wanted.0[i].offset_to(quad.0[i]);
            CornerFound { corner: CORNERS[i], right_mm, up_mm, angle_deg: angles_deg[i] }
        })
        .collect();
    let spans_mm = quad.spans_mm();
    let may_remain = MayRemain::of(input.may_remain, image);
    let stays = [of(parts.stretch_mm, 6), of(parts.skew_mm, 7)];
    let remainder = remainder(known, image, stays, &input.bows, may_remain);
    let faults = faults(image, &turnable);
    let mut report = SquareReport {
        image,
        corners: corners_found,
        spans_mm,
        diagonal_difference_mm: spans_mm[Span::FallingDiagonal.index()]
            - spans_mm[Span::RisingDiagonal.index()],
        homography: rectangle_to(image, &quad).ok_or(SquareError::Folded)?,
        beyond: beyond(&remainder, may_remain),
        too_close: too_close(&faults, &remainder, may_remain),
        corrections: corrections(known, image, &faults, may_remain),
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
    Ok(report)
}

fn corners(image: Image, measured: &Measured) -> Result<Corners, SquareError> {
    match measured {
        Measured::Tape { readings, u_mm, rise } => from_tape(readings, *u_mm, *rise),
        Measured::Offsets { corners, u_mm } => from_offsets(image, corners, *u_mm),
    }
}

fn from_tape(
    readings: &[TapeReading],
    u_mm: f64,
    rise: Option<TopEdgeRise>,
) -> Result<Corners, SquareError> {
    let fit = tape::fit(readings, u_mm)?;
    let mut corners = Corners {
        quad: fit.corners,
        covariance_mm2: fit.covariance_mm2,
        rotation_u_rad: None,
        placed: false,
        readings: fit.readings,
        tape: Some(fit.check),
    };
    if let Some(rise) = rise {
        let top_mm = corners.quad.span_mm(Span::Top);
        length_mm("rise of the top edge", rise.rise_mm, -top_mm / 2.0, top_mm / 2.0)?;
        within("uncertainty of the top edge's rise", rise.u_mm, 0.001, 100.0, "mm")?;
        let (sin, cos) = (rise.rise_mm / top_mm).asin().sin_cos();
        corners.quad = Quadrilateral(corners.quad.0.map(|c| Corner {
            x_mm: c.x_mm * cos - c.y_mm * sin,
            y_mm: c.x_mm * sin + c.y_mm * cos,
        }));
        let mut turn = SMatrix::<f64, 8, 8>::zeros();
        for i in 0..4 {
            turn.fixed_view_mut::<2, 2>(2 * i, 2 * i)
                .copy_from(&nalgebra::Matrix2::new(cos, -sin, sin, cos));
        }
        corners.covariance_mm2 = turn * corners.covariance_mm2 * turn.transpose();
        corners.rotation_u_rad = Some(rise.u_mm / top_mm);
    }
    Ok(corners)
}

fn from_offsets(image: Image, offsets: &[CornerOffset], u_mm: f64) -> Result<Corners, SquareError> {
    within("uncertainty of the corner offsets", u_mm, 0.01, 100.0, "mm")?;
    let mut quad = Quadrilateral::rectangle(image.width.0, image.height.0);
    let mut seen = [false; 4];
    for offset in offsets {
        let problem =
            |what: &str| SquareError::Corners { problem: format!("`{}` {what}", offset.corner) };
        let index = CORNERS
            .iter()
            .position(|name| *name == offset.corner)
            .ok_or_else(|| problem("is not a corner"))?;
        if std::mem::replace(&mut seen[index], true) {
            return Err(problem("is given twice"));
        }
        let most_mm = image.width.0.max(image.height.0) / 2.0;
        length_mm(
            format!("offset to the right at the {}", offset.corner),
            offset.right_mm,
            -most_mm,
            most_mm,
        )?;
        length_mm(
            format!("offset upward at the {}", offset.corner),
            offset.up_mm,
            -most_mm,
            most_mm,
        )?;
        quad.0[index].x_mm += offset.right_mm;
        quad.0[index].y_mm += offset.up_mm;
    }
    if let Some(missing) = seen.iter().position(|seen| !seen) {
        return Err(SquareError::Corners { problem: format!("`{}` is missing", CORNERS[missing]) });
    }
    if !quad.is_convex() {
        return Err(SquareError::Folded);
    }
    Ok(Corners {
        quad,
        covariance_mm2: SMatrix::<f64, 8, 8>::identity() * (u_mm * u_mm),
        rotation_u_rad: None,
        placed: true,
        readings: Vec::new(),
        tape: None,
    })
}

fn rectangle_to(image: Image, quad: &Quadrilateral) -> Option<Homography> {
    let down = quad.0.map(|c| (c.x_mm + image.width.0 / 2.0, image.height.0 / 2.0 - c.y_mm));
    Homography::of_rectangle(image.width.0, image.height.0, down)
}
