//! What the verdict promises, at a small number of simulated proofs; the study
//! (`cargo run --release -p skimgauge-tests --bin touch`) has the large ones. Tolerances are what
//! chance does to so few.

use skimgauge_model::{Image, Verdict};
use skimgauge_proof::finger::{Display, Finger, Hand, begun, played};
use skimgauge_proof::judge::{CauseIs, Judged, judge};
use skimgauge_proof::limits::{Limits, Tool};
use skimgauge_proof::raw::Gap;

const IMAGE: Image = Image::mm(2025.0, 1265.6);
const PROOFS: u64 = 120;

fn proofs(tool: Tool, share: f64) -> Vec<Judged> {
    let limits = Limits::default();
    let allowed = limits.of(tool);
    (0..PROOFS)
        .map(|seed| {
            let off_mm = [share * allowed.limit.0, 0.0];
            let display = Display { off_mm, reports_per_s: 50.0, ..Display::default() };
            let mut finger = Finger::new(display, Hand::with(tool), 1000 + seed).biased(allowed);
            judge(&played(&mut finger, begun(IMAGE, tool, limits, Gap::Within), &[], vec![]))
                .unwrap()
        })
        .collect()
}

fn share(judged: &[Judged], is: impl Fn(&Judged) -> bool) -> f64 {
    judged.iter().filter(|judged| is(judged)).count() as f64 / judged.len() as f64
}

#[test]
fn a_display_at_its_limit_is_seldom_within_and_a_good_one_mostly() {
    for tool in [Tool::Finger, Tool::Rod] {
        let good = proofs(tool, 0.0);
        let within = share(&good, |judged| judged.verdict == Verdict::Within);
        assert!(within >= 0.65, "{tool:?}: within in {within}");
        let set_anew = |judged: &Judged| {
            judged.cause.as_ref().is_some_and(|cause| cause.is == CauseIs::Recalibrate)
        };
        assert!(share(&good, set_anew) <= 0.01);
        for times in [1.0, 1.1, 1.5] {
            let off = proofs(tool, times);
            let false_within = share(&off, |judged| judged.verdict == Verdict::Within);
            // 2.5 % of 120 are 3; more than 8 come in less than one of a hundred such tests.
            assert!(false_within <= 0.067, "{tool:?} {times}: {false_within}");
        }
    }
}

#[test]
fn the_95_percent_interval_of_the_offset_holds_the_aims_bias() {
    for tool in [Tool::Finger, Tool::Rod] {
        let judged = proofs(tool, 0.3);
        let truth = 0.3 * Limits::default().of(tool).limit.0;
        let held = share(&judged, |judged| {
            let right = judged.map.as_ref().unwrap().right;
            (right.value.0 - truth).abs() <= right.expanded.0
        });
        assert!((0.90..=0.99).contains(&held), "{tool:?}: {held}");
    }
}
