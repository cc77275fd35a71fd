//! Which gaps the eye reads, as bought and ground, against the code and the figures.

use skimgauge_hardware::figures::Body;
use skimgauge_hardware::window::{GROUND_MM, THICK_MM, gaps, span, ways, worst_below_mm};
use skimgauge_hardware::{source, window};

fn body() -> Body {
    Body::parse(&source("hardware/body/params.toml")).unwrap()
}

#[test]
fn the_document_says_what_the_code_reads() {
    assert_eq!(source("hardware/window.md"), window::document(&body()), "run --bin sums");
}

/// From the sheet's own flank (three standard deviations) and four pixels above the first pixel, as
/// the figures have it; the same at the other end.
#[test]
fn a_sheet_is_read_to_its_own_flank_at_either_end() {
    let body = body();
    let (pitch, length) = (0.0635, 255.0 * 0.0635);
    for thick in THICK_MM {
        let (low, high) = span(&body, thick);
        let flank = 3.0 * thick / 4.0 + 4.0 * pitch;
        assert!((flank - 0.5..=flank + 0.5).contains(&low), "{thick}: {low}, {flank}");
        assert!((high - (length - low)).abs() < 0.15, "{thick}: {low} to {high}");
        // Nearer than that there is no figure, or a right one.
        let worst = worst_below_mm(&body, thick);
        assert!(worst < 0.03, "{thick}: {worst}");
    }
}

#[test]
fn a_line_as_bought_reads_the_gauge_and_a_ground_one_is_the_figures_own() {
    let mut body = body();
    let [bought, ground] = ways(&body);
    let low = &body.figures["window_low"];
    assert!((ground.first_mm - low.value).abs() <= low.tolerance + 1e-9, "{ground:?}");
    assert!(bought.first_mm > ground.first_mm);
    // Neither way goes into the chip.
    assert!(GROUND_MM > body.made("line_die").high);
    // Every line as bought sees the gauge's lower slit whole, and its upper one.
    let slit = span(&body, 0.8);
    let (from, to) = gaps(&bought, slit);
    let half = body.get("gauge_slit") / 2.0;
    assert!(from < body.get("gauge_low") - half && to > body.get("gauge_high") + half);
    // A longer package would not: found.
    body.figures.get_mut("line_end").unwrap().value = 2.5;
    assert!(gaps(&ways(&body)[0], slit).0 > body.get("gauge_low") - half);
}
