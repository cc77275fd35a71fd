//! Corners from tape lengths: least squares over four sides and two diagonals, one more than
//! needed.

use nalgebra::{DMatrix, DVector, SMatrix};
use serde::{Deserialize, Serialize};
use skimgauge_quantity::{Mm, Sentence, say};

use super::quadrilateral::{Corner, Quadrilateral, Span, cayley_menger_mm6, twist_mm};
use crate::entry::{EntryError, length_mm, within};

/// One length as read from the tape. A span may be read more than once.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TapeReading {
    /// Which length.
    pub span: Span,
    /// What the tape says, mm.
    pub length_mm: f64,
}

/// Why lengths give no corners.
#[derive(Debug, Clone, PartialEq)]
pub enum TapeError {
    /// A number that cannot be right.
    Entry(EntryError),
    /// Fewer than five different lengths.
    TooFew {
        /// How many different ones there are.
        given: usize,
        /// Which are missing.
        missing: Vec<String>,
    },
    /// Three lengths that make no triangle.
    NoTriangle {
        /// The span that is too long.
        longest: &'static str,
        /// Its length, mm.
        longest_mm: f64,
        /// The two that are too short.
        others: [&'static str; 2],
        /// Their sum, mm.
        together_mm: f64,
    },
    /// Lengths that fit no image.
    NoQuadrilateral,
}

/// One reading beside what the fit makes of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FittedReading {
    /// Which length.
    pub span: Span,
    /// What the tape said, mm.
    pub read_mm: f64,
    /// What the fitted corners say, mm.
    pub fitted_mm: f64,
}

/// A length that would put the others right if it alone were wrong.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Suspect {
    /// Which length.
    pub span: Span,
    /// What was read (mean of repeats), mm.
    pub read_mm: f64,
    /// What the other five make it, mm.
    pub others_say_mm: f64,
    /// How far from a rectangle the image would then be, mm: the smaller, the likelier this is the
    /// wrong one.
    pub then_off_rectangle_mm: f64,
}

/// Whether the spare lengths bear the others out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TapeCheck {
    /// Lengths beyond the five that are needed.
    pub spare: usize,
    /// Sum of squared residuals over the tape's variance.
    pub chi_square: f64,
    /// What it stays under 95 times in 100 if the tape is as good as stated; absent without a
    /// spare length.
    pub limit: Option<f64>,
    /// Whether the lengths agree within the tape's uncertainty; absent without a spare length.
    pub agrees: Option<bool>,
    /// Cayley-Menger determinant of the six lengths, mm6; absent unless all six are given.
    pub cayley_menger_mm6: Option<f64>,
    /// How far one corner pair stands out if the tape is right and the board twisted, mm (distance
    /// between the diagonals); absent if the lengths fit no four points, or unless all six are
    /// given.
    pub twist_if_tape_is_right_mm: Option<f64>,
    /// If they do not agree: the lengths, likeliest wrong one first.
    pub suspects: Vec<Suspect>,
    /// What to do, in a sentence.
    pub says: Sentence,
}

impl TapeCheck {
    /// Whether the lengths contradict one another: by more than the tape's stated uncertainty
    /// explains, at 95 %. Then no corners follow from them.
    pub fn contradicts(&self) -> bool {
        self.agrees == Some(false)
    }
}

/// Corners from lengths.
#[derive(Debug, Clone, PartialEq)]
pub struct TapeFit {
    /// Corners: top left at the origin, top right on the x axis.
    pub corners: Quadrilateral,
    /// Covariance of the eight coordinates (x, y of each corner in order), mm2.
    pub covariance_mm2: SMatrix<f64, 8, 8>,
    /// Every reading beside its fit.
    pub readings: Vec<FittedReading>,
    /// Whether the lengths agree.
    pub check: TapeCheck,
}

type Parameters = [f64; 5];

fn corners_of(p: Parameters) -> Quadrilateral {
    let at = |x_mm, y_mm| Corner { x_mm, y_mm };
    Quadrilateral([at(0.0, 0.0), at(p[0], 0.0), at(p[1], p[2]), at(p[3], p[4])])
}

/// Which parameter each coordinate is; the first corner and the second one's y are fixed.
const PARAMETER_OF: [Option<usize>; 8] =
    [None, None, Some(0), None, Some(1), Some(2), Some(3), Some(4)];

/// Least-squares corners of readings that all have the standard uncertainty `tape_u_mm`.
///
/// # Errors
/// [`TapeError`] for lengths that cannot be right, too few of them, or lengths that fit no image.
/// Lengths that merely disagree are no error: see [`TapeCheck`].
pub fn fit(readings: &[TapeReading], tape_u_mm: f64) -> Result<TapeFit, TapeError> {
    within("uncertainty of the tape", tape_u_mm, 0.01, 100.0, "mm")?;
    for reading in readings {
        length_mm(
            format!("length of the {}", reading.span.name()),
            reading.length_mm,
            50.0,
            40_000.0,
        )?;
    }
    let means = means(readings);
    let missing: Vec<String> = Span::ALL
        .iter()
        .filter(|s| means[s.index()].is_none())
        .map(|s| s.name().to_owned())
        .collect();
    if missing.len() > 1 {
        return Err(TapeError::TooFew { given: 6 - missing.len(), missing });
    }
    check_triangles(&means, tape_u_mm)?;
    let (parameters, inverse) = solve(readings, &means)?;
    let corners = corners_of(parameters);
    let mut covariance_mm2 = SMatrix::<f64, 8, 8>::zeros();
    for (i, from) in PARAMETER_OF.iter().enumerate() {
        for (j, to) in PARAMETER_OF.iter().enumerate() {
            if let (Some(from), Some(to)) = (from, to) {
                covariance_mm2[(i, j)] = tape_u_mm * tape_u_mm * inverse[(*from, *to)];
            }
        }
    }
    let fitted: Vec<FittedReading> = readings
        .iter()
        .map(|r| FittedReading {
            span: r.span,
            read_mm: r.length_mm,
            fitted_mm: corners.span_mm(r.span),
        })
        .collect();
    let check = check(readings, &fitted, &means, tape_u_mm);
    Ok(TapeFit { corners, covariance_mm2, readings: fitted, check })
}

fn means(readings: &[TapeReading]) -> [Option<f64>; 6] {
    Span::ALL.map(|span| {
        let of = readings.iter().filter(|r| r.span == span);
        let count = of.clone().count();
        (count > 0).then(|| of.map(|r| r.length_mm).sum::<f64>() / count as f64)
    })
}

fn check_triangles(means: &[Option<f64>; 6], tape_u_mm: f64) -> Result<(), TapeError> {
    use Span::{Bottom, FallingDiagonal, Left, Right, RisingDiagonal, Top};
    let triangles = [
        [Top, Right, FallingDiagonal],
        [Bottom, Left, FallingDiagonal],
        [Right, Bottom, RisingDiagonal],
        [Left, Top, RisingDiagonal],
    ];
    for triangle in triangles {
        for k in 0..3 {
            let spans = [triangle[k], triangle[(k + 1) % 3], triangle[(k + 2) % 3]];
            let [Some(long), Some(a), Some(b)] = spans.map(|span| means[span.index()]) else {
                continue;
            };
            if long > a + b + 3.0 * tape_u_mm {
                return Err(TapeError::NoTriangle {
                    longest: spans[0].name(),
                    longest_mm: long,
                    others: [spans[1].name(), spans[2].name()],
                    together_mm: a + b,
                });
            }
        }
    }
    Ok(())
}

/// Gauss-Newton from the upright rectangle; gives the parameters and the inverse normal matrix.
fn solve(
    readings: &[TapeReading],
    means: &[Option<f64>; 6],
) -> Result<(Parameters, DMatrix<f64>), TapeError> {
    let known = |a: Span, b: Span| match (means[a.index()], means[b.index()]) {
        (Some(x), Some(y)) => Some((x + y) / 2.0),
        (one, other) => one.or(other),
    };
    let (Some(width), Some(height)) =
        (known(Span::Top, Span::Bottom), known(Span::Left, Span::Right))
    else {
        return Err(TapeError::NoQuadrilateral);
    };
    let mut p = [width, width, -height, 0.0, -height];
    for _ in 0..60 {
        let (jacobian, residual) = linearise(readings, p);
        let normal = jacobian.transpose() * &jacobian;
        let Some(inverse) = normal.clone().try_inverse() else {
            return Err(TapeError::NoQuadrilateral);
        };
        let step = &inverse * (jacobian.transpose() * &residual);
        for (value, change) in p.iter_mut().zip(step.iter()) {
            *value += change;
        }
        if !p.iter().all(|value| value.is_finite()) {
            return Err(TapeError::NoQuadrilateral);
        }
        if step.norm() < 1e-9 * width {
            return if corners_of(p).is_convex() {
                Ok((p, inverse))
            } else {
                Err(TapeError::NoQuadrilateral)
            };
        }
    }
    Err(TapeError::NoQuadrilateral)
}

fn linearise(readings: &[TapeReading], p: Parameters) -> (DMatrix<f64>, DVector<f64>) {
    let corners = corners_of(p);
    let mut jacobian = DMatrix::zeros(readings.len(), 5);
    let mut residual = DVector::zeros(readings.len());
    for (row, reading) in readings.iter().enumerate() {
        let (from, to) = reading.span.ends();
        let (dx, dy) = corners.0[from].offset_to(corners.0[to]);
        let length = dx.hypot(dy).max(1e-9);
        residual[row] = reading.length_mm - length;
        for (corner, sign) in [(from, -1.0), (to, 1.0)] {
            for (axis, part) in [dx, dy].into_iter().enumerate() {
                if let Some(parameter) = PARAMETER_OF[2 * corner + axis] {
                    jacobian[(row, parameter)] += sign * part / length;
                }
            }
        }
    }
    (jacobian, residual)
}

fn check(
    readings: &[TapeReading],
    fitted: &[FittedReading],
    means: &[Option<f64>; 6],
    tape_u_mm: f64,
) -> TapeCheck {
    let spare = readings.len() - 5;
    let chi_square =
        fitted.iter().map(|r| ((r.read_mm - r.fitted_mm) / tape_u_mm).powi(2)).sum::<f64>();
    let limit = (spare > 0).then(|| chi_square_95(spare));
    let agrees = limit.map(|limit| chi_square <= limit);
    let all_six = means
        .iter()
        .copied()
        .collect::<Option<Vec<f64>>>()
        .and_then(|six| <[f64; 6]>::try_from(six).ok());
    let suspects = if agrees == Some(false) { suspects(readings, means) } else { Vec::new() };
    let says = match agrees {
        None => "no spare length: nothing checks the tape; measure the sixth length too".into(),
        Some(true) => "the lengths agree within the tape's uncertainty".into(),
        Some(false) => disagreement(readings, &suspects, tape_u_mm),
    };
    TapeCheck {
        spare,
        chi_square,
        limit,
        agrees,
        cayley_menger_mm6: all_six.map(cayley_menger_mm6),
        twist_if_tape_is_right_mm: all_six.and_then(twist_mm),
        suspects,
        says,
    }
}

/// What each length would have to be for the other five to be right, likeliest first. One spare
/// length shows that something is wrong and not what: the order comes from the image being nearer
/// to a rectangle than the tape's slip.
fn suspects(readings: &[TapeReading], means: &[Option<f64>; 6]) -> Vec<Suspect> {
    let mut suspects: Vec<Suspect> = Span::ALL
        .into_iter()
        .filter_map(|span| {
            let others: Vec<TapeReading> =
                readings.iter().copied().filter(|r| r.span != span).collect();
            let mut other_means = *means;
            other_means[span.index()] = None;
            if other_means.iter().flatten().count() < 5 {
                return None;
            }
            let corners = corners_of(solve(&others, &other_means).ok()?.0);
            let [top, right, bottom, left, falling, rising] = corners.spans_mm();
            let off = [top - bottom, right - left, falling - rising];
            Some(Suspect {
                span,
                read_mm: means[span.index()]?,
                others_say_mm: corners.span_mm(span),
                then_off_rectangle_mm: (off.iter().map(|d| d * d).sum::<f64>() / 3.0).sqrt(),
            })
        })
        .collect();
    suspects.sort_by(|a, b| a.then_off_rectangle_mm.total_cmp(&b.then_off_rectangle_mm));
    suspects
}

fn disagreement(readings: &[TapeReading], suspects: &[Suspect], tape_u_mm: f64) -> Sentence {
    for span in Span::ALL {
        let of = || readings.iter().filter(|r| r.span == span).map(|r| r.length_mm);
        let (low, high) =
            (of().fold(f64::INFINITY, f64::min), of().fold(f64::NEG_INFINITY, f64::max));
        if high - low > 4.0 * tape_u_mm {
            return say!(
                "the {} was read as {} and as {}: one of them is wrong; measure it once more and leave the wrong one out",
                span.name(),
                Mm(low).tape(),
                Mm(high).tape()
            );
        }
    }
    match suspects {
        [first, second, ..] => say!(
            "the lengths contradict one another: measure the {} again first (read {}, the others make it {}), then the {}; one spare length cannot prove which is wrong",
            first.span.name(),
            Mm(first.read_mm).tape(),
            Mm(first.others_say_mm).tape(),
            second.span.name()
        ),
        _ => {
            "the lengths contradict one another, and no single one explains it: measure all six again".into()
        }
    }
}

/// Upper 5 % point of chi-square (table values; beyond ten by Wilson and Hilferty's approximation).
pub(super) fn chi_square_95(dof: usize) -> f64 {
    const TABLE: [f64; 10] =
        [3.841, 5.991, 7.815, 9.488, 11.070, 12.592, 14.067, 15.507, 16.919, 18.307];
    TABLE.get(dof - 1).copied().unwrap_or_else(|| {
        let n = dof as f64;
        n * (1.0 - 2.0 / (9.0 * n) + 1.644_854 * (2.0 / (9.0 * n)).sqrt()).powi(3)
    })
}

#[cfg(test)]
mod tests;
