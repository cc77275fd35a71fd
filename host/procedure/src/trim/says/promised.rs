//! What turns come to, in words.

use skimgauge_metrology::trim::promise::Promise;
use skimgauge_quantity::{Mm, Sentence, say};

/// To this a promise is told, mm: never more than it is.
const TOLD_MM: f64 = 0.01;

/// How far inside the band the worst place then stands, as a range.
pub fn promised(promise: &Promise) -> Sentence {
    let down = |mm: f64| (mm / TOLD_MM + 1e-6).floor() * TOLD_MM;
    let (low, high) = (down(promise.low_mm), -down(-promise.high_mm));
    let gap = |mm: f64| Mm(mm.abs()).gap();
    match (low < 0.0, high < 0.0) {
        (false, _) => say!("{} inside the band", gap(low).to(gap(high))),
        (true, false) => say!("between {} outside the band and {} inside", gap(low), gap(high)),
        (true, true) => say!("{} outside the band", gap(high).to(gap(low))),
    }
}

/// The same in a sentence of its own, for the turns of one round.
pub fn promise(promise: &Promise) -> Sentence {
    let margin_mm = (promise.margin_mm / TOLD_MM + 1e-6).floor() * TOLD_MM;
    let as_read = match margin_mm < 0.0 {
        true => say!("{} outside", Mm(-margin_mm).gap()),
        false => say!("{} inside", Mm(margin_mm).gap()),
    };
    say!(
        "Made as told, they leave the worst place {} (95 %; {as_read} if every reading is right), as far as the board is \
         known.",
        promised(promise)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_quantity::Style;

    fn said(margin_mm: f64, low_mm: f64, high_mm: f64) -> String {
        promised(&Promise { margin_mm, low_mm, high_mm }).text(Style::default())
    }

    #[test]
    fn a_range_is_told_with_the_side_of_the_band_and_never_better_than_it_is() {
        assert_eq!(said(1.1599, 0.9999, 1.3001), "0.99 to 1.31 mm inside the band");
        assert_eq!(said(0.1, -0.131, 0.3), "between 0.14 mm outside the band and 0.30 mm inside");
        assert_eq!(said(-0.5, -0.7, -0.3), "0.30 to 0.70 mm outside the band");
        let whole = Promise { margin_mm: 1.1599, low_mm: 0.98, high_mm: 1.3 };
        assert!(promise(&whole).text(Style::default()).contains("1.15 mm inside if every"));
    }
}
