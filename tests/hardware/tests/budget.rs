//! The error budget against the body's figures and the code.

use skimgauge_hardware::budget::{
    Code, combined, constant, document, elsewhere, gauge_against_body, of_the_seat, shares,
};
use skimgauge_hardware::figures::{Body, Ratings};
use skimgauge_hardware::source;
use skimgauge_metrology::measure::Limits;

fn body() -> Body {
    Body::parse(&source("hardware/body/params.toml")).unwrap()
}

fn ratings() -> Ratings {
    Ratings::parse(&source("hardware/ratings.toml")).unwrap()
}

#[test]
fn the_document_is_what_the_figures_come_to() {
    let shares = shares(&body(), &ratings(), &Code::read()).unwrap();
    assert_eq!(source("hardware/error-budget.md"), document(&shares), "run --bin sums");
    // By hand: 10 mm times 2 mrad is 0.02 mm, over the root of three.
    assert!((shares[0].u_mm - 0.011_547).abs() < 1e-6);
    assert!(combined(&shares) > shares.iter().map(|share| share.u_mm).fold(0.0, f64::max));
    // A bump of 0.15 mm and 80 mm: 0.15/6400 a mm, times 10 (20 + 20) - 50 mm^2, over the root of
    // three.
    let bend = shares.iter().find(|share| share.name.starts_with("bend")).unwrap();
    assert!((bend.u_mm - 0.15 / 6_400.0 * 350.0 / 3f64.sqrt()).abs() < 1e-9);
    // The goal for a take from one seat; and what zeroing on another material would make of it.
    assert!(1.96 * combined(&shares) <= 0.06);
    assert!(1.96 * elsewhere(&shares) > 0.2);
}

/// Every line that rests on a constant of the code follows it.
#[test]
fn a_changed_constant_of_the_code_changes_the_table() {
    let code = Code::read();
    let of = |code: &Code| combined(&shares(&body(), &ratings(), code).unwrap());
    let as_it_stands = of(&code);
    let changed = |source: &str, from: &str, to: &str| {
        assert_eq!(source.matches(from).count(), 1, "{from}");
        source.replace(from, to)
    };
    for other in [
        Code {
            doubt: changed(&code.doubt, "from_micrometres(14)", "from_micrometres(28)"),
            ..code.clone()
        },
        Code {
            zero: changed(&code.zero, "LAMP_MM: f64 = 0.005", "LAMP_MM: f64 = 0.05"),
            ..code.clone()
        },
        Code {
            sampling: changed(&code.sampling, "SIDE: usize = 4", "SIDE: usize = 1"),
            ..code.clone()
        },
        Code {
            take: changed(
                &code.take,
                "UNKNOWN_U_MM_PER_K: f64 = 0.005",
                "UNKNOWN_U_MM_PER_K: f64 = 0.05",
            ),
            ..code.clone()
        },
    ] {
        assert!(of(&other) > as_it_stands);
    }
}

/// What the program counts for a seat is no less than what the body gives; a body that gives more
/// is found.
#[test]
fn the_program_counts_no_less_for_a_seat_than_the_body_gives() {
    let counted = Limits::default().seat_u_mm;
    let seat = |body: &Body| of_the_seat(&shares(body, &ratings(), &Code::read()).unwrap());
    let mut body = body();
    assert!(seat(&body) <= counted, "{}", seat(&body));
    body.figures.get_mut("spot_to_eye").unwrap().value = 60.0;
    assert!(seat(&body) > counted);
    body.figures.get_mut("spot_to_eye").unwrap().value = 10.0;
    body.figures.get_mut("swivel_play").unwrap().value = 0.1;
    assert!(seat(&body) > counted);
}

/// Another gauge in the drawings, or in the code, is found.
#[test]
fn the_zeros_gauge_is_the_one_that_is_drawn() {
    let against = |body: &Body, code: &Code| gauge_against_body(body, code).unwrap();
    assert_eq!(against(&body(), &Code::read()), [""; 0]);
    for (figure, other) in
        [("gauge_apart", 50.0), ("gauge_slit", 0.35), ("swivel_play", 0.01), ("eye_radius", 9.0)]
    {
        let mut body = body();
        body.figures.get_mut(figure).unwrap().value = other;
        assert_eq!(against(&body, &Code::read()).len(), 1, "{figure}");
    }
    let code = Code::read();
    let changed =
        Code { zero: code.zero.replace("SLIT_MM: f64 = 0.3", "SLIT_MM: f64 = 0.2"), ..code };
    assert_eq!(against(&body(), &changed).len(), 1);
    // The simulated one, too.
    let simulated = source("firmware/bench/src/room/gauge.rs");
    for (field, figure) in [
        ("low_mm", "gauge_low"),
        ("high_mm", "gauge_high"),
        ("slit_mm", "gauge_slit"),
        ("apart_mm", "gauge_apart"),
    ] {
        let line = format!("{field}: {:.1},", body().get(figure));
        assert!(simulated.contains(&line), "{line}");
    }
}

#[test]
fn a_constant_that_is_gone_is_said() {
    assert_eq!(constant("const A: f64 = 0.25;", "A"), Ok(0.25));
    assert_eq!(constant("const SIDE: usize = 1_000;", "SIDE"), Ok(1_000.0));
    assert_eq!(constant("const M: SubPixels = SubPixels::from_micrometres(14);", "M"), Ok(14.0));
    assert!(constant("const B: f64 = 0.25;", "A").unwrap_err().contains('A'));
}
