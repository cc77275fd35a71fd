//! The corners by what was measured: by tape, or against their marks.

use nalgebra::SMatrix;
use skimgauge_model::Image;
use skimgauge_quantity::Sentence;

use super::quadrilateral::{CORNERS, Corner, Quadrilateral, Span};
use super::split::Parts;
use super::tape::{self, FittedReading, TapeCheck, TapeReading};
use super::{CornerOffset, Measured, SquareError, TopEdgeRise};
use crate::entry::{length_mm, within};

/// The corners as they were measured, in the wanted rectangle's frame as far as they are placed in it.
pub(super) struct Corners {
    pub quad: Quadrilateral,
    pub covariance_mm2: SMatrix<f64, 8, 8>,
    /// Standard uncertainty of the level by which they are turned, if one was held to them.
    pub rotation_u_rad: Option<f64>,
    /// Whether it was measured where they are, and so how they are turned.
    pub placed: bool,
    pub readings: Vec<FittedReading>,
    pub tape: Option<TapeCheck>,
}

impl Corners {
    /// Whether it was measured how the image is turned.
    pub(super) fn is_turn_known(&self) -> bool {
        self.placed || self.rotation_u_rad.is_some()
    }

    /// What was measured of the parts: what was not is laid over the rectangle, so that it moves no
    /// corner.
    pub(super) fn known(&self, parts: Parts) -> Parts {
        Parts {
            rotation_rad: if self.is_turn_known() { parts.rotation_rad } else { 0.0 },
            shift_right_mm: if self.placed { parts.shift_right_mm } else { 0.0 },
            shift_up_mm: if self.placed { parts.shift_up_mm } else { 0.0 },
            ..parts
        }
    }

    /// What no measure told, in words; `None` where everything was measured.
    pub(super) fn not_measured(&self) -> Option<Sentence> {
        match (self.placed, self.is_turn_known()) {
            (true, _) => None,
            (false, true) => Some(
                "shape and size by tape, and turn by level; NOT measured is where the image lies on the board: no tape shows a shift of the whole image. Measure its corners against their marks to know it".into(),
            ),
            (false, false) => Some(
                "shape and size by tape; NOT measured is where the image lies on the board and how it is turned there: no tape shows a shift or a turn of the whole image. Measure its corners against their marks to know it".into(),
            ),
        }
    }
}

/// The corners that the measures give.
pub(super) fn corners(image: Image, measured: &Measured) -> Result<Corners, SquareError> {
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
