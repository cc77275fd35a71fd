//! Corners back from lengths, and what is said where the lengths disagree.

use super::*;
use proptest::prelude::*;
use skimgauge_quantity::Style;

fn readings(spans_mm: [f64; 6]) -> Vec<TapeReading> {
    Span::ALL
        .into_iter()
        .map(|span| TapeReading { span, length_mm: spans_mm[span.index()] })
        .collect()
}

#[test]
fn equal_diagonals_alone_do_not_make_a_rectangle() {
    // An isosceles trapezoid: diagonals equal, top and bottom not.
    let quad = Quadrilateral(
        [(-790.0, 450.0), (790.0, 450.0), (810.0, -450.0), (-810.0, -450.0)]
            .map(|(x_mm, y_mm)| Corner { x_mm, y_mm }),
    );
    let fit = fit(&readings(quad.spans_mm()), 1.0).unwrap();
    assert_eq!(fit.check.agrees, Some(true));
    assert!((fit.corners.span_mm(Span::Top) - 1580.0).abs() < 1e-6);
    assert!((fit.corners.span_mm(Span::Bottom) - 1620.0).abs() < 1e-6);
}

#[test]
fn a_diagonal_misread_by_ten_is_found() {
    let mut spans = Quadrilateral::rectangle(2000.0, 1250.0).spans_mm();
    spans[4] += 30.0;
    let check = fit(&readings(spans), 2.0).unwrap().check;
    assert_eq!(check.agrees, Some(false));
    assert!(check.cayley_menger_mm6.unwrap() < 0.0);
    assert_eq!(check.suspects[0].span, Span::FallingDiagonal);
    assert!((check.suspects[0].others_say_mm - (spans[4] - 30.0)).abs() < 1e-3);
    let said = check.says.text(Style::default());
    assert!(said.contains("diagonal from top left to bottom right"), "{said}");
}

#[test]
fn a_length_read_twice_differently_is_named() {
    let spans = Quadrilateral::rectangle(2000.0, 1250.0).spans_mm();
    let mut all = readings(spans);
    all.push(TapeReading { span: Span::Left, length_mm: 1350.0 });
    let check = fit(&all, 2.0).unwrap().check;
    let said = check.says.text(Style::default());
    assert!(said.starts_with("the left side was read as 1250 mm and as 1350 mm"), "{said}");
}

#[test]
fn impossible_lengths_name_what_to_measure_again() {
    let mut spans = Quadrilateral::rectangle(2000.0, 1250.0).spans_mm();
    spans[0] = 200.0;
    let said = fit(&readings(spans), 2.0).unwrap_err().to_string();
    assert!(
        said.contains("diagonal") && said.contains("top side") && said.contains("measure"),
        "{said}"
    );
    let few = fit(&readings(spans)[..4], 2.0).unwrap_err().to_string();
    assert!(few.contains("at least five") && few.contains("diagonal from top right"), "{few}");
    assert!(fit(&[], 2.0).is_err());
}

#[test]
fn five_lengths_are_enough_and_unchecked() {
    let spans = Quadrilateral::rectangle(2000.0, 1250.0).spans_mm();
    for left_out in Span::ALL {
        let five: Vec<TapeReading> =
            readings(spans).into_iter().filter(|r| r.span != left_out).collect();
        let fit = fit(&five, 2.0).unwrap();
        assert_eq!(fit.check.agrees, None);
        assert!((fit.corners.span_mm(left_out) - spans[left_out.index()]).abs() < 1e-6);
    }
}

proptest! {
    #[test]
    fn exact_lengths_give_the_corners_back(dx in prop::array::uniform4(-60.0..60.0_f64), dy in prop::array::uniform4(-60.0..60.0_f64)) {
        let mut quad = Quadrilateral::rectangle(2000.0, 1250.0);
        for i in 0..4 {
            quad.0[i].x_mm += dx[i];
            quad.0[i].y_mm += dy[i];
        }
        let spans = quad.spans_mm();
        let fit = fit(&readings(spans), 1.0).unwrap();
        prop_assert!(fit.check.chi_square < 1e-9);
        for span in Span::ALL {
            prop_assert!((fit.corners.span_mm(span) - quad.span_mm(span)).abs() < 1e-6);
        }
    }

    #[test]
    fn no_lengths_panic(spans in prop::array::uniform6(prop_oneof![any::<f64>(), 50.0..5000.0_f64])) {
        if let Ok(fit) = fit(&readings(spans), 1.0) {
            prop_assert!(fit.corners.is_convex());
            prop_assert!(fit.check.chi_square.is_finite());
        }
    }
}
