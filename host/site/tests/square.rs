//! An image judged from its corners: what is said, in which order, and what is refused.

use proptest::prelude::*;
use skimgauge_model::Image;
use skimgauge_quantity::{Style, Units};
use skimgauge_site::square::correct::Adjust;
use skimgauge_site::square::quadrilateral::{CORNERS, Quadrilateral, Span};
use skimgauge_site::square::split::Parts;
use skimgauge_site::square::tape::TapeReading;
use skimgauge_site::square::{
    CornerOffset, Measured, SideBow, SquareInput, SquareReport, TopEdgeRise, square,
};

const IMAGE: Image = Image::mm(2000.0, 1250.0);

fn offsets_of(parts: Parts) -> Vec<CornerOffset> {
    let (quad, wanted) =
        (parts.corners(IMAGE), Quadrilateral::rectangle(IMAGE.width.0, IMAGE.height.0));
    (0..4)
        .map(|i| CornerOffset {
            corner: CORNERS[i].to_owned(),
            right_mm: quad.0[i].x_mm - wanted.0[i].x_mm,
            up_mm: quad.0[i].y_mm - wanted.0[i].y_mm,
        })
        .collect()
}

fn input(measured: Measured) -> SquareInput {
    SquareInput { image: IMAGE, measured, bows: Vec::new() }
}

fn by_offsets(parts: Parts) -> SquareReport {
    square(&input(Measured::Offsets { corners: offsets_of(parts), u_mm: 0.5 })).unwrap()
}

fn by_tape(parts: Parts, rise: Option<TopEdgeRise>) -> SquareReport {
    let quad = parts.corners(IMAGE);
    let readings = Span::ALL
        .into_iter()
        .map(|span| TapeReading { span, length_mm: quad.span_mm(span) })
        .collect();
    square(&input(Measured::Tape { readings, u_mm: 1.0, rise })).unwrap()
}

#[test]
fn a_perfect_image_is_left_alone() {
    let report = by_offsets(Parts::default());
    assert_eq!(report.corrections.len(), 5);
    assert!(report.corrections.iter().all(|step| !step.clear));
    assert!(report.remainder.says.text(Style::default()).starts_with("nothing remains"));
}

#[test]
fn the_largest_trapezoid_comes_first_and_place_last() {
    let report = by_offsets(Parts {
        rotation_rad: 0.002,
        vertical_trapezoid_mm: 24.0,
        horizontal_trapezoid_mm: -12.0,
        size: 0.01,
        shift_right_mm: 9.0,
        ..Parts::default()
    });
    let order: Vec<Adjust> = report.corrections.iter().map(|step| step.adjust).collect();
    assert_eq!(
        order,
        [
            Adjust::VerticalTrapezoid,
            Adjust::HorizontalTrapezoid,
            Adjust::Rotation,
            Adjust::Size,
            Adjust::Shift
        ]
    );
    assert!(report.corrections.last().unwrap().then_worst_corner_mm < 1e-6);
}

#[test]
fn a_tape_knows_no_place_and_without_a_level_no_rotation() {
    let parts = Parts {
        rotation_rad: 0.01,
        shift_right_mm: 40.0,
        vertical_trapezoid_mm: 10.0,
        ..Parts::default()
    };
    let report = by_tape(parts, None);
    assert!(report.turnable.rotation_deg.is_none() && report.turnable.shift_right_mm.is_none());
    assert!((report.turnable.vertical_trapezoid_mm.value - 10.0).abs() < 1e-6);
    let top = parts.corners(IMAGE);
    let rise_mm = top.0[1].y_mm - top.0[0].y_mm;
    let level = by_tape(parts, Some(TopEdgeRise { rise_mm, u_mm: 0.5 }));
    let rotation = level.turnable.rotation_deg.unwrap();
    assert!((rotation.value - 0.01_f64.to_degrees()).abs() < 1e-6);
    assert!(rotation.u >= (0.5_f64 / 2000.0).to_degrees());
}

#[test]
fn what_no_adjuster_takes_out_is_said() {
    let mut asked = input(Measured::Offsets {
        corners: offsets_of(Parts { skew_mm: 8.0, stretch_mm: -6.0, ..Parts::default() }),
        u_mm: 0.5,
    });
    asked.bows.push(SideBow { side: Span::Bottom, outward_mm: -3.0 });
    let report = square(&asked).unwrap();
    let said = report.remainder.says.text(Style::default());
    assert!(said.contains("6 mm too narrow") && said.contains("8 mm to the right"), "{said}");
    assert!(said.contains("bottom side bows 3 mm") && said.contains("no adjuster"), "{said}");
    // 3 mm is 0.118 in, 7.6/64; in inches nothing of it is in millimetres.
    let inches = Style { units: Units::Inch, ..Style::default() };
    let said = report.remainder.says.text(inches);
    assert!(said.contains("bottom side bows 1/8 in") && !said.contains(" mm"), "{said}");
    let steps = report.corrections.iter().map(|step| step.says.text(inches));
    assert!(steps.into_iter().all(|step| !step.contains(" mm")), "{report:?}");
}

#[test]
fn bad_corner_offsets_are_refused_in_words() {
    let refuse = |change: &dyn Fn(&mut Vec<CornerOffset>)| {
        let mut corners = offsets_of(Parts::default());
        change(&mut corners);
        square(&input(Measured::Offsets { corners, u_mm: 0.5 })).unwrap_err().to_string()
    };
    assert!(refuse(&|c| drop(c.pop())).contains("`bottom left` is missing"));
    assert!(refuse(&|c| c[3] = c[0].clone()).contains("given twice"));
    assert!(refuse(&|c| c[0].corner = "middle".to_owned()).contains("is not a corner"));
    assert!(refuse(&|c| c[0].right_mm = f64::NAN).contains("not a number"));
    assert!(refuse(&|c| c[0].right_mm = 5e4).contains("expected"));
    assert!(
        refuse(&|c| {
            for corner in c.iter_mut() {
                corner.right_mm = if corner.corner.ends_with("left") { 1000.0 } else { -1000.0 };
            }
        })
        .contains("fold")
    );
}

#[test]
fn a_length_in_inches_is_an_impossible_triangle() {
    let quad = Quadrilateral::rectangle(2000.0, 1250.0);
    let readings = Span::ALL
        .into_iter()
        .map(|span| TapeReading {
            span,
            length_mm: quad.span_mm(span) / if span == Span::Top { 25.4 } else { 1.0 },
        })
        .collect();
    let said =
        square(&input(Measured::Tape { readings, u_mm: 1.0, rise: None })).unwrap_err().to_string();
    assert!(said.contains("top side") && said.contains("measure these three again"), "{said}");
}

proptest! {
    /// Following every correction leaves only the remainder.
    #[test]
    fn corrections_lead_to_the_remainder(
        rotation_rad in -0.02..0.02_f64, vertical in -40.0..40.0_f64, horizontal in -40.0..40.0_f64,
        size in -0.03..0.03_f64, right in -50.0..50.0_f64, up in -50.0..50.0_f64, stretch in -5.0..5.0_f64, skew in -5.0..5.0_f64,
    ) {
        let report = by_offsets(Parts {
            rotation_rad, size, vertical_trapezoid_mm: vertical, horizontal_trapezoid_mm: horizontal,
            shift_right_mm: right, shift_up_mm: up, stretch_mm: stretch, skew_mm: skew,
        });
        if report.corrections.iter().all(|step| step.clear) {
            let last = report.corrections.last().unwrap();
            prop_assert!((last.then_worst_corner_mm - report.remainder.worst_corner_mm).abs() < 1e-9);
        }
        prop_assert!((report.turnable.vertical_trapezoid_mm.value - vertical).abs() < 1e-6);
        prop_assert!((report.remainder.skew_mm.value - skew).abs() < 1e-6);
    }

    #[test]
    fn nothing_panics(v in prop::array::uniform8(prop_oneof![any::<f64>(), -900.0..900.0_f64]), u_mm in prop_oneof![any::<f64>(), 0.1..5.0_f64]) {
        let corners = (0..4).map(|i| CornerOffset { corner: CORNERS[i].to_owned(), right_mm: v[2 * i], up_mm: v[2 * i + 1] }).collect();
        if let Ok(report) = square(&input(Measured::Offsets { corners, u_mm })) {
            prop_assert!(report.turnable.size_mm.value.is_finite() && report.turnable.size_mm.u.is_finite());
        }
    }
}

/// What a coarse tape does not prove wrong is not yet right; one as fine as is usual calls it square.
#[test]
fn a_measure_that_cannot_tell_leaves_the_image_open() {
    let by = |u_mm: f64, skew_mm: f64| {
        let quad = Parts { skew_mm, ..Parts::default() }.corners(IMAGE);
        let readings = Span::ALL
            .into_iter()
            .map(|span| TapeReading { span, length_mm: quad.span_mm(span) })
            .collect();
        let report = square(&input(Measured::Tape { readings, u_mm, rise: None })).unwrap();
        report.too_close.map(|says| says.text(Style::default()))
    };
    for u_mm in [0.5, 1.0, 2.0] {
        assert_eq!(by(u_mm, 0.0), None, "{u_mm}");
    }
    let says = by(50.0, 22.5).unwrap();
    assert!(says.contains("the top's lean") && says.contains("5 mm may remain"), "{says}");
    assert!(by(4.0, 0.0).is_some(), "too coarse whatever it reads");
}
