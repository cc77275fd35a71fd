//! Corners against their marks and a tape of the same image: whether one bears the other out.

use nalgebra::{DMatrix, DVector};
use serde::Serialize;
use skimgauge_quantity::{Mm, Sentence, say};

use super::measured::{Corners, corners};
use super::quadrilateral::{Quadrilateral, Span};
use super::split::Found;
use super::tape::{TapeCheck, TapeReading, chi_square_95};
use super::{Measured, SquareError, SquareInput, TopEdgeRise};

/// What five lengths fix of four corners: all but place and rotation.
const OF_SHAPE: usize = 5;

/// One length as both measures have it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Apart {
    /// Which length; absent for the top edge's rise.
    pub span: Option<Span>,
    /// By tape (mean of repeats), or by the level, mm.
    pub tape_mm: f64,
    /// By the corners, mm.
    pub corners_mm: f64,
    /// Tape less corners and what the uncertainties of both make of that, mm.
    pub apart_mm: Found,
}

/// Whether corners and tape can both be right.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Beside {
    /// Whether they can, at 95 %.
    pub agrees: bool,
    /// How far they are apart, squared, over what the uncertainties of both make of it; what the
    /// tape has against itself is not in it. Absent where the tape contradicts itself.
    pub chi_square: Option<f64>,
    /// What that stays under 95 times in 100 if both are as good as stated.
    pub limit: f64,
    /// The lengths, one by one.
    pub lengths: Vec<Apart>,
    /// In a sentence.
    pub says: Sentence,
}

/// What a tape said: its readings, the standard uncertainty of one, and the top edge's rise.
struct Tape<'a> {
    readings: &'a [TapeReading],
    u_mm: f64,
    rise: Option<TopEdgeRise>,
    check: &'a TapeCheck,
}

/// A figure of the tape beside the same by the corners: by which corners' coordinates it moves, and
/// its own standard uncertainty.
struct Row {
    read_mm: f64,
    corners_mm: f64,
    moves: [f64; 8],
    u_mm: f64,
}

impl Row {
    fn of(span: Span, read_mm: f64, u_mm: f64, quad: &Quadrilateral) -> Self {
        let (from, to) = span.ends();
        let (dx, dy) = quad.0[from].offset_to(quad.0[to]);
        let corners_mm = dx.hypot(dy).max(1e-9);
        let mut moves = [0.0; 8];
        for (axis, part) in [dx, dy].into_iter().enumerate() {
            moves[2 * from + axis] = -part / corners_mm;
            moves[2 * to + axis] = part / corners_mm;
        }
        Self { read_mm, corners_mm, moves, u_mm }
    }

    fn of_rise(rise: TopEdgeRise, quad: &Quadrilateral) -> Self {
        let (_, corners_mm) = quad.0[0].offset_to(quad.0[1]);
        let mut moves = [0.0; 8];
        (moves[1], moves[3]) = (-1.0, 1.0);
        Self { read_mm: rise.rise_mm, corners_mm, moves, u_mm: rise.u_mm }
    }
}

/// The covariance of what the rows are apart, mm2: that of the corners is shared among them.
fn covariance(rows: &[Row], corners: &Corners) -> DMatrix<f64> {
    let moves = DMatrix::from_fn(rows.len(), 8, |row, column| rows[row].moves[column]);
    let own = DVector::from_iterator(rows.len(), rows.iter().map(|row| row.u_mm * row.u_mm));
    &moves * corners.covariance_mm2 * moves.transpose() + DMatrix::from_diagonal(&own)
}

/// What was measured, and what was measured beside it.
pub(super) fn compared(
    input: &SquareInput,
    found: &Corners,
) -> Result<Option<Beside>, SquareError> {
    let Some(other) = &input.beside else { return Ok(None) };
    let of_other = corners(input.image, other)?;
    let (offsets, tape, taped) = match (&input.measured, other) {
        (Measured::Offsets { .. }, tape @ Measured::Tape { .. }) => (found, tape, &of_other),
        (tape @ Measured::Tape { .. }, Measured::Offsets { .. }) => (&of_other, tape, found),
        // The same way twice says nothing more.
        _ => return Ok(None),
    };
    let (Measured::Tape { readings, u_mm, rise }, Some(check)) = (tape, &taped.tape) else {
        return Ok(None);
    };
    Ok(Some(compare(offsets, &Tape { readings, u_mm: *u_mm, rise: *rise, check })))
}

fn compare(corners: &Corners, tape: &Tape<'_>) -> Beside {
    let every =
        tape.readings.iter().map(|r| Row::of(r.span, r.length_mm, tape.u_mm, &corners.quad));
    let rise = tape.rise.map(|rise| Row::of_rise(rise, &corners.quad));
    let dof = OF_SHAPE + usize::from(rise.is_some());
    let rows: Vec<Row> = every.chain(rise).collect();
    let apart = DVector::from_iterator(rows.len(), rows.iter().map(|r| r.read_mm - r.corners_mm));
    // What cannot be worked out bears nothing out.
    let whole = covariance(&rows, corners)
        .cholesky()
        .map_or(f64::INFINITY, |covariance| apart.dot(&covariance.solve(&apart)));
    let contradicts_itself = tape.check.contradicts();
    let between = (whole - tape.check.chi_square).max(0.0);
    let limit = chi_square_95(dof);
    let lengths = lengths(corners, tape);
    let agrees = !contradicts_itself && between <= limit;
    let says = if contradicts_itself {
        say!("the tape beside the corners does not fit together: {}", tape.check.says)
    } else if agrees {
        "corners and tape agree within their uncertainties".into()
    } else {
        contradiction(&lengths)
    };
    let chi_square = (!contradicts_itself).then_some(between);
    Beside { agrees, chi_square, limit, lengths, says }
}

fn lengths(corners: &Corners, tape: &Tape<'_>) -> Vec<Apart> {
    let mut named = Vec::new();
    for span in Span::ALL {
        let of = tape.readings.iter().filter(|reading| reading.span == span);
        let (count, sum_mm) = of.fold((0.0, 0.0), |(n, sum), r| (n + 1.0, sum + r.length_mm));
        if count > 0.0 {
            let u_mm = tape.u_mm / f64::sqrt(count);
            named.push((Some(span), Row::of(span, sum_mm / count, u_mm, &corners.quad)));
        }
    }
    named.extend(tape.rise.map(|rise| (None, Row::of_rise(rise, &corners.quad))));
    let apart = |(span, row): (Option<Span>, Row)| Apart {
        span,
        tape_mm: row.read_mm,
        corners_mm: row.corners_mm,
        apart_mm: Found {
            value: row.read_mm - row.corners_mm,
            u: covariance(std::slice::from_ref(&row), corners)[(0, 0)].sqrt(),
        },
    };
    named.into_iter().map(apart).collect()
}

/// What cannot be, by how much, and what to do: at the length that is farthest off for what its
/// uncertainties are.
fn contradiction(lengths: &[Apart]) -> Sentence {
    let by = |apart: &Apart| (apart.apart_mm.value / apart.apart_mm.u).abs();
    let Some(worst) = lengths.iter().max_by(|a, b| by(a).total_cmp(&by(b))) else {
        return "corners and tape contradict one another: measure both again".into();
    };
    let (tape, corners) = (Mm(worst.tape_mm), Mm(worst.corners_mm));
    let (off, explained) = (Mm(worst.apart_mm.value.abs()), Mm(worst.apart_mm.expanded()));
    let what = match worst.span {
        Some(span) => say!(
            "the {} is {} by tape and {} by the corners",
            span.name(),
            tape.tape(),
            corners.tape()
        ),
        None => say!(
            "the top edge's right end is {} above its left by the level and {} by the corners",
            tape.tape(),
            corners.tape()
        ),
    };
    let again = match worst.span {
        Some(_) => "measure this length and the corners at its ends again",
        None => "level the top edge, and measure its corners against their marks, again",
    };
    let explains = if worst.apart_mm.is_clear() {
        say!(
            "{} apart, and their uncertainties explain {} (95 %)",
            off.tape(),
            explained.uncertainty()
        )
    } else {
        say!(
            "{} apart; no length stands out, and together they are farther apart than their uncertainties explain (95 %)",
            off.tape()
        )
    };
    say!(
        "corners and tape contradict one another: {what}, {explains}; {again}, and put right in the job file what was wrong"
    )
}
