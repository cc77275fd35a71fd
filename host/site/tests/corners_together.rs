//! All faults together at the corners, and what no measure told.

use proptest::prelude::*;
use skimgauge_model::{Image, Verdict};
use skimgauge_quantity::{Style, Units};
use skimgauge_site::square::quadrilateral::{CORNERS, Quadrilateral, Span};
use skimgauge_site::square::split::Parts;
use skimgauge_site::square::tape::TapeReading;
use skimgauge_site::square::{
    CornerOffset, MAY_REMAIN, Measured, SquareInput, SquareReport, TopEdgeRise, square,
};

/// 5 mm may remain at a corner of it.
const IMAGE: Image = Image::mm(2000.0, 1250.0);

fn judged(measured: Measured) -> SquareReport {
    let (beside, bows) = (None, Vec::new());
    square(&SquareInput { image: IMAGE, measured, beside, may_remain: MAY_REMAIN, bows }).unwrap()
}

fn by_corners(parts: Parts, u_mm: f64) -> SquareReport {
    let (quad, wanted) =
        (parts.corners(IMAGE), Quadrilateral::rectangle(IMAGE.width.0, IMAGE.height.0));
    let corners = (0..4).map(|i| CornerOffset {
        corner: CORNERS[i].to_owned(),
        right_mm: quad.0[i].x_mm - wanted.0[i].x_mm,
        up_mm: quad.0[i].y_mm - wanted.0[i].y_mm,
    });
    judged(Measured::Offsets { corners: corners.collect(), u_mm })
}

fn by_tape(parts: Parts, u_mm: f64, rise: Option<TopEdgeRise>) -> SquareReport {
    let quad = parts.corners(IMAGE);
    let reading = |span| TapeReading { span, length_mm: quad.span_mm(span) };
    judged(Measured::Tape { readings: Span::ALL.into_iter().map(reading).collect(), u_mm, rise })
}

fn text(says: &skimgauge_quantity::Sentence) -> String {
    says.text(Style::default())
}

/// How far the farthest corner is off, mm.
fn worst_mm(report: &SquareReport) -> f64 {
    report.corners.iter().map(|corner| corner.off_mm.value).fold(0.0, f64::max)
}

/// Trapezoid 8 mm (4 mm at each end by the rule, 2 mm of it at a corner), size 4.5 mm at each end, a
/// shift of 4 mm: each may stay, and together they leave a corner 11 mm off.
#[test]
fn faults_that_may_each_remain_are_turned_where_their_sum_may_not() {
    let parts =
        Parts { size: 0.0045, shift_right_mm: 4.0, vertical_trapezoid_mm: 8.0, ..Parts::default() };
    let report = by_corners(parts, 0.2);
    // 4.5 + 4 + 2 mm across and 2.8 mm upward.
    assert!((worst_mm(&report) - 10.5_f64.hypot(2.8125)).abs() < 0.01, "{}", worst_mm(&report));
    assert_eq!(report.verdict, Verdict::Outside);
    assert_eq!(report.corners[1].verdict, Verdict::Outside);
    let turned: Vec<_> = report.corrections.iter().filter(|step| step.to_turn).collect();
    assert!(!turned.is_empty() && turned.len() < 3, "as many as it takes: {turned:?}");
    let says = text(&turned[0].says);
    assert!(says.contains("by itself it might stay") && says.contains("10.9 mm off"), "{says}");
    let last = report.corrections.last().unwrap();
    assert!(last.then_worst_corner_mm <= 5.0, "{last:?}");
    assert!(report.beyond.is_none());
    // Half of each may stay.
    let half =
        Parts { size: 0.001, shift_right_mm: 1.0, vertical_trapezoid_mm: 3.0, ..Parts::default() };
    assert_eq!(by_corners(half, 0.2).verdict, Verdict::Within);
}

/// A stretch and a lean of 12 mm, and beside them what is told from nothing by itself in no part: each
/// is too close to call, and together they leave a corner 8.4 mm off, give or take 2 mm.
#[test]
fn what_no_adjuster_takes_out_is_judged_together_with_the_rest() {
    let parts = Parts {
        stretch_mm: 12.0,
        skew_mm: 12.0,
        size: 0.0006,
        shift_right_mm: 0.9,
        vertical_trapezoid_mm: 3.6,
        ..Parts::default()
    };
    let report = by_corners(parts, 1.0);
    assert!((worst_mm(&report) - 8.4).abs() < 0.1, "{}", worst_mm(&report));
    assert_eq!(report.verdict, Verdict::Outside);
    assert!(report.corrections.iter().all(|step| !step.clear), "{report:?}");
    let says = text(report.beyond.as_ref().unwrap());
    assert!(says.contains("taken out, the top right corner stays 8.4 mm off"), "{says}");
    assert!(says.contains("5 mm may remain"), "{says}");
}

#[test]
fn a_sum_that_the_measure_cannot_tell_is_too_close_to_call() {
    let parts = Parts { size: 0.003, shift_right_mm: 2.0, ..Parts::default() };
    let coarse = by_corners(parts, 0.8);
    assert_eq!(coarse.verdict, Verdict::Unsure, "{coarse:?}");
    let says = text(coarse.too_close.as_ref().unwrap());
    assert!(says.contains("all faults together: up to"), "{says}");
    assert_eq!(
        by_corners(Parts { shift_right_mm: 0.5, ..Parts::default() }, 0.8).verdict,
        Verdict::Within
    );
}

/// A tape lies on the image, wherever on the board that is.
#[test]
fn a_tape_says_what_it_did_not_measure() {
    let moved = Parts { rotation_rad: 0.01, shift_right_mm: 40.0, ..Parts::default() };
    let tape = by_tape(moved, 0.1, None);
    assert_eq!(tape.verdict, Verdict::Within, "shape and size are");
    assert!(tape.corners.iter().all(|corner| corner.off_mm.value < 0.01));
    let says = text(tape.not_measured.as_ref().unwrap());
    assert!(says.contains("NOT measured is where the image lies on the board and how"), "{says}");
    let level = by_tape(moved, 0.1, Some(TopEdgeRise { rise_mm: 0.0, u_mm: 0.5 }));
    let says = text(level.not_measured.as_ref().unwrap());
    assert!(
        says.contains("turn by level; NOT measured is where") && !says.contains("a turn of"),
        "{says}"
    );
    // The level's uncertainty is in where the corners are: 0.5 mm over 2000 mm, at 1179 mm from the
    // middle.
    assert!((level.corners[0].off_mm.u - 0.295).abs() < 0.05, "{:?}", level.corners[0]);
    let corners = by_corners(moved, 0.1);
    assert_eq!((&corners.not_measured, corners.verdict), (&None, Verdict::Outside));
}

/// What the uncertainties of tape and corners explain is never told as nothing.
#[test]
fn a_small_uncertainty_is_told_in_inches() {
    let reading = |span: Span| TapeReading {
        span,
        length_mm: Quadrilateral::rectangle(2003.0, 1250.0).span_mm(span),
    };
    let readings = Span::ALL.into_iter().map(reading).collect();
    let beside = Some(Measured::Tape { readings, u_mm: 0.02, rise: None });
    let corners =
        CORNERS.map(|corner| CornerOffset { corner: corner.to_owned(), right_mm: 0.0, up_mm: 0.0 });
    let measured = Measured::Offsets { corners: corners.to_vec(), u_mm: 0.01 };
    let input =
        SquareInput { image: IMAGE, measured, beside, may_remain: MAY_REMAIN, bows: Vec::new() };
    let says = square(&input).unwrap().beside.unwrap().says;
    let inch = says.text(Style { units: Units::Inch, ..Style::default() });
    assert!(inch.contains("explain 0.00") && !inch.contains("explain 0 in"), "{inch}");
}

proptest! {
    /// The verdict is that of the corners: none is within with a corner that is off.
    #[test]
    fn nothing_is_within_with_a_corner_off(
        size in -0.004..0.004_f64, right in -4.0..4.0_f64, up in -4.0..4.0_f64, vertical in -9.0..9.0_f64,
        horizontal in -9.0..9.0_f64, rotation_rad in -0.002..0.002_f64, stretch in -8.0..8.0_f64, skew in -8.0..8.0_f64,
    ) {
        let parts = Parts {
            size, rotation_rad, shift_right_mm: right, shift_up_mm: up, vertical_trapezoid_mm: vertical,
            horizontal_trapezoid_mm: horizontal, stretch_mm: stretch, skew_mm: skew,
        };
        let report = by_corners(parts, 0.1);
        if worst_mm(&report) > 5.5 {
            prop_assert_eq!(report.verdict, Verdict::Outside);
            let then_mm = report.corrections.last().unwrap().then_worst_corner_mm;
            prop_assert!(then_mm <= 5.5 || report.beyond.is_some(), "{then_mm}: {report:?}");
        }
    }
}
