//! One word and one shape for each thing, on every screen.

use skimgauge_metrology::verdict::Verdict;

/// A verdict for people.
pub fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "within",
        Verdict::Outside => "outside",
        Verdict::Unsure => "too close to call",
    }
}

/// A verdict's shape, one column wide: told apart without colour.
pub fn shape(verdict: Verdict) -> char {
    match verdict {
        Verdict::Within => '●',
        Verdict::Outside => '✕',
        Verdict::Unsure => '◐',
    }
}
