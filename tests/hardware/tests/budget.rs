//! The error budget against the body's figures and the code.

use skimgauge_hardware::budget::{combined, constant, document, of_the_seat, shares};
use skimgauge_hardware::figures::{Body, Ratings};
use skimgauge_hardware::source;
use skimgauge_metrology::measure::Limits;

const TAKE: &str = "host/metrology/src/measure/take.rs";

fn body() -> Body {
    Body::parse(&source("hardware/body/params.toml")).unwrap()
}

fn ratings() -> Ratings {
    Ratings::parse(&source("hardware/ratings.toml")).unwrap()
}

#[test]
fn the_document_is_what_the_figures_come_to() {
    let shares = shares(&body(), &ratings(), &source(TAKE)).unwrap();
    assert_eq!(source("hardware/error-budget.md"), document(&shares), "run --bin sums");
    // By hand: 10 mm times 2 mrad is 0.02 mm, over the root of three.
    assert!((shares[0].u_mm - 0.011_547).abs() < 1e-6);
    assert!(combined(&shares) > shares.iter().map(|share| share.u_mm).fold(0.0, f64::max));
}

/// What the program counts for a seat is no less than what the body gives; a body that gives more
/// is found.
#[test]
fn the_program_counts_no_less_for_a_seat_than_the_body_gives() {
    let counted = Limits::default().seat_u_mm;
    let seat = |body: &Body| of_the_seat(&shares(body, &ratings(), &source(TAKE)).unwrap());
    let mut body = body();
    assert!(seat(&body) <= counted, "{}", seat(&body));
    body.figures.get_mut("spot_to_eye").unwrap().value = 60.0;
    assert!(seat(&body) > counted);
    body.figures.get_mut("spot_to_eye").unwrap().value = 10.0;
    body.figures.get_mut("swivel_play").unwrap().value = 0.1;
    assert!(seat(&body) > counted);
}

#[test]
fn a_constant_that_is_gone_is_said() {
    assert_eq!(constant("const A: f64 = 0.25;", "A"), Ok(0.25));
    assert!(constant("const B: f64 = 0.25;", "A").unwrap_err().contains('A'));
}
