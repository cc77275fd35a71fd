//! A thousand simulated tapings: stated uncertainty against actual error, and whether a misread
//! length is found.
//!
//! `cargo test -p skimgauge-site --test tapings -- --nocapture` prints the table.

use skimgauge_model::Image;
use skimgauge_numbers::Numbers;
use skimgauge_site::square::quadrilateral::{Quadrilateral, Span};
use skimgauge_site::square::split::{Found, Parts};
use skimgauge_site::square::tape::TapeReading;
use skimgauge_site::square::{MAY_REMAIN, Measured, SquareInput, SquareReport, square};

const IMAGE: Image = Image::mm(2025.0, 1265.0);
const TAPE_U_MM: f64 = 2.0;
const TAPINGS: usize = 1000;

/// An image as installers find it: some millimetres out in every way.
fn room(numbers: &mut Numbers) -> Parts {
    let mut out = |most: f64| numbers.between(-most, most);
    Parts {
        size: out(0.01),
        vertical_trapezoid_mm: out(15.0),
        horizontal_trapezoid_mm: out(15.0),
        stretch_mm: out(6.0),
        skew_mm: out(6.0),
        ..Parts::default()
    }
}

fn taped(truth: &Quadrilateral, error: impl FnMut(Span) -> f64) -> SquareReport {
    let mut error = error;
    let readings = Span::ALL
        .into_iter()
        .map(|span| TapeReading { span, length_mm: truth.span_mm(span) + error(span) })
        .collect();
    square(&SquareInput {
        image: IMAGE,
        measured: Measured::Tape { readings, u_mm: TAPE_U_MM, rise: None },
        beside: None,
        may_remain: MAY_REMAIN,
        bows: Vec::new(),
    })
    .unwrap()
}

fn values(parts: &Parts) -> [f64; 5] {
    let size_mm = parts.size * IMAGE.width.0;
    [
        parts.vertical_trapezoid_mm,
        parts.horizontal_trapezoid_mm,
        size_mm,
        parts.stretch_mm,
        parts.skew_mm,
    ]
}

fn found(report: &SquareReport) -> [Found; 5] {
    let (t, r) = (report.turnable, &report.remainder);
    [t.vertical_trapezoid_mm, t.horizontal_trapezoid_mm, t.size_mm, r.stretch_mm, r.skew_mm]
}

#[test]
fn stated_uncertainty_is_the_actual_one() {
    let mut numbers = Numbers(7);
    let (mut squares, mut stated, mut covered, mut false_alarms) = ([0.0; 5], [0.0; 5], [0; 5], 0);
    for _ in 0..TAPINGS {
        let parts = room(&mut numbers);
        let report = taped(&parts.corners(IMAGE), |_| numbers.normal(TAPE_U_MM));
        for (k, (found, truth)) in found(&report).into_iter().zip(values(&parts)).enumerate() {
            squares[k] += (found.value - truth).powi(2);
            stated[k] += found.u.powi(2);
            covered[k] += usize::from((found.value - truth).abs() <= found.expanded());
        }
        false_alarms += usize::from(report.tape.unwrap().agrees == Some(false));
    }
    println!(
        "{TAPINGS} tapings, tape error {TAPE_U_MM} mm (standard, normal), image 2025 x 1265 mm"
    );
    for (k, name) in ["vertical trapezoid", "horizontal trapezoid", "size", "stretch", "skew"]
        .into_iter()
        .enumerate()
    {
        let (actual, stated) =
            ((squares[k] / TAPINGS as f64).sqrt(), (stated[k] / TAPINGS as f64).sqrt());
        println!(
            "{name:>20}: actual {actual:.3} mm, stated {stated:.3} mm, 95 % interval covers {:.1} %",
            covered[k] as f64 / 10.0
        );
        // The standard deviation of a thousand errors is itself known to 2.2 %: three times that.
        assert!((actual / stated - 1.0).abs() < 0.07, "{name}: {actual} {stated}");
        // Three standard deviations of a binomial about 950 in 1000.
        assert!((929..=971).contains(&covered[k]), "{name}: {}", covered[k]);
    }
    println!(
        "tape said to disagree though it is as good as stated: {:.1} %",
        false_alarms as f64 / 10.0
    );
    assert!((29..=71).contains(&false_alarms), "{false_alarms}");
}

#[test]
fn a_misread_length_is_seen_and_mostly_named() {
    for (misread_mm, least_seen, least_named) in
        [(20.0, 870, 760), (50.0, 990, 980), (100.0, 990, 980)]
    {
        let mut numbers = Numbers(11);
        let (mut seen, mut first, mut among_two) = (0, 0, 0);
        for _ in 0..TAPINGS {
            let truth = room(&mut numbers).corners(IMAGE);
            let wrong = Span::ALL[(numbers.uniform() * 6.0) as usize];
            let slip_mm = if numbers.uniform() < 0.5 { -misread_mm } else { misread_mm };
            let report = taped(&truth, |span| {
                numbers.normal(TAPE_U_MM) + if span == wrong { slip_mm } else { 0.0 }
            });
            let check = report.tape.unwrap();
            if check.agrees == Some(false) {
                seen += 1;
                first += usize::from(check.suspects[0].span == wrong);
                among_two +=
                    usize::from(check.suspects[..2].iter().any(|suspect| suspect.span == wrong));
            }
        }
        println!(
            "one length misread by {misread_mm} mm: seen {seen}, named first {first}, among the first two {among_two} of {TAPINGS}"
        );
        assert!(seen >= least_seen && first >= least_named, "{misread_mm}: {seen} {first}");
    }
}
