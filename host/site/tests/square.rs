//! An image judged from its corners: what is said, in which order, and what is refused.

use proptest::prelude::*;
use skimgauge_model::Image;
use skimgauge_quantity::{Style, Units};
use skimgauge_site::square::correct::Adjust;
use skimgauge_site::square::quadrilateral::{CORNERS, Quadrilateral, Span};
use skimgauge_site::square::split::Parts;
use skimgauge_site::square::tape::TapeReading;
use skimgauge_site::square::{
    CornerOffset, MAY_REMAIN, Measured, SideBow, SquareInput, SquareReport, TopEdgeRise, square,
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
    SquareInput { image: IMAGE, measured, beside: None, may_remain: MAY_REMAIN, bows: Vec::new() }
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
    let says = report.remainder.says.text(Style::default());
    assert!(says.ends_with("no more than may remain"), "{says}");
}

#[test]
fn the_largest_trapezoid_comes_first_and_place_last() {
    let report = by_offsets(Parts {
        rotation_rad: 0.0024,
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
        if report.corrections.iter().all(|step| step.to_turn) {
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

/// The six lengths of corners that are out by `parts`.
fn lengths_of(parts: Parts) -> Vec<TapeReading> {
    let quad = parts.corners(IMAGE);
    let reading = |span| TapeReading { span, length_mm: quad.span_mm(span) };
    Span::ALL.into_iter().map(reading).collect()
}

/// Corners that are out by `parts`, beside these lengths; either may be the one that counts.
fn both_ways(parts: Parts, readings: Vec<TapeReading>, by_tape: bool) -> SquareReport {
    let offsets = Measured::Offsets { corners: offsets_of(parts), u_mm: 0.5 };
    let tape = Measured::Tape { readings, u_mm: 1.0, rise: None };
    let (measured, beside) = if by_tape { (tape, offsets) } else { (offsets, tape) };
    square(&SquareInput { beside: Some(beside), ..input(measured) }).unwrap()
}

#[test]
fn corners_and_tape_that_cannot_both_be_right_turn_nothing() {
    let parts = Parts { vertical_trapezoid_mm: 24.0, size: 0.001, ..Parts::default() };
    for by_tape in [false, true] {
        let agreeing = both_ways(parts, lengths_of(parts), by_tape);
        assert!(agreeing.is_off() && !agreeing.contradicts(), "{agreeing:?}");
        let other = both_ways(parts, lengths_of(Parts::default()), by_tape);
        assert!(other.contradicts() && other.corrections.is_empty(), "{other:?}");
        assert!(other.too_close.is_none() && other.beyond.is_none() && !other.is_off());
        let beside = other.beside.unwrap();
        let says = beside.says.text(Style::default());
        // The top is 14 mm longer by the corners, within what two ends of 0.5 mm and 1 mm explain:
        // 1.96 times the root of 1.5.
        assert!(says.contains("top side is 2000 mm by tape and 2014 mm by the corners"), "{says}");
        assert!(says.contains("14 mm apart, and their uncertainties explain 2.40 mm"), "{says}");
        assert!(says.contains("measure this length and the corners at its ends again"), "{says}");
        let top = beside.lengths[0];
        assert!((top.apart_mm.value + 14.0).abs() < 1e-9, "{top:?}");
        assert!((top.apart_mm.u - 1.5_f64.sqrt()).abs() < 1e-9, "{top:?}");
    }
}

/// Place and rotation no tape knows, so it has nothing against them; a level knows the rotation.
#[test]
fn a_tape_says_nothing_against_place_and_a_level_something_against_rotation() {
    let parts = Parts { rotation_rad: 0.01, shift_up_mm: 30.0, ..Parts::default() };
    assert!(!both_ways(parts, lengths_of(parts), false).contradicts());
    let rise = |rise_mm: f64| Measured::Tape {
        readings: lengths_of(parts),
        u_mm: 1.0,
        rise: Some(TopEdgeRise { rise_mm, u_mm: 0.5 }),
    };
    let beside = |beside: Measured| {
        let offsets = Measured::Offsets { corners: offsets_of(parts), u_mm: 0.5 };
        square(&SquareInput { beside: Some(beside), ..input(offsets) }).unwrap()
    };
    assert!(!beside(rise(20.0)).contradicts());
    let says = beside(rise(0.0)).beside.unwrap().says.text(Style::default());
    assert!(says.contains("20 mm by the corners") && says.contains("level the top edge"), "{says}");
}

/// A tape that does not fit together bears no corners out, and is named for that.
#[test]
fn a_tape_beside_the_corners_that_contradicts_itself_is_named() {
    let mut readings = lengths_of(Parts::default());
    readings[4].length_mm += 9.0;
    let report = both_ways(Parts::default(), readings, false);
    assert!(report.contradicts());
    let says = report.beside.unwrap().says.text(Style::default());
    assert!(says.contains("does not fit together") && says.contains("diagonal from top"), "{says}");
}

/// Of a hundred tapings and corners as good as they are said to be, about five look contradictory.
#[test]
fn what_chance_puts_apart_is_called_a_contradiction_as_often_as_is_said() {
    let mut numbers = skimgauge_numbers::Numbers(7);
    let parts = Parts { skew_mm: 4.0, size: 0.004, ..Parts::default() };
    let (mut apart, mut seen) = (0, 0);
    for _ in 0..2000 {
        let mut readings = lengths_of(parts);
        readings.iter_mut().for_each(|reading| reading.length_mm += numbers.normal(1.0));
        let mut corners = offsets_of(parts);
        for corner in &mut corners {
            corner.right_mm += numbers.normal(0.5);
            corner.up_mm += numbers.normal(0.5);
        }
        let tape = Measured::Tape { readings, u_mm: 1.0, rise: None };
        let offsets = Measured::Offsets { corners, u_mm: 0.5 };
        let report = square(&SquareInput { beside: Some(tape), ..input(offsets) }).unwrap();
        // What the tape has against itself is its own matter.
        if let Some(chi_square) = report.beside.as_ref().unwrap().chi_square {
            seen += 1;
            apart += u32::from(chi_square > report.beside.unwrap().limit);
        }
    }
    let share = f64::from(apart) / f64::from(seen);
    assert!(seen > 1800 && (0.035..0.065).contains(&share), "{apart} of {seen}");
}

/// Told from nothing, and no more than may remain: it stays, whichever adjuster it is.
#[test]
fn what_may_remain_is_not_turned_and_what_may_not_stays_no_secret() {
    let small = by_offsets(Parts { vertical_trapezoid_mm: 5.0, ..Parts::default() });
    let step = small.corrections.iter().find(|step| step.adjust == Adjust::VerticalTrapezoid);
    let step = step.unwrap();
    assert!(step.clear && !step.to_turn && !small.is_off(), "{step:?}");
    let says = step.says.text(Style::default());
    // Half of 5 mm at a corner, and half of 1.96 times 1 mm (four corners at 0.5 mm).
    assert!(says.contains("leave it, at most 3.5 mm at one end, which may remain"), "{says}");
    assert!(small.too_close.is_none() && small.beyond.is_none());

    let skew = Parts { skew_mm: 14.0, ..Parts::default() };
    let leaning = by_offsets(skew);
    assert!(leaning.is_off() && leaning.corrections.iter().all(|step| !step.to_turn));
    let says = leaning.beyond.unwrap().text(Style::default());
    assert!(says.contains("leans 14 mm to the right of square, 7 mm at each end"), "{says}");
    assert!(says.contains("5 mm may remain (0.25 % of the width; common practice"), "{says}");
    // The job says that more may.
    let offsets = Measured::Offsets { corners: offsets_of(skew), u_mm: 0.5 };
    let wide = square(&SquareInput { may_remain: 0.005, ..input(offsets.clone()) }).unwrap();
    assert!(!wide.is_off() && wide.too_close.is_none(), "{wide:?}");
    let half = square(&SquareInput { may_remain: 0.0035, ..input(offsets) }).unwrap();
    assert!(half.beyond.is_none());
    let says = half.too_close.unwrap().text(Style::default());
    assert!(says.contains("7 mm may remain (0.35 % of the width by the job)"), "{says}");
}

/// What stands above the verdict does not speak against it.
#[test]
fn nothing_is_said_to_remain_that_the_measure_cannot_tell() {
    let by = |u_mm: f64| {
        let readings = lengths_of(Parts::default());
        square(&input(Measured::Tape { readings, u_mm, rise: None })).unwrap()
    };
    let says = |report: &SquareReport| report.remainder.says.text(Style::default());
    let (fine, coarse) = (by(1.0), by(20.0));
    assert!(fine.too_close.is_none() && says(&fine).contains("no more than may remain"));
    assert!(coarse.too_close.is_some() && says(&coarse).contains("cannot tell"));
}
